"""Our side: files to JSON by the path that the command line takes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path


def judged(paths: Sequence[Path]) -> str:
    """Judge record files and return the JSON of the contract."""
    from soakage.app.contract_json import evaluation_json
    from soakage.wiring import judge_files, rules

    evaluation = judge_files(paths, {}, rules())
    return json.dumps(evaluation_json(evaluation), ensure_ascii=False, allow_nan=False)
