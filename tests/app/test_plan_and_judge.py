"""What a plan says will judge a reading is what judges it: sheets filled at the limit and just below it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakage.app.plan import Plan, plan
from soakage.app.plan_criteria import Expected
from soakage.app.plan_sheet import SCHEDULE, schedule_rows, sheet_values
from soakage.app.result import Evaluated
from soakage.importers.reading import read_bytes
from soakage.importers.write_record import schedule_text, sheet_text
from soakage.model.asset import Asset
from soakage.model.verdict import Status
from typed import evaluation

MOTOR = Asset(
    name="Feed pump 2 motor", asset_class="rotating-machine", rated_voltage=6600.0, winding="form-wound",
    insulation="epoxy-mica", thermal_class="155", year=2004,
)  # fmt: skip
OLD = replace(MOTOR, insulation="asphalt-mica", year=1965, rated_voltage=13800.0, thermal_class="105")
SMALL = Asset(
    name="Fan", asset_class="rotating-machine", rated_voltage=400.0, winding="random-wound", rated_power=15e3,
    insulation="epoxy", year=2010, neutral="closed",
)  # fmt: skip
FIELD = Asset(
    name="Exciter", asset_class="rotating-machine", rated_voltage=250.0, winding="field", insulation="epoxy",
    year=1990,
)  # fmt: skip
OIL = Asset(name="T1", asset_class="transformer", filling="oil", winding_voltages={"H": 11e3, "L": 433.0})
DRY = replace(OIL, name="T2", filling="dry")
BOARD = Asset(name="Board", asset_class="switchgear", rated_voltage=12e3)
GEAR = Asset(name="Gear", asset_class="apparatus", rated_voltage=600.0)
CABLE = Asset(name="Cable", asset_class="cable", rated_voltage=15e3, length=609.6)
PANEL = Asset(name="P4", asset_class="low-voltage-installation", nominal_voltage=230.0, circuit="C1")
SHEETS = (MOTOR, replace(MOTOR, neutral="closed"), OLD, SMALL, FIELD, OIL, DRY, BOARD, GEAR, CABLE)
MET = (Status.SOUND, Status.WATCH, Status.NOT_APPLICABLE)
ODDS = 1e-6  # off the limit to either side


def filled(found: Plan, place: int, ohms: float, later: float = 1.0, celsius: float = 20.0) -> Evaluated:
    """Fill the sheet of one connection: a resistance to the minute, `later` times it at ten minutes."""
    values, marks, columns = sheet_values(found, place)
    stated = {key: value for key, value in values.items() if value != ""}
    temperature = "winding" if found.asset.asset_class == "rotating-machine" else "insulation"
    stated[f"{temperature}_temperature"] = f"{celsius} degC"
    text = sheet_text(stated, marks, columns)
    lines = text.rstrip("\n").split("\n")
    first = len(lines) - len(marks)
    volts = found.connections[place].voltage
    rows = [f"{time:g},{volts:g},,{(ohms * (later if time >= 600 else 1.0)) / 1e6:.12g}" for time in marks]
    (record,) = read_bytes("\n".join([*lines[:first], *rows, ""]).encode(), "sheet.csv")
    return evaluation(record).records[0]


def status_of(evaluated: Evaluated, criterion: str) -> Status:
    (found,) = [j for j in evaluated.judgements if j.criterion == criterion]
    return found.status


def minima(found: Plan) -> list[Expected]:
    """Return the criteria of a plan that are lower limits of the one-minute resistance."""
    return [
        e for e in found.criteria
        if e.limit is not None and e.limit.lower is not None and e.quantity.startswith("insulation_resistance")
    ]  # fmt: skip


@pytest.mark.parametrize("asset", SHEETS, ids=lambda asset: f"{asset.title}-{asset.neutral}-{asset.year}")
def test_a_minimum_of_the_plan_is_the_minimum_of_the_judge(asset: Asset) -> None:
    found = plan(asset, hazardous_area="no")
    checked = 0
    for entry in minima(found):
        assert entry.limit is not None
        at = entry.readings or ((20.0, entry.limit.lower or 0.0),)
        for place, connection in enumerate(found.connections):
            if connection.title not in entry.for_what or connection.voltage is None:
                continue
            for celsius, ohms in at:
                above = filled(found, place, ohms * (1 + ODDS), 3.0, celsius)
                below = filled(found, place, ohms * (1 - ODDS), 3.0, celsius)
                assert status_of(above, entry.id) in MET
                assert status_of(below, entry.id) not in MET or asset.asset_class == "cable"
                assert status_of(below, entry.id) != Status.SOUND
                checked += 1
    assert checked


@pytest.mark.parametrize("asset", (MOTOR, OLD, OIL, DRY), ids=lambda asset: f"{asset.title}-{asset.year}")
def test_an_index_of_the_plan_is_the_index_of_the_judge(asset: Asset) -> None:
    found = plan(asset, methods=("polarization-index",), hazardous_area="no")
    (entry,) = [e for e in found.criteria if e.quantity == "polarization_index" and e.decides]
    assert entry.limit is not None
    assert entry.limit.lower is not None
    least = max(e.readings[0][1] for e in minima(found) if e.readings)
    for place, connection in enumerate(found.connections):
        assert connection.title in entry.for_what
        high = filled(found, place, least * 1.2, entry.limit.lower * (1 + ODDS))
        low = filled(found, place, least * 1.2, entry.limit.lower * (1 - ODDS))
        assert status_of(high, entry.id) == Status.SOUND
        assert status_of(low, entry.id) in (Status.WATCH, Status.INVESTIGATE)


@pytest.mark.parametrize("asset", SHEETS, ids=lambda asset: f"{asset.title}-{asset.neutral}-{asset.year}")
def test_what_judges_is_what_the_plan_named(asset: Asset) -> None:
    found = plan(asset, hazardous_area="no")
    named = {entry.id for entry in found.criteria}
    for place, connection in enumerate(found.connections):
        if connection.voltage is None:
            continue
        judged = filled(found, place, 2e9, 2.5)
        decided = {j.criterion for j in judged.judgements if j.decides and j.status.rung >= 0}
        assert decided <= named
        limits = {e.id: e.limit for e in found.criteria if e.limit and connection.title in e.for_what}
        for judgement in judged.judgements:
            if judgement.limit is not None and judgement.criterion in limits:
                said = limits[judgement.criterion]
                if asset.winding_voltages is None:
                    assert judgement.limit.lower == pytest.approx(said.lower)


@pytest.mark.parametrize("asset", SHEETS, ids=lambda asset: f"{asset.title}-{asset.neutral}-{asset.year}")
def test_the_planned_voltage_is_none_the_judge_objects_to(asset: Asset) -> None:
    found = plan(asset, hazardous_area="no")
    for place, connection in enumerate(found.connections):
        if connection.voltage is None:
            continue
        codes = {finding.code for finding in filled(found, place, 2e9, 2.5).findings}
        # A set has one voltage for all its readings, that of the weakest winding.
        allowed = {"test_voltage_below_table"} if connection.methods == ("terminal-set",) else set()
        assert {code for code in codes if "voltage" in code} <= allowed
        assert not [code for code in codes if "float" in code or "connection" in code]


@pytest.mark.parametrize(("megohms", "met"), ((1.0, True), (0.999, False), (500.0, True), (0.0, False)))
def test_a_schedule_is_judged_by_the_row_the_plan_named(megohms: float, met: bool) -> None:
    found = plan(PANEL, hazardous_area="no")
    (entry,) = [e for e in found.criteria if e.limit]
    values, _, _ = sheet_values(found, 0)
    rows = [(*row[:3], f"{megohms:g}", row[4]) for row in schedule_rows(found)]
    stated = {key: value for key, value in values.items() if value != ""}
    records = read_bytes(schedule_text(stated, rows, SCHEDULE).encode(), "panel.csv")
    assert [record.asset.between for record in records] == ["L-PE", "N-PE", "L-N"]
    for judged in evaluation(*records).records:
        assert (status_of(judged, entry.id) == Status.SOUND) == met


@pytest.mark.parametrize("name", ("step-voltage", "ramp"))
def test_the_sheet_of_a_rising_test_is_read_as_one(name: str) -> None:
    found = plan(replace(MOTOR, rated_voltage=13800.0), methods=(name,), hazardous_area="no")
    place = next(k for k, c in enumerate(found.connections) if c.methods == (name,))
    values, marks, columns = sheet_values(found, place)
    stated = {key: value for key, value in values.items() if value != ""}
    (rising,) = found.rising
    levels = rising.steps or tuple(1000.0 * k for k in range(1, 30))
    times = marks or tuple(60.0 * k for k in range(1, 30))
    text = sheet_text(stated, (), columns)
    rows = [f"{t:g},{v:g},{v / 5e9 * 1e6:.9g}," for t, v in zip(times, levels, strict=True)]
    (record,) = read_bytes((text + "\n".join(rows) + "\n").encode(), "sheet.csv")
    assert record.test.method == name
    assert record.test.ramp_rate == rising.rate
    assert tuple(step.voltage for step in record.test.steps) == rising.steps
    assert record.readings.voltage.tolist() == pytest.approx(list(levels))
