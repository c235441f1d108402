"""What came of an import, as JSON."""

from __future__ import annotations

from soakage import __version__
from soakage.app.contract_json import CONTRACT, Json, fault_json
from soakage.app.intake import Intake, TakenFile, TakenTest


def intake_json(taken: Intake) -> Json:
    """Return an import in the shape of ``import --json``.

    Parameters
    ----------
    taken : Intake
        What came of it.

    Returns
    -------
    dict
        Files in the order they were read; numbers of files added, known and refused; ids of assets added.
    """
    return {
        "soakage": __version__,
        "contract": CONTRACT,
        "dry_run": taken.dry_run,
        "files": [_file(file) for file in taken.files],
        "added": taken.count("added"),
        "known": taken.count("known"),
        "refused": taken.count("refused"),
        "tests_added": taken.tests_added,
        "assets_added": list(taken.assets_added),
    }


def _file(file: TakenFile) -> Json:
    return {
        "file": file.file,
        "outcome": file.outcome,
        "tests": [_test(test) for test in file.tests],
        "errors": [fault_json(fault) for fault in file.faults],
    }


def _test(test: TakenTest) -> Json:
    return {
        "test": test.test,
        "asset": test.asset_title,
        "asset_id": test.asset,
        "section": test.section,
        "known": test.known,
        "status": test.status,
        "sentence": test.sentence,
        "findings": [
            {"code": finding.code, "sentence": finding.sentence, "remedy": finding.remedy}
            for finding in test.findings
        ],
    }
