"""A test with its verdicts and revisions, as text: the verdict as it was given, not judged anew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from soakage.cli.plain_text import value_text
from soakage.cli.show_asset import added_text, instruments_text
from soakage.cli.tables import NOTHING, table
from soakage.cli.text import AFTERWARDS
from soakage.cli.wrapping import width, wrapped
from soakage.quantities import lookup
from soakage.standards.criterion import sourced
from soakage.units import Bound, Measured, format_quantity

Row = Mapping[str, Any]
READINGS_SHOWN = 20


def test_text(page: Row) -> Iterator[str]:
    """Yield the lines of a test.

    Parameters
    ----------
    page : mapping
        As ``show --json`` prints it.
    """
    test, asset = page["test"], page["asset"] or {}
    named = asset.get("asset") or asset.get("tag") or asset.get("serial")
    yield ", ".join(
        part for part in (named or "no asset", asset.get("site"), test["section"], test["day"]) if part
    )
    yield f"Test {test['id']}"
    yield "-" * width()
    if test["state"] == "withdrawn":
        yield "  WITHDRAWN: kept, and counted nowhere."
    yield f"  {(test['status'] or 'not judged').upper()}"
    if test["sentence"]:
        yield wrapped(test["sentence"], "  ")
    if page["result"] is not None:
        yield from result_text(page["result"])
    yield ""
    yield "  Stated"
    for name, value in page["record"]["stated"].items():
        yield wrapped(f"{name}: {value_text(name, value)}", "      ", "    ")
    for name, text in page["record"]["extra"].items():
        yield wrapped(f"{name}: {text}  (a key the reader does not know)", "      ", "    ")
    yield from _readings(page["record"]["readings"])
    yield from instruments_text(page["instruments"])
    yield from _verdicts(page)
    if len(page["revisions"]) > 1:
        yield ""
        yield "  Revisions"
        for one in page["revisions"]:
            why = one["reason"] or "as received"
            yield wrapped(f"{one['number']}: {why}  ({one['person']}, {one['at'][:10]})", "      ", "    - ")
    yield from added_text(page)
    origin = page["origin"]
    yield ""
    row = "" if origin["row"] is None else f", line {origin['row']}"
    kept = "the file is kept as it came" if origin["kept"] else "the file itself is not kept"
    yield wrapped(
        f"From {origin['file'] or 'no file'}{row}; SHA-256 {origin['sha256'] or NOTHING}; {kept}.", "  "
    )
    yield wrapped(AFTERWARDS)


def result_text(result: Row) -> Iterator[str]:
    """Yield the lines of a result as ``judge --json`` gives it: quantities, criteria, findings, causes, what next."""
    yield ""
    yield "  Quantities"
    for name, quantity in result["quantities"].items():
        line = f"{lookup(name).name}: {figure(name, quantity['value'], quantity['bound'])}"
        if quantity["uncertainty"] is not None:
            line += f" ± {format_quantity(2 * quantity['uncertainty'], lookup(name).dimension, digits=2)}"
        yield wrapped(f"{line}  ({quantity['formula']})", "      ", "    ")
    yield ""
    yield "  Criteria"
    for judgement in result["judgements"]:
        yield from _judgement(judgement, result["quantities"])
    checks = result["checks"]
    yield ""
    yield f"  Findings ({checks['passed']} of {checks['made']} checks found nothing)"
    for finding in result["findings"]:
        mark = f"[{finding['status']}] " if finding["status"] else ""
        yield wrapped(f"{finding['code']}: {mark}{finding['sentence']}", "      ", "    - ")
    if result.get("causes"):
        yield ""
        yield "  Probable causes, by weight of evidence (no probability is computed)"
        for cause in result["causes"]:
            name = cause.get("name") or cause["id"]
            told = f"{name} (weight {cause['weight']:g}). To confirm: {cause['confirm_by']}"
            yield wrapped(told, "      ", "    - ")
    if result["not_tested"]:
        yield ""
        yield "  Not tested"
        for entry in result["not_tested"]:
            yield wrapped(f"{entry['what']}: {entry['why']}", "      ", "    - ")
    yield ""
    yield "  What to do next"
    for number, action in enumerate(result["verdict"]["actions"], start=1):
        yield wrapped(action, "       ", f"    {number}. ")


def figure(name: str, value: float, bound: str | None) -> str:
    """Return a quantity as a report prints it, a bound with its sign."""
    return format_quantity(Measured(value, Bound(bound) if bound else None), lookup(name).dimension)


def _judgement(judgement: Row, quantities: Row) -> Iterator[str]:
    name, value = judgement["quantity"], judgement["value"]
    bound = quantities[name]["bound"] if name in quantities else None
    said = NOTHING if value is None else figure(name, value, bound)
    limit = judgement["limit"]["text"] if judgement["limit"] else "no limit"
    yield wrapped(f"{judgement['status']}: {judgement['name']}: {said}; {limit}", "      ", "    - ")
    reason = "" if judgement["reason"] == "Met." else f" {judgement['reason']}"
    yield wrapped(f"{sourced(judgement['source'], judgement['verified'])}{reason}", "      ")


def _readings(readings: Row) -> Iterator[str]:
    rows = list(
        zip(*(readings[name] for name in ("time", "voltage", "current", "resistance", "bound")), strict=True)
    )
    yield ""
    yield f"  Readings ({len(rows)})"
    if len(rows) > READINGS_SHOWN:
        step = len(rows) / READINGS_SHOWN
        rows = [rows[int(place * step)] for place in range(READINGS_SHOWN - 1)] + [rows[-1]]
        yield "    (every so many of them, and the last; --json gives all)"
    yield from table(("time", "voltage", "current", "resistance"), [_cells(row) for row in rows], "    ")


def _cells(row: tuple[float | None, float | None, float | None, float | None, int]) -> tuple[str | None, ...]:
    time, voltage, current, resistance, bound = row
    mark = {1: Bound.LOWER, -1: Bound.UPPER}.get(bound)
    return (
        None if time is None else f"{time:g} s",
        None if voltage is None else format_quantity(voltage, "voltage"),
        None if current is None else format_quantity(current, "current"),
        None if resistance is None else format_quantity(Measured(resistance, mark), "resistance"),
    )


def _verdicts(page: Row) -> Iterator[str]:
    yield ""
    yield "  Verdicts given"
    for given in page["verdicts"]:
        stands = "" if given["stands"] else " (does not stand any more)"
        why = f" {given['reason']}" if given["reason"] else ""
        yield wrapped(
            f"{given['status']}{stands}: profile {given['profile']} ({given['profile_sha256'][:12]}), criteria "
            f"{given['criteria_sha256'][:12]}, Soakage {given['version']}; {given['person']}, {given['at'][:10]}.{why}",
            "      ", "    - ",
        )  # fmt: skip
