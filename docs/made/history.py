"""The truth of the invented history, as tables."""

from __future__ import annotations

from collections.abc import Iterator

from made.text import code, plain, table
from soakage.demo.history import history_records, history_truth
from soakage.demo.history_truth import AssetTruth
from soakage.units import format_quantity


def fleet() -> str:
    """Return the table of every asset: what it is, how it ages, how often it was read."""
    count: dict[str, int] = {}
    for record in history_records():
        count[record.asset.serial or ""] = count.get(record.asset.serial or "", 0) + 1
    rows = (
        (
            plain(truth.asset),
            plain(truth.site),
            code(truth.asset_class),
            code(truth.rule or ""),
            str(count[truth.serial]),
            ", ".join(dict.fromkeys(f"{section.slope:+.2f}" for section in truth.sections)),
            plain(truth.what),
        )
        for truth in history_truth()
    )
    heading = (
        "asset",
        "site",
        "class",
        "temperature rule",
        "records",
        "slope of ln R a year",
        "there to show",
    )
    return table(heading, rows)


def happenings() -> str:
    """Return the table of everything that is not an even slope, with its date and size."""
    rows = (
        (plain(truth.asset), *map(plain, row))
        for truth in history_truth()
        for row in sorted(_happened(truth))
    )
    return table(("asset", "from", "what", "size"), rows)


def _happened(truth: AssetTruth) -> Iterator[tuple[str, str, str]]:
    for event in truth.events:
        after = "" if event.slope is None else f", then {event.slope:+.2f} a year"
        yield event.day.isoformat(), event.kind, f"{event.step:+.2f} in ln R{after}"
    if truth.season is not None:
        season = truth.season
        size = (
            f"{season.amplitude:.2f} in ln R to either side, highest on day {season.driest_day} of the year"
        )
        yield "", "season", size
    if truth.edition_change is not None:
        change = truth.edition_change
        yield change.day.isoformat(), "edition change", f"{change.before}, then {change.after}"
    if truth.slip is not None:
        entered, meant = (
            format_quantity(value, "resistance") for value in (truth.slip.entered, truth.slip.meant)
        )
        yield truth.slip.day.isoformat(), "mis-entered value", f"{entered} entered, {meant} read"
    if truth.top is not None:
        yield "", "over range only", f"more than {format_quantity(truth.top, 'resistance')} at every visit"
    if truth.decommissioned is not None:
        yield truth.decommissioned.isoformat(), "out of service", "no test from then on"
    if truth.kept_by_hand_until is not None:
        yield truth.kept_by_hand_until.isoformat(), "kept by hand until then", "date, resistance, temperature"
