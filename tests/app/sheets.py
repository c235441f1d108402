"""Sheets for tests: a motor of an invented plant, its plan, and a hand that fills the sheet in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from soakage.app.capture import MICROSECONDS, Progress, progress
from soakage.app.capture_rules import Moment, happened
from soakage.app.capture_sheets import sheets_of
from soakage.app.plan import plan
from soakage.model.asset import Asset
from soakage.standards.library import library

MOTOR = Asset(
    site="Alder Mill", name="Feed pump 2 motor", asset_class="rotating-machine", rated_voltage=6600.0,
    winding="form-wound", insulation="epoxy-mica", thermal_class="155", year=2004, neutral="opened",
)  # fmt: skip
CABLE = Asset(name="Cable 7", asset_class="cable", rated_voltage=6600.0, length=400.0)
PANEL = Asset(name="P4", asset_class="low-voltage-installation", nominal_voltage=230.0, circuit="C1")
BEGUN = 1_764_000_000 * MICROSECONDS  # some morning of an invented November


class Hand:
    """Fills in the sheets of a plan; its clock stands where it is put.

    Parameters
    ----------
    asset : Asset
        Of which.
    methods : sequence of str
        Tests asked for.
    **more : object
        More for the plan.
    """

    def __init__(self, asset: Asset = MOTOR, methods: Sequence[str] = (), **more: Any) -> None:
        self.plan = plan(asset, methods=methods, **more)
        self.sheets = sheets_of(self.plan)
        self.events: list[tuple[int, Mapping[str, Any]]] = []
        self.ticks: dict[str, Any] = {}
        self.now = BEGUN

    @property
    def stands(self) -> tuple[Progress, ...]:
        return progress(self.sheets, self.events)

    def do(self, kind: str, sheet: int = 0, ago: float = 0.0, **body: Any) -> int:
        """Let something happen; return its number."""
        given = {"sheet": sheet, "kind": kind, **body}
        event = happened(self.stands, given, Moment(self.now, ago), library(), self.ticks)
        self.events.append((len(self.events) + 1, event))
        return len(self.events)

    def at(self, seconds: float) -> None:
        """Put the clock so many seconds after the last start."""
        starts = [event["at"] for _, event in self.events if event["kind"] == "started"]
        self.now = (starts[-1] if starts else BEGUN) + round(seconds * MICROSECONDS)

    def begin(self, sheet: int = 0, dc: str = "3 V", ac: str = "0", apply: str = "5 kV") -> None:
        """Say what was found, then start the clock."""
        self.do("found", sheet, dc=dc, ac=ac, apply=apply)
        self.do("started", sheet)

    def read(self, time: float, text: str, sheet: int = 0, *, marked: bool = True) -> int:
        """Take a reading."""
        self.at(time + 1)
        return self.do("reading", sheet, mark=time if marked else None, time=time, text=text)
