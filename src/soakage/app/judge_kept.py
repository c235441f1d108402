"""Tests of a register judged with all it knows: nameplate, instrument, sisters of the visit, earlier figures."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from soakage.app.differences import alike
from soakage.app.evaluate import References, evaluate
from soakage.app.keeping import judged_body, result_bytes
from soakage.app.ports import Change, KnownAsset, KnownTest, Memory
from soakage.app.register import completed
from soakage.app.result import Evaluated, Evaluation
from soakage.app.rules import Rules
from soakage.model.stated import digest


@dataclass(frozen=True, slots=True)
class Judged:
    """A test of the register with what was said about it, and whether that is news."""

    test: KnownTest
    evaluated: Evaluated
    result: bytes
    news: bool


def judge_kept(
    memory: Memory,
    tests: Sequence[KnownTest],
    rules: Rules,
    assets: Mapping[str, KnownAsset] | None = None,
    earlier: Sequence[References] | None = None,
) -> tuple[Evaluation, list[Judged]]:
    """Judge tests of a register.

    Parameters
    ----------
    memory : Memory
        Gives instruments and earlier figures.
    tests : sequence of KnownTest
        Whole visits, so that sister sections are compared.
    rules : Rules
        What judges.
    assets : mapping, optional
        Assets by id that are not in the register yet, or as they will be.
    earlier : sequence of mapping, optional
        Figures of tests made before each, where they are known better than the register knows them.

    Returns
    -------
    Evaluation
    list of Judged
        In the order given; *news* where the result differs from that of the verdict that stands.
    """
    known = memory.assets({test.asset for test in tests if test.asset}) | dict(assets or {})
    instruments = memory.instruments({test.instrument for test in tests if test.instrument})
    records = [
        completed(
            test.record,
            known.get(test.asset) if test.asset else None,
            instruments.get(test.instrument) if test.instrument else None,
        )
        for test in tests
    ]
    before = memory.figures_before(tests) if earlier is None else earlier
    evaluation = evaluate(records, rules, earlier=before)
    judged = []
    for test, evaluated in zip(tests, evaluation.records, strict=True):
        result = result_bytes(evaluated)
        judged.append(Judged(test, evaluated, result, _is_news(memory, test, result)))
    return evaluation, judged


def _is_news(memory: Memory, test: KnownTest, result: bytes) -> bool:
    """Return whether a result says something else than the one that stands."""
    if test.result is None or digest(result) == test.result:
        return test.result is None
    # fits made together with others differ in their last digits: that is no news
    return not alike(json.loads(memory.blob(test.result)), json.loads(result))


def give_verdict(change: Change, judged: Judged, evaluation: Evaluation, reason: str = "") -> None:
    """Add a verdict to the journal; those given before stay."""
    result = change.blob(judged.result)
    body = judged_body(judged.evaluated, evaluation.rules, judged.test.content, result)
    change.add("test", judged.test.id, "judged", body, reason=reason)
