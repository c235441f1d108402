"""The causes hidden in the invented plant are ranked first; nothing is named where nothing is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from soakage.app.result import Evaluation

HIDDEN = {
    "drain-pump-3-w": "contamination",
    "drain-pump-4": "bulk-moisture",
    "intake-fan-wet": "bulk-moisture",
    "sump-pump": "instrument-limit",
    "generator-1-discharge": "weak-layer",
    "generator-2-steps": "voltage-dependent-defect",
    "generator-2-ramp": "voltage-dependent-defect",
    "board-2-l2": "contamination",
    "reserve-pump-dew": "condensation",
    "reserve-pump-recharged": "residual-charge",
}
NOTHING = (
    "drain-pump-3-u", "drain-pump-3-v", "intake-fan-dried", "generator-1-steps", "generator-1-ramp",
    "generator-2-discharge", "cable-7-l1", "board-2-l1", "transformer-1-hv",
)  # fmt: skip


def ranked(evaluation: Evaluation, name: str) -> list[str]:
    for item in evaluation.records:
        if Path(item.record.origin.file).stem == name:
            return [found.cause.id for found in item.causes]
    raise AssertionError(name)


@pytest.mark.parametrize(("name", "cause"), HIDDEN.items())
def test_the_hidden_cause_is_ranked_first(evaluation: Evaluation, name: str, cause: str) -> None:
    assert ranked(evaluation, name)[0] == cause


@pytest.mark.parametrize("name", NOTHING)
def test_no_cause_is_named_where_nothing_is_wrong(evaluation: Evaluation, name: str) -> None:
    assert ranked(evaluation, name) == []


def test_each_cause_says_what_would_confirm_it(evaluation: Evaluation) -> None:
    for item in evaluation.records:
        for found in item.causes:
            assert found.pro
            assert found.cause.confirm_by.endswith(".")
            assert "{value}" not in " ".join((*found.pro, *found.con))
