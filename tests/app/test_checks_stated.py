"""Each check on what the record states: one record that raises it and one just off it."""

from __future__ import annotations

import pytest

from typed import CIRCUIT, MACHINE, SWITCHGEAR, by, codes, judged, machine, said, spot, status

SPOT = {**MACHINE, "method": "insulation-resistance"}


def found(**keys: str | None) -> set[str]:
    return codes(judged(spot({**SPOT, **keys}, "500 MOhm")))


def verdict(**keys: str | None) -> str:
    return status(spot({**SPOT, **keys}, "500 MOhm"))


# ---- voltage found: 25 V ac (EN 50191:2010, read) or 50 V dc (NFPA 70E-2021, memory), the stricter of both named
@pytest.mark.parametrize(
    ("table", "raised"),
    (
        ('{ac = "25 V", frequency = "50 Hz"}', False), ('{ac = "25.1 V", frequency = "50 Hz"}', True),
        ('{dc = "50 V"}', False), ('{dc = "50.1 V"}', True), ('{dc = "30 V"}', False), ('{ac = "0 V"}', False),
    ),
)  # fmt: skip
def test_voltage_found(table: str, raised: bool) -> None:
    evaluated = judged(spot({**SPOT, "voltage_found": table}, "500 MOhm"))
    assert ("voltage_found" in codes(evaluated)) == raised
    assert evaluated.verdict.status == ("investigate" if raised else "sound")
    if raised:
        assert "EN 50191" in said(evaluated, "voltage_found")
        assert "NFPA 70E" in said(evaluated, "voltage_found")


def test_voltage_found_never_covers_a_breach() -> None:
    assert status(spot({**SPOT, "voltage_found": '{ac = "230 V"}'}, "50 MOhm")) == "unfit"


# ---- dew point: M11 (derived, Magnus): 25 degC and 60 % give 16.69 degC
@pytest.mark.parametrize(
    ("temperature", "raised"), (("16 degC", True), ("16.6 degC", True), ("16.8 degC", False))
)
def test_at_or_below_the_dew_point(temperature: str, raised: bool) -> None:
    air = {"ambient_temperature": "25 degC", "relative_humidity": "60 %", "winding_temperature": temperature}
    evaluated = judged(spot({**SPOT, **air}, "500 MOhm"))
    assert evaluated.quantities["dew_point"].value == pytest.approx(273.15 + 16.69, abs=0.01)
    assert ("below_dew_point" in codes(evaluated)) == raised
    assert evaluated.verdict.status == ("investigate" if raised else "sound")


def test_published_dew_point_of_moist_air() -> None:
    # 25 (secondary, a thermodynamics textbook): 30 degC and 60 % give 21.4 degC by steam table, 21.39 by Magnus
    air = {"ambient_temperature": "30 degC", "relative_humidity": "60 %"}
    value = judged(spot({**SPOT, **air}, "500 MOhm")).quantities["dew_point"].value
    assert value == pytest.approx(273.15 + 21.39, abs=0.01)


@pytest.mark.parametrize("key", ("ambient_temperature", "relative_humidity"))
def test_without_air_temperature_or_humidity_the_dew_point_is_not_known(key: str) -> None:
    assert "humidity_missing" in found(**{key: None})
    assert "humidity_missing" not in found()
    assert "dew_point" not in judged(spot({**SPOT, key: None}, "500 MOhm")).quantities
    assert verdict(**{key: None}) == "sound", "it only informs"


def test_temperature_missing() -> None:
    assert "temperature_missing" in found(winding_temperature=None)
    assert "temperature_missing" not in found()
    assert "temperature_missing" not in found(winding_temperature=None, insulation_temperature="40 degC")


# ---- instrument
@pytest.mark.parametrize(
    ("due", "raised"), (("2026-03-13", True), ("2026-03-14", False), ("2027-01-01", False))
)
def test_a_calibration_that_ran_out_before_the_test(due: str, raised: bool) -> None:
    keys = {"calibration_due": due, "started": "2026-03-14T09:20:00+02:00"}
    assert ("calibration_expired" in found(**keys)) == raised
    assert verdict(**keys) == ("watch" if raised else "sound")
    assert "calibration_expired" not in found(calibration_due=due), "no day of the test, nothing to compare"


# ---- an earlier test: earthed at least four times the time under voltage (memory)
@pytest.mark.parametrize(("earthed", "raised"), (("39 min", True), ("40 min", False), ("2 h", False)))
def test_residual_charge_of_the_test_before(earthed: str, raised: bool) -> None:
    table = f'{{voltage = "5 kV", held = "10 min", earthed = "{earthed}"}}'
    assert ("residual_discharge" in found(previous_test=table)) == raised
    assert verdict(previous_test=table) == ("investigate" if raised else "sound")


# ---- terminals
def test_terminals_not_given() -> None:
    assert "terminals_not_given" in found(tested=None, earthed=None)
    assert verdict(tested=None, earthed=None) == "sound"
    assert "terminals_not_given" not in found()


def test_floating_terminals_are_named_one_by_one() -> None:
    keys = {"terminals": "U, V, W, frame, RTD", "tested": "U, V, W", "earthed": "frame"}
    assert "RTD" in said(judged(spot({**SPOT, **keys}, "500 MOhm")), "terminal_floating")
    assert verdict(**keys) == "watch"
    assert "terminal_floating" not in found(**{**keys, "earthed": "frame, RTD"})
    assert "terminal_floating" not in found(**{**keys, "guarded": "rtd"})


def test_parts_that_are_unclear() -> None:
    assert "winding_part_unclear" in found(tested="U", earthed="frame")
    assert "winding_part_unclear" in found(tested="U", earthed="V, frame", terminals="U, V, W, frame")
    assert "winding_part_unclear" not in found(tested="U", earthed="V, W, frame")
    assert "winding_part_unclear" not in found(tested="U, V, W")


# ---- how it ended
@pytest.mark.parametrize(
    ("ended", "code", "expected"),
    (
        (None, None, "sound"), ("complete", None, "sound"), ("stopped", "stopped", "sound"),
        ("tripped", "tripped", "investigate"), ("breakdown", "broke_down", "unfit"),
        ("flashover", "flashed_over", "unfit"),
    ),
)  # fmt: skip
def test_how_the_test_ended(ended: str | None, code: str | None, expected: str) -> None:
    endings = {"broke_down", "flashed_over", "tripped", "stopped"}
    assert found(ended=ended) & endings == ({code} if code else set())
    assert verdict(ended=ended) == expected


@pytest.mark.parametrize("ended", ("breakdown", "flashover"))
@pytest.mark.parametrize("resistance", ("900 MOhm", "> 10 TOhm", "0.00 MOhm"))
def test_a_breakdown_is_unfit_whatever_was_read(ended: str, resistance: str) -> None:
    keys = {
        **SPOT,
        "ended": ended,
        "ended_at": "45 s",
        "ended_voltage": "4.2 kV",
        "winding_temperature": None,
    }
    evaluated = judged(spot(keys, resistance))
    assert evaluated.verdict.status == "unfit"
    assert "4.20" in evaluated.verdict.sentence
    assert "45" in evaluated.verdict.sentence
    assert "Do not energise" in evaluated.verdict.actions[0]


def test_a_trip_hides_no_breach() -> None:
    assert status(spot({**SPOT, "ended": "tripped"}, "50 MOhm")) == "unfit"


def test_a_breakdown_without_voltage_is_a_breakdown() -> None:
    assert status(machine(500, volts=20, ended="breakdown")) == "unfit"


# ---- surfaces
@pytest.mark.parametrize(
    ("surface", "raised"), (("dry", False), ("damp", True), ("wet", True), (None, False))
)
def test_surfaces_that_are_not_dry(surface: str | None, raised: bool) -> None:
    assert ("surface_not_dry" in found(surface=surface)) == raised
    assert verdict(surface=surface) == ("watch" if raised else "sound")
    assert status(spot({**SPOT, "surface": surface}, "50 MOhm")) == "unfit"


# ---- test voltage of steps and ramps: 1.7 times 1.25 to 1.5 E (secondary); 6.6 kV: 14.0 to 16.8 kV
@pytest.mark.parametrize(
    ("top", "code"), ((16.8, None), (10.0, None), (16.9, None), (17.1, "test_voltage_above_table"))
)
def test_a_step_test_is_held_against_the_overvoltage_rule(top: float, code: str | None) -> None:
    from typed import typed

    rows = [(60 * k, 1000 * top * k / 4, k) for k in range(1, 5)]
    evaluated = judged(
        typed({**MACHINE, "method": "step-voltage"}, rows, "time [s],voltage [V],current [uA]")
    )
    found_codes = codes(evaluated) & {"test_voltage_above_table", "test_voltage_below_table"}
    assert found_codes == ({code} if code else set())


def test_apparatus_and_circuits() -> None:
    assert "test_voltage_below_table" in codes(judged(spot({**SWITCHGEAR, "test_voltage": "1 kV"}, "9 GOhm")))
    assert "test_voltage_below_table" not in codes(judged(spot(SWITCHGEAR, "9 GOhm")))
    quiet = {"temperature_missing", "humidity_missing", "terminals_not_given"}
    assert codes(judged(spot(CIRCUIT, "5 MOhm"))) & quiet == set()


def test_correction_out_of_range_is_a_finding_and_not_judged() -> None:
    evaluated = judged(spot({**SPOT, "winding_temperature": "95 degC"}, "500 MOhm"))
    assert "correction_out_of_range" in codes(evaluated)
    assert by(evaluated, "ieee-43-2013.minimum").status == "not judged"


def test_findings_stand_worst_first() -> None:
    keys = {**SPOT, "ended": "breakdown", "surface": "wet", "voltage_found": '{ac = "230 V"}'}
    rungs = [f.status.rung if f.status else -1 for f in judged(spot(keys, "500 MOhm")).findings]
    assert rungs == sorted(rungs, reverse=True)
    assert rungs[:3] == [3, 2, 1]
