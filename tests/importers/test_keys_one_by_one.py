"""Every key of the record file read on its own: what it becomes in the record, in SI."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from importing import MINIMAL, TABLE, codes, read_one
from soakage.methods import methods
from soakage.model.keys import KEYS
from soakage.model.test import Accuracy, PreviousTest, Step, VoltageFound

EAST = timezone(timedelta(hours=2))
READ: tuple[tuple[str, str, Any], ...] = (
    ("permit", "PTW-17", "PTW-17"),
    ("gas_free_certificate", '"GF 118"', "GF 118"),
    ("hazardous_area", "yes", "yes"),
    ("hazardous_area", "no", "no"),
    ("hazardous_area", "TRUE", "yes"),
    ("report_number", "2026/14", "2026/14"),
    ("revision", "B", "B"),
    ("revision_reason", '"limit corrected"', "limit corrected"),
    ("licence_number", "0012", "0012"),
    ("work_order", "00451", "00451"),
    ("visit", "spring", "spring"),
    ("tested_by", "A. Tester", "A. Tester"),
    ("witnessed_by", "B. Witness", "B. Witness"),
    ("approved_by", "C. Reviewer", "C. Reviewer"),
    ("notes", '"cold, dry; fan off"', "cold, dry; fan off"),
    ("purpose", "acceptance", "acceptance"),
    ("purpose", "After repair", "after-repair"),
    ("purpose", "after_fault", "after-fault"),
    ("site", "North works", "North works"),
    ("asset", "Pump 3 motor", "Pump 3 motor"),
    ("tag", "M-301", "M-301"),
    ("serial", "0007", "0007"),
    ("section", "U", "U"),
    ("rated_voltage", "6.6 kV", 6600.0),
    ("rated_voltage", "400 V", 400.0),
    ("rated_voltage", '"6,6 kV"', 6600.0),
    ("rated_power", "900 kW", 900e3),
    ("rated_power", "10 MVA", 10e6),
    ("insulation", "thermosetting", "thermosetting"),
    ("insulation", "epoxy-mica", "epoxy-mica"),
    ("year", "2004", 2004),
    ("year", '"1971"', 1971),
    ("year", "2004.0", 2004),
    ("terminals", '["U1", "U2", "frame"]', ("U1", "U2", "frame")),
    ("terminals", "U, V, W, frame", ("U", "V", "W", "frame")),
    ("winding", "form-wound", "form-wound"),
    ("winding", "Random wound", "random-wound"),
    ("current", "dc", "dc"),
    ("thermal_class", "155", "155"),
    ("thermal_class", "F", "155"),
    ("neutral", "opened", "opened"),
    ("cooling", '"water with undried passages"', "water with undried passages"),
    ("filling", "oil", "oil"),
    ("connection", "Dyn11", "Dyn11"),
    ("winding_voltages", '{H = "33 kV", X = "11 kV"}', {"H": 33e3, "X": 11e3}),
    ("winding_powers", '{H = "10 MVA", X = "5 MVA"}', {"H": 10e6, "X": 5e6}),
    ("length", "2 km", 2000.0),
    ("length", "2000 ft", 609.6),
    ("conductor_diameter", "10 mm", 0.010),
    ("insulation_diameter", "1.8 cm", 0.018),
    ("cores", "L1, L2, L3", ("L1", "L2", "L3")),
    ("sheath_thickness", "2.5 mm", 0.0025),
    ("in_service_since", "1998-05-01", date(1998, 5, 1)),
    ("nominal_voltage", "230 V", 230.0),
    ("circuit", "Kitchen", "Kitchen"),
    ("between", "L-PE", "L-PE"),
    ("winding_temperature", "27.5 degC", 300.65),
    ("winding_temperature", "27,5 °C", 300.65),
    ("winding_temperature", "300.65 K", 300.65),
    ("winding_temperature", "-10 degC", 263.15),
    ("winding_temperature", "50 degF", 283.15),
    ("temperature_uncertainty", "2 K", 2.0),
    ("temperature_method", "embedded detector", "embedded detector"),
    ("ambient_temperature", "22 degC", 295.15),
    ("relative_humidity", "55 %", 0.55),
    ("relative_humidity", "0 %", 0.0),
    ("relative_humidity", "100 %", 1.0),
    ("surface", "damp", "damp"),
    ("hours_out_of_service", "36", 129600.0),
    ("hours_out_of_service", "2 h", 7200.0),
    ("hours_out_of_service", "30 min", 1800.0),
    ("hours_out_of_service", "0", 0.0),
    ("attached", '["cable", "surge capacitor"]', ("cable", "surge capacitor")),
    ("test_voltage", "5 kV", 5000.0),
    ("test_voltage", "5000 V", 5000.0),
    ("started", "2026-03-14T09:20:00+02:00", datetime(2026, 3, 14, 9, 20, tzinfo=EAST)),
    ("started", '"2026-03-14 09:20:00Z"', datetime(2026, 3, 14, 9, 20, tzinfo=UTC)),
    ("started", "2026-03-14", date(2026, 3, 14)),
    ("started", '"2026-03-14"', date(2026, 3, 14)),
    ("tested", '["U", "V"]', ("U", "V")),
    ("tested", "U,V", ("U", "V")),
    ("tested", "U; V", ("U", "V")),
    ("earthed", "frame", ("frame",)),
    ("guarded", '"W"', ("W",)),
    ("polarity", "negative", "negative"),
    (
        "steps",
        '[{at = "0 s", voltage = "1 kV"}, {at = "1 min", voltage = "2 kV"}]',
        (Step(0.0, 1000.0), Step(60.0, 2000.0)),
    ),
    ("hold", "60 s", 60.0),
    ("hold", "1 min", 60.0),
    ("ramp_rate", "1 kV/min", 1000.0 / 60.0),
    ("capacitance", "0.5 uF", 0.5e-6),
    ("capacitance", "250 nF", 250e-9),
    ("discharge_started", "1800 s", 1800.0),
    ("discharge_started", "30 min", 1800.0),
    ("voltage_found", '{dc = "12 V"}', VoltageFound(dc=12.0)),
    ("voltage_found", '{ac = "30 V", frequency = "50 Hz"}', VoltageFound(ac=30.0, frequency=50.0)),
    ("voltage_found", '{dc = "0 V", ac = "0 V"}', VoltageFound(dc=0.0, ac=0.0)),
    ("ended", "breakdown", "breakdown"),
    ("ended", "Tripped", "tripped"),
    ("ended_at", "480 s", 480.0),
    ("ended_at", "0 s", 0.0),
    ("ended_voltage", "8 kV", 8000.0),
    (
        "previous_test",
        '{voltage = "2.5 kV", held = "10 min", earthed = "2 h"}',
        PreviousTest(2500.0, 600.0, 7200.0),
    ),
    ("instrument", "Tester A", "Tester A"),
    ("instrument_serial", "000123", "000123"),
    ("calibration_due", "2026-12-31", date(2026, 12, 31)),
    ("current_limit", "3 mA", 3e-3),
    (
        "accuracy",
        '[{range = "10 GOhm", reading = "5 %", offset = "20 pA", resolution = "1 MOhm", timing = "0.5 s"}]',
        (Accuracy(1e10, 0.05, 20e-12, 1e6, 0.5),),
    ),
    (
        "accuracy",
        '[{range = "1 GOhm", reading = "5 %"}, {range = "1 TOhm", reading = "20 %"}]',
        (Accuracy(range=1e9, reading=0.05), Accuracy(range=1e12, reading=0.2)),
    ),
    ("accuracy", '{reading = "3 %"}', (Accuracy(reading=0.03),)),
)
STATED_ALREADY = ("class", "method")


def stated(name: str, text: str) -> Any:
    return read_one(f"{MINIMAL}# {name} = {text}\n{TABLE}").stated().get(name)


def plain(value: Any) -> Any:
    """Turn mappings and numbers into what approx compares."""
    if isinstance(value, float | int):
        return pytest.approx(value, rel=1e-12, abs=1e-15)
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    return value


@pytest.mark.parametrize(("name", "text", "value"), READ, ids=[f"{row[0]}-{row[1][:16]}" for row in READ])
def test_a_key_is_read_in_si(name: str, text: str, value: Any) -> None:
    found = stated(name, text)
    assert (dict(found) if isinstance(value, dict) else found) == plain(value)


def test_no_key_is_left_out_here() -> None:
    covered = {row[0] for row in READ} | {*STATED_ALREADY, "insulation_temperature"}
    assert covered == set(KEYS)


@pytest.mark.parametrize(("name", "text", "value"), READ, ids=[f"{row[0]}-{row[1][:16]}" for row in READ])
@pytest.mark.parametrize("spelling", ("upper", "hyphen", "space", "tight"))
def test_however_the_line_is_typed(name: str, text: str, value: Any, spelling: str) -> None:
    typed = {
        "upper": f"# {name.upper()} = {text}",
        "hyphen": f"# {name.replace('_', '-')} = {text}",
        "space": f"#   {name.replace('_', ' ')}   =   {text}  ",
        "tight": f"#{name}={text}",
    }[spelling]
    record = read_one(f"{MINIMAL}{typed}\n{TABLE}")
    assert "unknown_key" not in codes(record)
    found = record.stated().get(name)
    assert (dict(found) if isinstance(value, dict) else found) == plain(value)  # type: ignore[call-overload]


@pytest.mark.parametrize("class_", KEYS["class"].words)
def test_either_temperature_key_is_taken_for_any_class(class_: str) -> None:
    header = MINIMAL.replace("rotating-machine", class_)
    for name in ("winding_temperature", "insulation_temperature"):
        record = read_one(f"{header}# {name} = 27.5 degC\n{TABLE}")
        assert record.conditions.winding_temperature == pytest.approx(300.65)


@pytest.mark.parametrize("class_", KEYS["class"].words)
@pytest.mark.parametrize("method", methods())
def test_every_class_and_method_is_read(class_: str, method: str) -> None:
    table = TABLE.replace("uA", "nA")
    record = read_one(f"# soakage = 1\n# class = {class_}\n# method = {method}\n{table}")
    assert (record.asset.asset_class, record.test.method) == (class_, method)
    assert len(record.readings) == 4


def test_current_is_the_kind_of_machine_above_and_the_reading_below() -> None:
    record = read_one(f"{MINIMAL}# current = dc\n{TABLE}")
    assert record.asset.machine_current == "dc"
    assert record.readings.current[0] == pytest.approx(31.8e-6)


@pytest.mark.parametrize("text", ("", '""', "''", "[]", "{}", "   "))
@pytest.mark.parametrize(
    "name", ("tested", "rated_voltage", "year", "visit", "accuracy", "started", "purpose")
)
def test_an_empty_value_states_nothing(name: str, text: str) -> None:
    assert stated(name, text) is None


@pytest.mark.parametrize(
    "text", ("Grüße aus Łódź", "静電容量", "Ω", "naïve café", "a = b", "50 % & more", "it's", "🙂", "x" * 500)
)
def test_any_letters_stay_in_a_text(text: str) -> None:
    assert stated("notes", f'"{text}"') == text
    assert stated("asset", text) == text
