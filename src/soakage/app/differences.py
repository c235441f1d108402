"""What differs between two results of one test, in words; pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from soakage.quantities import lookup
from soakage.units import Bound, Measured, format_quantity

Result = Mapping[str, Any]
SAME = "Only wording or working differs; every figure, limit and status is the same."
CLOSE = 1e-9  # figures that differ by less are the same


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
    return told or [SAME]


def alike(before: Any, after: Any) -> bool:  # noqa: ANN401 - any JSON
    """Return whether two pieces of JSON say the same, but for the last digits of figures."""
    if isinstance(before, dict) and isinstance(after, dict):
        return before.keys() == after.keys() and all(alike(before[key], after[key]) for key in before)
    if isinstance(before, list) and isinstance(after, list):
        return len(before) == len(after) and all(map(alike, before, after))
    if isinstance(before, float) and isinstance(after, float):
        return abs(before - after) <= CLOSE * max(abs(before), abs(after))
    return bool(before == after)


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
            continue
        if was.get("rule") != now.get("rule"):
            told.append(
                f"{name}: temperature rule {was.get('rule') or 'none'} before, {now.get('rule') or 'none'} now."
            )
        if was["bound"] != now["bound"] or abs(was["value"] - now["value"]) > CLOSE * abs(now["value"]):
            told.append(_moved(name, was, now))
    return told + [f"Quantity gone: {name}." for name in before if name not in after]


def _moved(name: str, was: Result, now: Result) -> str:
    """Return a change of a figure with as many digits as it takes to see it."""
    dimension = lookup(name).dimension
    for digits in (3, 4, 6, 9):
        shown = [
            format_quantity(
                Measured(side["value"], Bound(side["bound"]) if side["bound"] else None),
                dimension,
                digits=digits,
            )
            for side in (was, now)
        ]
        if shown[0] != shown[1]:
            break
    return f"{name}: {shown[0]} before, {shown[1]} now."
