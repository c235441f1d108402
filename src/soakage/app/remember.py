"""An asset's history out of the register: its points, events, limits and peers, and the trends they give."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from soakage.app.due import WorkItem, due_tests
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.peers import Kin, Peers, others_of
from soakage.app.ports import KnownAsset, Memory, PastTest
from soakage.app.register import title_of
from soakage.app.trend import trends
from soakage.app.trend_result import Trend, TrendLimit
from soakage.model.keys import insulation_family
from soakage.model.stated import value_of
from soakage.standards.library import Library
from soakage.units import Bound

# What is trended unless others are asked for: what criteria judge, and what tells how the insulation is.
QUANTITIES = (
    "insulation_resistance_60s_corrected", "insulation_resistance_corrected", "insulation_resistance_60s",
    "insulation_resistance", "polarization_index", "dielectric_absorption_ratio", "dielectric_discharge",
    "capacitance", "voltage_dependence",
)  # fmt: skip
# A resistance as read is trended only where it was never corrected.
_RAW = {
    "insulation_resistance_60s": "insulation_resistance_60s_corrected",
    "insulation_resistance": "insulation_resistance_corrected",
}


@dataclass(frozen=True, slots=True)
class Remembered:
    """What the register knows of the trends of one asset, the limits by section and quantity, and its peers."""

    asset: KnownAsset
    points: tuple[HistoryPoint, ...] = ()
    events: tuple[AssetEvent, ...] = ()
    trends: tuple[Trend, ...] = ()
    due: tuple[WorkItem, ...] = field(default=())
    limits: Mapping[tuple[str, str], tuple[TrendLimit, ...]] = field(default_factory=dict)
    peers: Peers | None = None


def remember(
    memory: Memory,
    asset: KnownAsset,
    library: Library,
    today: date,
    *,
    quantities: Sequence[str] = QUANTITIES,
    section: str | None = None,
    with_peers: bool = True,
) -> Remembered:
    """Return the trends of an asset.

    Parameters
    ----------
    memory : Memory
        The register.
    asset : KnownAsset
        Which.
    library : Library
        The criteria files.
    today : date
        Ages, horizons and dates are told from this day.
    quantities : sequence of str
        Ids of those to be trended.
    section : str, optional
        Only this one.
    with_peers : bool
        Compare with assets of its kind.

    Returns
    -------
    Remembered
    """
    tests = [test for test in memory.history(asset.id) if section is None or test.section == section]
    points = tuple(points_of(tests, quantities))
    events = tuple(events_of(memory.remarks("asset", asset.id)))
    kin = kin_of(asset)
    peers = None
    if with_peers and points:
        others = memory.peer_points(kin, {point.quantity for point in points}, asset.id)
        peers = Peers(kin, others_of(asset.id, others))
    limits = _limits(memory, tests)
    found = trends(points, events, limits, peers, library=library, today=today)
    due = () if asset.values.get("retired") else due_tests(title_of(asset.values), found, library)
    return Remembered(asset, points, events, found, due, limits, peers)


def kin_of(asset: KnownAsset) -> Kin:
    """Return what makes an asset a peer of others."""
    values = asset.values
    family = insulation_family(values["insulation"]) if values.get("insulation") else None
    return Kin(values.get("class"), values.get("rated_voltage"), family, values.get("year"))


def points_of(tests: Iterable[PastTest], quantities: Sequence[str]) -> Iterator[HistoryPoint]:
    """Yield one point for each wanted quantity of each test that says when it was made."""
    known = list(tests)
    corrected = {(test.section, name) for test in known for name in test.figures}
    for test in known:
        if test.day is None:
            continue
        stated = test.stated
        for name in quantities:
            figure = test.figures.get(name)
            if figure is None or (test.section, _RAW.get(name)) in corrected:
                continue
            yield HistoryPoint(
                test=test.id,
                at=value_of("started", stated["started"]),
                section=test.section,
                quantity=name,
                value=figure["value"],
                bound=Bound(figure["bound"]) if figure["bound"] else None,
                uncertainty=figure["uncertainty"],
                rule=figure["rule"],
                base_temperature=figure["base_temperature"],
                method=stated["method"],
                test_voltage=stated.get("test_voltage"),
                tested=tuple(stated.get("tested", ())),
                earthed=tuple(stated.get("earthed", ())),
                guarded=tuple(stated.get("guarded", ())),
                attached=tuple(stated.get("attached", ())),
                neutral=stated.get("neutral"),
                year=stated.get("year"),
                filling=stated.get("filling"),
                purpose=stated.get("purpose"),
                relative_humidity=stated.get("relative_humidity"),
                surface=stated.get("surface"),
                temperature=stated.get("winding_temperature"),
                status=test.status or "not judged",
                visit=test.visit,
            )


def events_of(remarks: Iterable[Mapping[str, Any]]) -> Iterator[AssetEvent]:
    """Yield what happened to an asset, out of the remarks on it."""
    for remark in remarks:
        if remark["action"] == "happened":
            fields = remark["fields"]
            yield AssetEvent(
                date.fromisoformat(fields["at"]), Happening(fields["event"]), fields.get("text", "")
            )


def _limits(memory: Memory, tests: Sequence[PastTest]) -> dict[tuple[str, str], tuple[TrendLimit, ...]]:
    """Return the limits the newest judged test of each section was held against, by section and quantity."""
    newest: dict[tuple[str, str], PastTest] = {}
    for test in sorted(tests, key=lambda test: (test.day or "", test.id)):
        if test.result is not None:
            newest[test.section, str(test.stated.get("method"))] = test
    found: dict[tuple[str, str], dict[str, TrendLimit]] = {}
    for (section, _), test in newest.items():
        for judgement in json.loads(memory.blob(test.result or ""))["judgements"]:
            limit = judgement["limit"]
            if limit is None or (limit["lower"] is None and limit["upper"] is None):
                continue
            found.setdefault((section, judgement["quantity"]), {})[judgement["criterion"]] = TrendLimit(
                judgement["criterion"],
                limit["lower"],
                limit["upper"],
                judgement["source"],
                judgement["verified"],
            )
    return {key: tuple(limits.values()) for key, limits in found.items()}
