"""What belongs to one visit, and what its sister sections say about each other."""

from __future__ import annotations

import json
from itertools import permutations
from typing import Any

import pytest

from soakage.app.contract_json import evaluation_json
from soakage.app.visits import asset_key, visit_groups
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from typed import CABLE, MACHINE, by, evaluation, header, spot

DAY: dict[str, Any] = {"asset": "Pump 3 motor", "started": "2026-03-14"}
PHASES = (("U", "V, W"), ("V", "U, W"), ("W", "U, V"))


def phases(*resistances: str, **more: str | None) -> tuple[Record, ...]:
    keys = {**MACHINE, "method": "insulation-resistance", "neutral": "opened", **DAY, **more}
    return tuple(
        spot(keys, resistance, tested=live, earthed=f"{rest}, frame", section=more.get("section", live))
        for resistance, (live, rest) in zip(resistances, PHASES, strict=False)
    )


def groups(*keys: dict[str, Any]) -> list[tuple[int, ...]]:
    base: dict[str, Any] = {**MACHINE, "method": "insulation-resistance"}
    return visit_groups([spot({**base, **key}, "500 MOhm") for key in keys])


# ---- grouping: same visit, else same asset and calendar day; with neither a record stands alone
def test_one_asset_and_day_is_one_visit() -> None:
    assert groups(DAY, DAY) == [(0, 1)]
    assert groups(DAY, {**DAY, "started": "2026-03-14T18:00:00+02:00"}) == [(0, 1)]
    assert groups(DAY, {**DAY, "started": "2026-03-15"}) == [(0,), (1,)]
    assert groups(DAY, {**DAY, "asset": "Pump 4 motor"}, DAY) == [(0, 2), (1,)]


def test_a_named_visit_goes_over_days() -> None:
    visit: dict[str, Any] = {"asset": "Pump 3 motor", "visit": "spring outage"}
    assert groups({**visit, "started": "2026-03-14"}, {**visit, "started": "2026-03-16"}) == [(0, 1)]
    assert groups(visit, {**visit, "visit": "autumn outage"}) == [(0,), (1,)]
    assert groups(visit, {**visit, "asset": "Pump 4 motor"}) == [(0,), (1,)]


def test_without_day_and_visit_or_without_a_name_a_record_stands_alone() -> None:
    assert groups({"asset": "Pump 3 motor"}, {"asset": "Pump 3 motor"}) == [(0,), (1,)]
    assert groups({"started": "2026-03-14"}, {"started": "2026-03-14"}) == [(0,), (1,)]


def test_two_assets_of_one_name_at_two_sites_are_two() -> None:
    assert groups({**DAY, "site": "North"}, {**DAY, "site": "South"}) == [(0,), (1,)]
    assert asset_key(spot({**MACHINE, "site": "North"}, "1 GOhm", method="insulation-resistance")) == ()


SCHEDULE = header({"class": "low-voltage-installation", "method": "circuit", "nominal_voltage": "230 V"}) + (
    "circuit,between,voltage,resistance\n"
    "1,L-PE,500 V,25 MOhm\n1,N-PE,500 V,> 100 MOhm\n2,L-PE,500 V,0.8 MOhm\n"
)


def test_the_rows_of_a_schedule_are_one_visit_and_each_a_record() -> None:
    records = read_bytes(SCHEDULE.encode(), "schedule.csv")
    result = evaluation(*records)
    assert [tuple(visit.members) for visit in result.visits] == [(0, 1, 2)]
    assert [str(e.verdict.status) for e in result.records] == ["sound", "sound", "unfit"]
    assert [e.record.origin.row is not None for e in result.records] == [True] * 3
    assert result.visits[0].status == "unfit"
    assert {q for e in result.records for q in e.quantities} >= {"insulation_resistance"}
    assert all("insulation_resistance_60s" not in e.quantities for e in result.records), "no time mark"


# ---- phase spread: GB 50150-2006 cl. 3.0.2 (read): largest over smallest at most 2
@pytest.mark.parametrize(
    ("resistances", "spread", "expected"),
    (
        (("400 MOhm", "600 MOhm", "800 MOhm"), 2.0, "sound"),
        (("399 MOhm", "600 MOhm", "800 MOhm"), 800 / 399, "investigate"),
        (("1400 MOhm", "1000 MOhm", "800 MOhm"), 1.75, "sound"),  # M7 (derived): phase leakages 8, 10, 14
        (("500 MOhm", "500 MOhm"), 1.0, "sound"),
    ),
)
def test_the_spread_of_the_phases(resistances: tuple[str, ...], spread: float, expected: str) -> None:
    result = evaluation(*phases(*resistances))
    for evaluated in result.records:
        assert evaluated.quantities["phase_spread"].value == pytest.approx(spread)
        assert by(evaluated, "gb-50150-2006.phase-spread").status == expected
        assert evaluated.verdict.status == expected
    assert result.visits[0].status == expected


def test_the_odd_phase_is_named_in_the_visit_and_the_verdict() -> None:
    result = evaluation(*phases("900 MOhm", "300 MOhm", "800 MOhm"))
    assert "V departs most" in result.visits[0].sentence
    assert all("V departs most" in by(e, "gb-50150-2006.phase-spread").reason for e in result.records)


def test_the_other_rules_on_spread_are_shown_beside_and_count_for_nothing() -> None:
    evaluated = evaluation(*phases("500 MOhm", "900 MOhm", "850 MOhm")).records[0]
    beside = [j for j in evaluated.judgements if j.criterion.startswith("rd-34-45")]
    assert {j.status for j in beside} == {"not applicable"}
    assert any("would be not met" in j.reason for j in beside)
    assert evaluated.verdict.status == "sound"


def test_a_spread_over_its_limit_is_no_more_than_investigate() -> None:
    assert {str(e.verdict.status) for e in evaluation(*phases("210 MOhm", "90 GOhm", "90 GOhm")).records} == {
        "investigate"
    }


def test_spread_hides_no_unfit_phase() -> None:
    result = evaluation(*phases("150 MOhm", "900 MOhm", "900 MOhm"))
    assert [str(e.verdict.status) for e in result.records] == ["unfit", "investigate", "investigate"]
    assert result.visits[0].status == "unfit"


@pytest.mark.parametrize(
    ("resistances", "bound", "expected"),
    (
        (("> 10 GOhm", "> 10 GOhm", "> 10 GOhm"), None, None),
        (("400 MOhm", "> 10 GOhm", "> 10 GOhm"), "lower", "investigate"),
        (("6 GOhm", "> 10 GOhm", "7 GOhm"), "lower", "not judged"),
    ),
)
def test_bounds_make_the_spread_a_bound_or_nothing(
    resistances: tuple[str, ...], bound: str | None, expected: str | None
) -> None:
    result = evaluation(*phases(*resistances))
    json.dumps(evaluation_json(result), allow_nan=False)
    quantity = result.records[0].quantities.get("phase_spread")
    if expected is None:
        assert quantity is None
        assert result.records[0].verdict.status == "sound"
    else:
        assert quantity is not None
        assert quantity.bound == bound
        assert by(result.records[0], "gb-50150-2006.phase-spread").status == expected


def test_the_spread_is_of_values_at_one_base_temperature() -> None:
    warm, cold, other = phases("300 MOhm", "500 MOhm", "500 MOhm")
    keys = {**MACHINE, "method": "insulation-resistance", "neutral": "opened", **DAY}
    warm = spot(keys, "250 MOhm", tested="U", earthed="V, W, frame", winding_temperature="60 degC")
    quantity = evaluation(warm, cold, other).records[0].quantities["phase_spread"]
    # 250 MOhm at 60 degC is 562.9 MOhm at 40 degC (thermosetting, memory)
    assert quantity.value == pytest.approx(562.925 / 500, rel=1e-4)


def test_a_section_read_again_counts_with_its_last_reading() -> None:
    first, second, third = phases("210 MOhm", "600 MOhm", "620 MOhm")
    again = phases("640 MOhm")[0]
    result = evaluation(first, second, third, again)
    spread = result.records[1].quantities["phase_spread"]
    assert spread.value == pytest.approx(640 / 600)
    assert "phase_spread" not in result.records[0].quantities


def test_different_connections_and_methods_are_no_sisters() -> None:
    one, two, _ = phases("500 MOhm", "500 MOhm", "500 MOhm")
    guarded = spot({**MACHINE, "method": "insulation-resistance", **DAY}, "1500 MOhm", tested="V",
                   earthed="frame", guarded="U, W")  # fmt: skip
    assert "phase_spread" not in evaluation(one, guarded).records[0].quantities
    whole = spot({**MACHINE, "method": "insulation-resistance", **DAY}, "300 MOhm")
    assert "phase_spread" not in evaluation(one, whole).records[0].quantities
    assert "phase_spread" in evaluation(one, two).records[0].quantities


def test_of_cables_the_spread_is_shown_only() -> None:
    cores = [spot({**CABLE, **DAY}, r, section=core) for r, core in (("6 GOhm", "L1"), ("60 GOhm", "L2"))]
    evaluated = evaluation(*cores).records[0]
    assert evaluated.quantities["phase_spread"].value == pytest.approx(10)
    assert not [j for j in evaluated.judgements if j.quantity == "phase_spread" and j.status.rung >= 0]
    assert evaluated.verdict.status == "sound"


# ---- a visit
def test_a_visit_is_the_worst_of_its_records_and_held_back_like_them() -> None:
    good = spot({**MACHINE, "method": "insulation-resistance", **DAY}, "500 MOhm")
    open_ = spot(
        {**MACHINE, "method": "insulation-resistance", **DAY, "winding_temperature": None}, "500 MOhm"
    )
    bad = spot({**MACHINE, "method": "insulation-resistance", **DAY}, "50 MOhm")
    for order in permutations((good, open_)):
        assert evaluation(*order).visits[0].status == "not judged"
    for order in permutations((good, open_, bad)):
        result = evaluation(*order)
        assert result.visits[0].status == "unfit"
        assert "1 unfit" in result.visits[0].sentence
        assert "3 records" in result.visits[0].sentence


def test_the_order_of_the_files_changes_no_verdict() -> None:
    three = phases("900 MOhm", "300 MOhm", "800 MOhm")
    expected = {e.record.asset.section: e.verdict for e in evaluation(*three).records}
    for order in permutations(three):
        assert {e.record.asset.section: e.verdict for e in evaluation(*order).records} == expected
