"""What is hidden in the history is what can be found in it: numpy and scipy on values the program corrected."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import theilslopes

from demo_history import evaluated, line, of, records, section_of, truths
from soakage.demo.history import history_truth
from soakage.demo.history_make import NOISE
from soakage.demo.history_truth import YEAR, AssetTruth, Event, Season, Section
from soakage.model.verdict import Status
from soakage.units import Bound

SECTIONS = [
    (truth.asset, section.name)
    for truth in truths().values()
    for section in truth.sections
    if truth.top is None and truth.season is None
]
FIRST = date(2020, 1, 1)


def simple(**changes: object) -> AssetTruth:
    truth = AssetTruth(
        "S",
        "A",
        "T",
        "N",
        "cable",
        (Section("L1", 1e9, -0.1),),
        FIRST,
        "insulation_resistance",
        None,
        None,
        0.05,
    )
    return replace(truth, **changes)  # type: ignore[arg-type]


def after(years: float) -> date:
    return FIRST + timedelta(days=round(years * YEAR))


# The truth itself, by hand


def test_a_line_is_a_line() -> None:
    truth = simple()
    assert truth.log_resistance("L1", FIRST) == pytest.approx(math.log(1e9))
    assert truth.log_resistance("L1", after(4)) == pytest.approx(math.log(1e9) - 0.4)
    assert truth.slope("L1", after(4)) == -0.1
    assert truth.series(after(4)) == FIRST


def test_a_change_adds_its_step_and_keeps_the_slope() -> None:
    truth = simple(events=(Event("change", after(4), -0.9),))
    assert truth.log_resistance("L1", after(4) - timedelta(days=1)) == pytest.approx(
        math.log(1e9) - 0.4, abs=1e-3
    )
    assert truth.log_resistance("L1", after(4)) == pytest.approx(math.log(1e9) - 1.3)
    assert truth.log_resistance("L1", after(8)) == pytest.approx(math.log(1e9) - 1.7)
    assert truth.series(after(8)) == FIRST


def test_a_rewind_starts_a_series_with_its_own_slope() -> None:
    truth = simple(events=(Event("change", after(2), -0.5), Event("rewind", after(4), 1.5, -0.02)))
    assert truth.log_resistance("L1", after(8)) == pytest.approx(math.log(1e9) - 0.4 - 0.5 + 1.5 - 0.08)
    assert (truth.slope("L1", after(3)), truth.slope("L1", after(5))) == (-0.1, -0.02)
    assert truth.series(after(3)) == FIRST
    assert truth.series(after(5)) == after(4)


def test_a_season_is_highest_on_its_driest_day() -> None:
    truth = simple(season=Season(0.6, 200), sections=(Section("L1", 1e9, 0.0),))
    summer, winter = date(2021, 7, 19), date(2021, 1, 18)
    assert summer.timetuple().tm_yday == 200
    assert truth.log_resistance("L1", summer) == pytest.approx(math.log(1e9) + 0.6)
    assert truth.log_resistance("L1", winter) == pytest.approx(math.log(1e9) - 0.6, abs=1e-3)


def test_a_section_that_is_not_there_is_not_made_up() -> None:
    with pytest.raises(StopIteration):
        simple().section("L9")


# What must be in it, and once


def test_each_thing_is_hidden_once() -> None:
    kinds = Counter(event.kind for truth in truths().values() for event in truth.events)
    assert kinds == {"change": 1, "rewind": 1, "refill": 1, "repair": 1}
    for name in ("season", "edition_change", "slip", "top", "decommissioned"):
        assert sum(getattr(truth, name) is not None for truth in truths().values()) == 1, name
    assert 3 <= sum(truth.kept_by_hand_until is not None for truth in truths().values()) <= 6


def test_no_asset_carries_two_of_them() -> None:
    names = ("season", "edition_change", "slip", "top", "decommissioned")
    for truth in truths().values():
        assert len(truth.events) + sum(getattr(truth, name) is not None for name in names) <= 1


def test_the_truth_is_the_same_each_call() -> None:
    assert history_truth() == tuple(truths().values())


# What the program corrects is on the line


def test_every_quantity_is_corrected_by_the_rule_that_made_it() -> None:
    for entry in evaluated():
        truth = truths()[entry.record.asset.name or ""]
        quantity = entry.quantities[truth.quantity]
        assert quantity.rule == truth.rule
        if truth.base_degC is not None:
            assert quantity.base_temperature == pytest.approx(truth.base_degC + 273.15)


@pytest.mark.parametrize(("asset", "section"), SECTIONS)
def test_known_slope_comes_back(asset: str, section: str) -> None:
    # scipy.stats.theilslopes on the part after the last event; four standard deviations of a fitted slope.
    truth = truths()[asset]
    begun = max((event.day for event in truth.events), default=date.min)
    entries = [e for e in of(asset, section) if e.record.day is not None and e.record.day >= begun]
    years, logs = line(truth, entries)
    assert len(years) >= 3
    found = theilslopes(logs, years).slope
    spread = NOISE / math.sqrt(float(((years - years.mean()) ** 2).sum()))
    assert found == pytest.approx(truth.slope(section, date(2026, 9, 1)), abs=4 * spread)


def test_scatter_about_the_truth_is_the_noise_stated() -> None:
    departures = []
    for asset, section in SECTIONS:
        truth = truths()[asset]
        entries = of(asset, section)
        _, logs = line(truth, entries)
        for entry, value in zip(entries, logs.tolist(), strict=True):
            slip = truth.slip is not None and entry.record.day == truth.slip.day
            if entry.record.day is not None and not slip:
                departures.append(value - truth.log_resistance(section, entry.record.day))
    assert len(departures) > 700
    assert float(np.std(departures)) == pytest.approx(NOISE, rel=0.08)
    assert abs(float(np.mean(departures))) < 4 * NOISE / math.sqrt(len(departures))
    assert float(np.max(np.abs(departures))) < 5 * NOISE


def test_without_correction_the_slope_would_drown() -> None:
    raw = np.log([e.quantities["insulation_resistance_60s"].value for e in of("Works transformer 1", "HV")])
    truth = truths()["Works transformer 1"]
    years, corrected = line(truth, of("Works transformer 1", "HV"))
    left = [np.std(y - np.polyval(np.polyfit(years, y, 1), years)) for y in (raw, corrected)]
    assert left[0] > 2 * left[1]


def test_noise_of_sister_sections_is_their_own() -> None:
    truth = truths()["Kiln fan 1 motor"]
    apart = []
    for section in truth.sections:
        years, logs = line(truth, of(truth.asset, section.name))
        apart.append(logs - np.polyval(np.polyfit(years, logs, 1), years))
    assert np.abs(np.corrcoef(apart))[np.triu_indices(3, 1)].max() < 0.8


# One by one


@pytest.mark.parametrize("section", ("phase U", "phase V", "phase W"))
def test_change_point_is_where_the_truth_says(section: str) -> None:
    truth = truths()["Mill 1 motor"]
    (event,) = truth.events
    entries = of(truth.asset, section)
    years, logs = line(truth, entries)
    misfit, steps = [], []
    for place in range(1, len(years)):
        design = np.stack([np.ones_like(years), years, np.arange(len(years)) >= place], axis=1)
        solved, *_ = np.linalg.lstsq(design.astype(float), logs, rcond=None)
        misfit.append(float(((logs - design @ solved) ** 2).sum()))
        steps.append(float(solved[2]))
    best = int(np.argmin(misfit)) + 1
    before, behind = entries[best - 1].record.day, entries[best].record.day
    assert before is not None
    assert behind is not None
    assert before < event.day <= behind
    assert steps[best - 1] == pytest.approx(event.step, abs=4 * NOISE)


def test_season_comes_back_by_least_squares() -> None:
    truth = truths()["River gate motor"]
    season = truth.season
    assert season is not None
    entries = of(truth.asset)
    years, logs = line(truth, entries)
    days = np.array([e.record.day.timetuple().tm_yday for e in entries if e.record.day is not None])
    angle = 2 * np.pi * (days - season.driest_day) / YEAR
    design = np.stack([np.ones_like(years), years, np.cos(angle), np.sin(angle)], axis=1)
    _, slope, along, across = np.linalg.lstsq(design, logs, rcond=None)[0]
    assert len(entries) >= 36
    spread = 4 * NOISE * math.sqrt(2 / len(entries))
    assert along == pytest.approx(season.amplitude, abs=spread)
    assert across == pytest.approx(0.0, abs=spread)
    assert slope == pytest.approx(truth.sections[0].slope, abs=4 * NOISE / math.sqrt(len(entries) * 8))


def test_season_runs_against_the_humidity() -> None:
    entries = of("River gate motor")
    _, logs = line(truths()["River gate motor"], entries)
    humidity = [e.record.conditions.relative_humidity for e in entries]
    assert np.corrcoef(logs, np.array(humidity, float))[0, 1] < -0.8
    damp = [e.record.conditions.surface for e in entries]
    assert {"dry", "damp"} == set(damp)


def test_mis_entered_value_is_a_thousand_times_too_low() -> None:
    truth = truths()["Cooler fan motor"]
    slip = truth.slip
    assert slip is not None
    assert slip.meant / slip.entered == pytest.approx(1000)
    (wrong,) = [e for e in of(truth.asset) if e.record.day == slip.day]
    assert wrong.record.readings.resistance[0] == slip.entered
    others = [e for e in of(truth.asset) if e is not wrong]
    years, logs = line(truth, others)
    at, value = line(truth, [wrong])
    expected = np.polyval(np.polyfit(years, logs, 1), at)
    assert float(expected[0] - value[0]) == pytest.approx(math.log(1000), abs=5 * NOISE)
    assert wrong.verdict.status is Status.UNFIT
    assert {e.verdict.status for e in others} == {Status.SOUND}


def test_mis_entered_value_from_before_a_short_history_is_not_told() -> None:
    assert all(truth.slip is None for truth in history_truth(2))


def test_rewind_resets_the_year_and_lifts_the_winding() -> None:
    truth = truths()["Mill 2 motor"]
    (event,) = truth.events
    entries = of(truth.asset, "phase U")
    old = [e for e in entries if e.record.day is not None and e.record.day < event.day]
    new = entries[len(old) :]
    assert {e.record.asset.year for e in old} == {1998}
    assert {e.record.asset.year for e in new} == {event.day.year}
    assert [e.record.paper.purpose for e in new] == ["after-repair"] + ["maintenance"] * (len(new) - 1)
    assert "Rewound on" in (new[0].record.paper.notes or "")
    assert line(truth, new[:1])[1][0] - line(truth, old[-1:])[1][0] > 1.2


@pytest.mark.parametrize(
    ("asset", "words"),
    (("Works transformer 2", "Oil treated and refilled on"), ("Works cable 2", "Joint repaired on")),
)
def test_refill_and_repair_are_told_in_the_first_record_after(asset: str, words: str) -> None:
    (event,) = truths()[asset].events
    told = [r for r in records() if r.asset.name == asset and words in (r.paper.notes or "")]
    assert len({r.day for r in told}) == 1
    assert {r.paper.purpose for r in told} == {"after-repair"}
    assert all(r.day is not None and 0 <= (r.day - event.day).days < 380 for r in told)
    years, logs = line(truths()[asset], of(asset, section_of(told[0])))
    jump = np.searchsorted(years, (event.day - truths()[asset].origin).days / YEAR)
    assert logs[jump] - logs[jump - 1] > 0.3


def test_over_range_asset_has_bounds_only() -> None:
    truth = truths()["Works board B"]
    for entry in of(truth.asset):
        assert set(entry.record.readings.bound.tolist()) == {1}
        assert entry.quantities[truth.quantity].bound is Bound.LOWER
        assert entry.record.instrument.accuracy[0].range == truth.top
        assert entry.record.day is not None
        true = truth.log_resistance(section_of(entry.record), entry.record.day)
        assert entry.quantities[truth.quantity].value < math.exp(true)
        assert entry.verdict.status is Status.SOUND


def test_no_other_asset_is_ever_over_range() -> None:
    assert {r.asset.name for r in records() if r.readings.bound.any()} == {"Works board B"}


def test_decommissioned_asset_is_tested_no_more() -> None:
    truth = truths()["Conveyor 3 motor"]
    assert truth.decommissioned is not None
    days = [e.record.day for e in of(truth.asset) if e.record.day is not None]
    assert max(days) < truth.decommissioned
    assert (truth.decommissioned - max(days)).days < 380
    for other in truths().values():
        if other is not truth:
            assert max(r.day for r in records() if r.asset.name == other.asset and r.day) > date(2024, 10, 1)


def test_records_kept_by_hand_hold_a_date_a_resistance_and_a_temperature() -> None:
    for truth in truths().values():
        for entry in of(truth.asset):
            record = entry.record
            day = record.day
            assert day is not None
            by_hand = truth.kept_by_hand_until is not None and day < truth.kept_by_hand_until
            assert (record.test.method == "insulation-resistance") == by_hand
            if by_hand:
                assert type(record.test.started) is date
                assert len(record.readings) == 1
                assert np.isnan(record.readings.time).all()
                assert record.test.test_voltage is None
                stated = set(record.stated()) & {"instrument", "relative_humidity", "tested_by", "earthed"}
                assert stated == set()
                assert "insulation_resistance_60s_corrected" in entry.quantities


def test_the_older_machine_has_the_older_rule_and_minimum() -> None:
    # 3.3 kV made before about 1970: kV + 1 MOhm, twice that for one phase with the others earthed (memory);
    # IEEE Std 43-2013, cl. 12.3 (secondary).
    entry = of("Old exhauster motor", "phase U")[0]
    (minimum,) = [
        j for j in entry.judgements if j.quantity == "insulation_resistance_60s_corrected" and j.decides
    ]
    assert minimum.criterion == "ieee-43-2013.minimum-resistance.made-before-1970"
    assert minimum.limit is not None
    assert minimum.limit.lower == pytest.approx(8.6e6)
    assert entry.quantities["insulation_resistance_60s_corrected"].rule == "ieee-43-2013.thermoplastic"
