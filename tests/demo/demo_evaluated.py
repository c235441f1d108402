"""The invented plant, made and evaluated once for all tests of a session."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluated, Evaluation
from soakage.demo.make import demo_files
from soakage.importers.reading import read_bytes

Files = dict[str, str]


@pytest.fixture(scope="session")
def files() -> Files:
    return demo_files()


@pytest.fixture(scope="session")
def evaluation(files: Files) -> Evaluation:
    return evaluate([record for name, text in files.items() for record in read_bytes(text.encode(), name)])


@pytest.fixture(scope="session")
def by_file(evaluation: Evaluation) -> Mapping[str, list[Evaluated]]:
    found: dict[str, list[Evaluated]] = {}
    for entry in evaluation.records:
        found.setdefault((entry.record.origin.file or "").removesuffix(".csv"), []).append(entry)
    return found
