"""An asset with its history, as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from soakage.cli.list_text import status_text
from soakage.cli.plain_text import value_text
from soakage.cli.tables import NOTHING, table
from soakage.cli.wrapping import width, wrapped
from soakage.quantities import lookup
from soakage.units import Bound, Measured, format_quantity

Row = Mapping[str, Any]
# What stands beside each test, the first of them that there is.
_KEY = ("insulation_resistance_60s_corrected", "insulation_resistance_corrected", "insulation_resistance_60s",
        "insulation_resistance")  # fmt: skip
_INDEX = (
    "polarization_index",
    "dielectric_absorption_ratio",
    "absorption_ratio_60_15",
    "dielectric_discharge",
)


def asset_text(page: Row) -> Iterator[str]:
    """Yield the lines of an asset: where it stands, nameplate, tests in order, what was added to it.

    Parameters
    ----------
    page : mapping
        As ``show --json`` prints it.
    """
    asset = page["asset"]
    place = f", {asset['site']}" if asset.get("site") else ""
    yield f"{asset.get('asset') or asset.get('tag') or asset.get('serial')}{place}"
    yield "-" * width()
    standing = page["standing"]
    if standing is None:
        yield "  No test is kept."
    else:
        yield f"  {standing['status'].upper()}  (newest visit: {standing['day'] or 'no day'})"
        yield f"  {standing['tests']} tests, {standing['unsigned']} not signed"
    yield ""
    yield "  Nameplate"
    for name, value in asset.items():
        if name not in ("asset", "site"):
            yield wrapped(f"{name}: {value_text(name, value)}", "      ", "    ")
    if page["sections"]:
        yield wrapped(
            f"sections: {', '.join(section['name'] for section in page['sections'])}", "      ", "    "
        )
    if page["tests"]:
        yield ""
        yield "  Tests"
        yield from table(
            ("test", "day", "section", "resistance", "index", "review", "status"),
            [
                (
                    test["id"][:12],
                    test["day"],
                    test["section"],
                    figure_text(test["figures"], _KEY),
                    figure_text(test["figures"], _INDEX),
                    test["review"],
                    status_text(test),
                )
                for test in page["tests"]
            ],
            "    ",
        )
        if any(test["figures"] for test in page["tests"]):
            yield wrapped("Resistances as corrected by the rule that judged, where there was one.", "    ")
    yield from instruments_text(page["instruments"])
    yield from added_text(page)
    yield ""
    yield wrapped("Look closer with 'soakage show TEST', at its course with 'soakage trend ASSET'.")


def figure_text(figures: Row, names: Sequence[str]) -> str:
    """Return the first of these figures that there is, a dash where there is none."""
    for name in names:
        if name in figures:
            figure = figures[name]
            bound = Bound(figure["bound"]) if figure["bound"] else None
            return format_quantity(Measured(figure["value"], bound), lookup(name).dimension)
    return NOTHING


def instruments_text(instruments: Sequence[Row]) -> Iterator[str]:
    """Yield the lines of instruments used."""
    if instruments:
        yield ""
        yield "  Instruments used"
    for one in instruments:
        due = one.get("calibration_due")
        told = f", calibration due {due}" if due else ", calibration not stated"
        yield wrapped(
            f"{one.get('instrument') or 'instrument'} {one.get('instrument_serial') or ''}{told}",
            "      ",
            "    - ",
        )


def added_text(page: Row) -> Iterator[str]:
    """Yield the lines of what was added: conflicts, events, notes, attachments, reviews."""
    for conflict in page["conflicts"]:
        yield ""
        yield wrapped(
            f"In conflict: {conflict['field']}. Settle it by stating the right value once more.", "  "
        )
        for claim in conflict["claims"]:
            said = value_text(conflict["field"], claim["value"])
            yield wrapped(f"{said}  ({claim['person']}, {claim['at']})", "      ", "    - ")
    events = [(f"{one['at']}: {one['event']}. {one.get('text', '')}", one) for one in page["events"]]
    attachments = [(f"{one['name']} ({one['size']} bytes)", one) for one in page["attachments"]]
    reviews = [(f"{one['action']} as {one['status']}. {one.get('text', '')}", one) for one in page["reviews"]]
    notes = [(str(one["text"]), one) for one in page["notes"]]
    groups = (("Events", events), ("Notes", notes), ("Attachments", attachments), ("Reviews", reviews))
    for title, lines in groups:
        if lines:
            yield ""
            yield f"  {title}"
        for text, one in lines:
            yield wrapped(f"{text.strip()}  ({one['person']}, {one['said_at'][:10]})", "      ", "    - ")
