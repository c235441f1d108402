"""History judged again under other rules: what changed, and why; every verdict stays."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from soakage.app.judge_kept import Judged, give_verdict, judge_kept
from soakage.app.ports import KnownTest, Memory
from soakage.app.rules import Rules

Result = Mapping[str, Any]
MOST = 200  # tests in one change


@dataclass(frozen=True, slots=True)
class Rejudged:
    """One test judged again.

    Parameters
    ----------
    test : KnownTest
        As it stood before.
    status : str
        Now.
    sentence : str
        Of the new verdict.
    why : tuple of str
        What led to a different result; empty where the result is the same.
    kept : bool
        Whether a verdict was added: where the result differs, unless it was only tried.
    """

    test: KnownTest
    status: str
    sentence: str
    why: tuple[str, ...]
    kept: bool


def rejudge(
    memory: Memory,
    tests: Sequence[KnownTest],
    rules: Rules,
    *,
    reason: str = "",
    keep: bool = True,
    progress: Callable[[int], None] | None = None,
) -> list[Rejudged]:
    """Judge tests again.

    Parameters
    ----------
    memory : Memory
        The register.
    tests : sequence of KnownTest
        Which; the sister sections of their visits are compared, and judged again with them.
    rules : Rules
        What judges now.
    reason : str
        Why, for the trail.
    keep : bool
        False to try it: nothing is added.
    progress : callable, optional
        Called with the number done.

    Returns
    -------
    list of Rejudged
        In order of asset, day and section.
    """
    told: list[Rejudged] = []
    for part in _parts(_with_sisters(memory, tests)):
        evaluation, judged = judge_kept(memory, part, rules)
        news = [item for item in judged if item.news]
        before = {item.test.id: _result(memory, item.test) for item in news}
        if keep and news:
            with memory.changing() as change:
                for item in news:
                    give_verdict(change, item, evaluation, reason)
        told += [_told(item, before.get(item.test.id), keep=keep) for item in judged]
        if progress is not None:
            progress(len(told))
    return told


def _with_sisters(memory: Memory, tests: Sequence[KnownTest]) -> list[KnownTest]:
    found = {test.id: test for test in tests if not test.withdrawn}
    visits = {test.visit for test in found.values() if test.visit}
    found |= {test.id: test for test in memory.tests(visits=visits) if not test.withdrawn}
    return sorted(found.values(), key=_place)


def _place(test: KnownTest) -> tuple[str, str, str, str]:
    return test.asset or "", str(test.record.day or ""), test.visit or "", test.section


def _parts(tests: Iterable[KnownTest]) -> Iterable[list[KnownTest]]:
    """Yield tests in parts that keep a visit together."""
    part: list[KnownTest] = []
    for _, group in groupby(tests, key=lambda test: (test.asset, test.visit or test.id)):
        visit = list(group)
        if part and len(part) + len(visit) > MOST:
            yield part
            part = []
        part += visit
    if part:
        yield part


def _result(memory: Memory, test: KnownTest) -> Result | None:
    return None if test.result is None else json.loads(memory.blob(test.result))


def _told(item: Judged, before: Result | None, *, keep: bool) -> Rejudged:
    verdict = item.evaluated.verdict
    why: tuple[str, ...] = ()
    if item.news:
        why = (
            ("It was not judged before.",)
            if before is None
            else tuple(differences(before, json.loads(item.result)))
        )
    return Rejudged(item.test, str(verdict.status), verdict.sentence, why, item.news and keep)


def differences(before: Result, after: Result) -> list[str]:
    """Return what differs between two results of one test, in words, the verdict first.

    Parameters
    ----------
    before, after : mapping
        Records of ``judge --json``.

    Returns
    -------
    list of str
    """
    told = []
    old, new = before["verdict"]["status"], after["verdict"]["status"]
    if old != new:
        told.append(f"Verdict: {old} before, {new} now.")
    told += _criteria(_by(before["judgements"], "criterion"), _by(after["judgements"], "criterion"))
    told += _quantities(before["quantities"], after["quantities"])
    codes = [{finding["code"] for finding in result["findings"]} for result in (before, after)]
    told += [f"Finding gone: {code}." for code in sorted(codes[0] - codes[1])]
    told += [f"Finding new: {code}." for code in sorted(codes[1] - codes[0])]
    return told or ["Only wording or working differs; every figure, limit and status is the same."]


def _by(rows: Iterable[Mapping[str, Any]], key: str) -> dict[str, Mapping[str, Any]]:
    return {row[key]: row for row in rows}


def _criteria(before: Mapping[str, Result], after: Mapping[str, Result]) -> list[str]:
    told = [f"No longer applied: {name} ({before[name]['source']})." for name in before if name not in after]
    for name, now in after.items():
        was = before.get(name)
        if was is None:
            told.append(f"Now applied: {name} ({now['source']}): {now['status']}.")
            continue
        limits = [(judgement["limit"] or {}).get("text") for judgement in (was, now)]
        if limits[0] != limits[1]:
            told.append(f"{name}: limit {limits[0] or 'none'} before, {limits[1] or 'none'} now.")
        if was["source"] != now["source"]:
            told.append(f"{name}: after {was['source']} before, {now['source']} now.")
        if was["status"] != now["status"]:
            told.append(f"{name}: {was['status']} before, {now['status']} now. {now['reason']}")
    return told


def _quantities(before: Mapping[str, Result], after: Mapping[str, Result]) -> list[str]:
    told = []
    for name, now in after.items():
        was = before.get(name)
        if was is None:
            told.append(f"Quantity new: {name}.")
        elif was.get("rule") != now.get("rule"):
            told.append(f"{name}: temperature rule {was.get('rule')} before, {now.get('rule')} now.")
        elif was["bound"] != now["bound"] or abs(was["value"] - now["value"]) > 1e-9 * abs(now["value"]):
            told.append(f"{name}: {was['value']:.6g} before, {now['value']:.6g} now ({now['unit']}).")
    return told + [f"Quantity gone: {name}." for name in before if name not in after]
