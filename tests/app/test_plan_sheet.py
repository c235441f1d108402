"""Sheets of a plan: what is filled in already, the rows that wait, and that the reader takes them back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakage.app.plan import plan
from soakage.app.plan_sheet import COLUMNS, SCHEDULE, schedule_rows, sheet_names, sheet_values
from soakage.errors import UsageError
from soakage.importers.record_file import read
from soakage.importers.write_record import sheet_text
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.test import Step
from soakage.units import parse

MOTOR = Asset(
    site="Alder Mill", name="Feed pump 2 motor", asset_class="rotating-machine", rated_voltage=6600.0,
    winding="form-wound", insulation="epoxy-mica", thermal_class="155", year=2004,
)  # fmt: skip
TRANSFORMER = Asset(
    name="T1", asset_class="transformer", filling="oil", winding_voltages={"H": 11e3, "L": 433.0}
)
PANEL = Asset(name="P4", asset_class="low-voltage-installation", nominal_voltage=230.0, circuit="C1")


def test_the_header_holds_what_is_known() -> None:
    values, marks, columns = sheet_values(plan(MOTOR, purpose="maintenance", capacitance=88e-9), 0)
    assert values["class"] == "rotating-machine"
    assert values["rated_voltage"] == "6.6 kV"
    assert values["test_voltage"] == "5 kV"
    assert values["method"] == "polarization-index"
    assert values["tested"] == ["U"]
    assert values["earthed"] == ["V", "W", "frame"]
    assert values["polarity"] == "negative"
    assert values["capacitance"] == "88 nF"
    assert values["purpose"] == "maintenance"
    assert values["year"] == "2004"
    assert marks == (15.0, 30.0, 60.0, 190.0, 300.0, 600.0)
    assert columns == COLUMNS


def test_what_is_found_on_the_day_waits_as_an_open_key() -> None:
    values, _, _ = sheet_values(plan(MOTOR), 0)
    waiting = [name for name, value in values.items() if value == ""]
    assert {"permit", "tested_by", "started", "winding_temperature", "relative_humidity"} <= set(waiting)
    assert "insulation_temperature" in sheet_values(plan(TRANSFORMER), 0)[0]


@pytest.mark.parametrize("index", (0, 1, 2))
def test_every_key_is_one_of_the_record_file(index: int) -> None:
    values, _, _ = sheet_values(plan(MOTOR), index)
    assert set(values) <= set(KEYS)


def test_a_winding_of_the_set_stays_in_the_set() -> None:
    found = plan(TRANSFORMER)
    sheets = [sheet_values(found, place) for place in range(len(found.connections))]
    named = [(values["method"], values["tested"], values["test_voltage"]) for values, _, _ in sheets]
    assert named == [
        ("terminal-set", ["H"], "1 kV"),
        ("terminal-set", ["L"], "1 kV"),
        ("terminal-set", ["H", "L"], "1 kV"),
        ("polarization-index", ["H"], "5 kV"),
    ]
    assert sheets[1][1][-1] == 600.0, "ten minutes on the low-voltage winding alone"
    assert sheets[2][1] == (60.0,)
    assert sheets[0][0]["winding_voltages"] == {"H": "11 kV", "L": "433 V"}


def test_steps_stand_in_the_header_and_the_rows_at_their_ends() -> None:
    found = plan(replace(MOTOR, rated_voltage=13800.0), methods=("step-voltage",))
    values, marks, _ = sheet_values(found, 3)
    assert values["method"] == "step-voltage"
    assert [parse(step["at"], "time").value for step in values["steps"]] == [0.0, 60.0, 120.0, 180.0, 240.0]
    assert marks == (60.0, 120.0, 180.0, 240.0, 300.0)


def test_the_ramp_states_its_rate() -> None:
    values, marks, _ = sheet_values(plan(replace(MOTOR, rated_voltage=13800.0), methods=("ramp",)), 3)
    assert "1 kV/min" in values["ramp_rate"].replace("1000 V", "1 kV")
    assert marks == ()


def test_the_discharge_follows_the_charge() -> None:
    # Charge for 30 min, read one minute into the short circuit (memory).
    values, marks, _ = sheet_values(plan(MOTOR, methods=("dielectric-discharge",)), 0)
    assert values["discharge_started"] in ("1800 s", "30 min")
    assert marks == (60.0, 600.0, 1860.0)


def test_a_schedule_has_a_row_for_each_pair() -> None:
    found = plan(PANEL)
    values, marks, columns = sheet_values(found, 0)
    assert columns == SCHEDULE
    assert marks == ()
    assert "tested" not in values
    assert schedule_rows(found) == (
        ("C1", "L-PE", "500", "", ""),
        ("C1", "N-PE", "500", "", ""),
        ("C1", "L-N", "500", "", ""),
    )
    assert schedule_rows(plan(MOTOR)) == ()


@pytest.mark.parametrize(
    ("asset", "name", "expected"),
    (
        (MOTOR, "sheet.csv", ("sheet-U.csv", "sheet-V.csv", "sheet-W.csv")),
        (replace(MOTOR, neutral="closed"), "sheet.csv", ("sheet.csv",)),
        (PANEL, "panel.csv", ("panel.csv",)),
        (
            TRANSFORMER,
            "t1.csv",
            ("t1-H-terminal-set.csv", "t1-L.csv", "t1-H+L.csv", "t1-H-polarization-index.csv"),
        ),
        (MOTOR, "sheet", ("sheet-U", "sheet-V", "sheet-W")),
    ),
)
def test_names(asset: Asset, name: str, expected: tuple[str, ...]) -> None:
    found = sheet_names(plan(asset), name)
    assert found == expected
    assert len(set(found)) == len(found)


def test_no_name_holds_a_path_of_a_terminal() -> None:
    odd = replace(MOTOR, terminals=("../up", "a/b", "frame"))
    assert not any("/" in name for name in sheet_names(plan(odd), "sheet.csv"))


def test_a_refused_plan_has_no_sheet() -> None:
    with pytest.raises(UsageError, match="gas-free"):
        sheet_values(plan(MOTOR, hazardous_area="yes"), 0)


@pytest.mark.parametrize("index", (-1, 3))
def test_a_connection_that_is_not_there(index: int) -> None:
    with pytest.raises(UsageError, match="no connection"):
        sheet_values(plan(MOTOR), index)


@pytest.mark.parametrize(
    ("asset", "methods"),
    (
        (MOTOR, ()),
        (replace(MOTOR, rated_voltage=13800.0), ("step-voltage",)),
        (TRANSFORMER, ()),
        (Asset(asset_class="cable", rated_voltage=15e3, length=600.0, cores=("L1", "L2")), ()),
        (Asset(asset_class="switchgear", rated_voltage=12e3), ()),
    ),
)
def test_a_filled_sheet_is_read_back_as_planned(asset: Asset, methods: tuple[str, ...]) -> None:
    found = plan(asset, methods=methods, hazardous_area="no")
    for place, connection in enumerate(found.connections):
        values, marks, columns = sheet_values(found, place)
        lines = sheet_text(values, marks, columns).rstrip("\n").split("\n")
        first = len(lines) - len(marks)
        volts = f"{connection.voltage:g}"
        rows = [line.split(",")[0] + f",{volts},1.5," for line in lines[first:]]
        text = "\n".join([*(line for line in lines[:first] if not line.endswith(" =")), *rows]) + "\n"
        (record,) = read(text.encode(), "sheet.csv", {})
        assert record.test.tested == connection.tested
        assert record.test.earthed == connection.earthed
        assert record.test.test_voltage == connection.voltage
        assert record.asset.rated_voltage == asset.rated_voltage
        assert record.asset.winding_voltages == asset.winding_voltages
        assert record.readings.time.tolist() == list(marks)
        if record.test.method == "step-voltage":
            assert record.test.steps[0] == Step(0.0, found.rising[0].steps[0])
