"""What a reader is told of a bad value: the line, the key, what was given, what is allowed, what to do."""

from __future__ import annotations

import pytest

from importing import MINIMAL, TABLE, faults_of, only_fault
from soakage.methods import words
from soakage.model.keys import KEYS

LINE = 4  # of the key under test, below the three of MINIMAL
# key, text, given as shown, a word of the problem, of the allowed, of the remedy
BAD: tuple[tuple[str, str, str, str, str, str], ...] = (
    ("rated_voltage", "6.6", "6.6", "Unit missing", "5 kV", "unit"),
    ("rated_voltage", "6.6 kg", "6.6 kg", "kg", "V", ""),
    ("rated_voltage", "-6.6 kV", "-6.6 kV", "above zero", "positive", "figure"),
    ("rated_voltage", "0 V", "0 V", "above zero", "positive", ""),
    ("rated_voltage", "> 6 kV", "> 6 kV", "bound", "figure with its unit", "Give the value"),
    ("rated_voltage", "six kV", "six kV", "", "", ""),
    ("rated_voltage", "1,500 V", "1,500 V", "1500 or as 1.5", "decimal mark", "1500"),
    ("test_voltage", "0 kV", "0 kV", "above zero", "positive", ""),
    ("test_voltage", "5 A", "5 A", "", "V", ""),
    ("nominal_voltage", "0 V", "0 V", "above zero", "positive", ""),
    ("current_limit", "0 mA", "0 mA", "above zero", "positive", ""),
    ("capacitance", "-1 uF", "-1 uF", "above zero", "positive", ""),
    ("capacitance", "0 F", "0 F", "above zero", "positive", ""),
    ("length", "0 m", "0 m", "above zero", "positive", ""),
    ("ramp_rate", "0 V/s", "0 V/s", "above zero", "positive", ""),
    ("hold", "0 s", "0 s", "above zero", "positive", ""),
    ("hold", "-60 s", "-60 s", "above zero", "positive", ""),
    ("rated_power", "-1 kW", "-1 kW", "above zero", "positive", ""),
    ("hours_out_of_service", "-3", "-3", "cannot be negative", "zero or above", "sign"),
    ("discharge_started", "-1 s", "-1 s", "cannot be negative", "zero or above", "sign"),
    ("ended_at", "-1 s", "-1 s", "cannot be negative", "zero or above", "sign"),
    ("winding_temperature", "-300 degC", "-300 degC", "absolute zero", "27.5 degC", "unit"),
    ("winding_temperature", "27.5", "27.5", "Unit missing", "degC", "unit"),
    ("ambient_temperature", "0 K", "0 K", "absolute zero", "27.5 degC", "unit"),
    ("relative_humidity", "101 %", "101 %", "100 %", "0 % to 100 %", "figure"),
    ("relative_humidity", "-1 %", "-1 %", "cannot be negative", "zero or above", "sign"),
    ("year", "04", "04", "no year", "2004", "four digits"),
    ("year", "1849", "1849", "no year", "2004", "four digits"),
    ("year", "2201", "2201", "no year", "2004", "four digits"),
    ("year", "2004.5", "2004.5", "no year", "2004", "four digits"),
    ("year", "about 1970", "about 1970", "no year", "2004", "four digits"),
    ("started", "14.3.2026", "14.3.2026", "year, month, day", "2026-03-14", "YYYY-MM-DD"),
    ("started", "2026-02-30", "2026-02-30", "no such date", "2026-03-14", "day and month"),
    ("started", "2026-03-14T25:00", "2026-03-14T25:00", "no such date", "2026-03-14", ""),
    ("started", "yesterday", "yesterday", "no date", "2026-03-14", "YYYY-MM-DD"),
    ("calibration_due", "2026-13-01", "2026-13-01", "no such date", "2026-03-14", "day and month"),
    ("calibration_due", "12/2026", "12/2026", "no date", "2026-03-14", "YYYY-MM-DD"),
    ("in_service_since", "1998", "1998", "no date", "2026-03-14", "YYYY-MM-DD"),
    ("hazardous_area", "maybe", "maybe", "word that is not known", "yes, no", ""),
    ("purpose", "maintenence", "maintenence", "not known", "acceptance, maintenance", "maintenance?"),
    ("winding", "wound", "wound", "not known", "form-wound, random-wound, field, armature", ""),
    ("neutral", "open", "open", "not known", "opened, closed", "opened?"),
    ("filling", "water", "water", "not known", "oil, ester, dry", ""),
    ("surface", "moist", "moist", "not known", "dry, damp, wet", ""),
    ("polarity", "minus", "minus", "not known", "negative, positive", ""),
    ("ended", "completed", "completed", "not known", "breakdown", "complete?"),
    ("thermal_class", "X", "X", "not known", "105, 120, 130, 155", ""),
    ("current", "3 uA", "3 uA", "not known", "ac, dc", ""),
    ("tested", '["U", "V"', '["U", "V"', "cannot be read", '["U", "V", "W"]', "brackets"),
    ("tested", '[["U"]]', '[["U"]]', "cannot be read", '["U", "V", "W"]', "brackets"),
    ("winding_voltages", '{H = "33 kV"', '{H = "33 kV"', "cannot be read", "", "brackets"),
    ("winding_voltages", '{H = "33 kV", H = "11 kV"}', '{H = "33 kV", H = "11 kV"}', "twice", "", ""),
    ("winding_voltages", '{H = "-33 kV"}', "-33 kV", "negative", "zero or above", "sign"),
    ("winding_voltages", "33 kV; 11 kV", "33 kV; 11 kV", "2 figures for 0 windings", "H =", "Name each"),
    ("steps", '[{at = "0 s"}]', '[{at = "0 s"}]', "both at and voltage", "at =", "missing"),
    ("steps", '[{from = "0 s", voltage = "1 kV"}]', "from", "no part", "at, voltage", "spelling"),
    ("steps", "1 kV", "1 kV", "parts named", "at =", "braces"),
    (
        "steps",
        '[{at = "60 s", voltage = "1 kV"}, {at = "0 s", voltage = "2 kV"}]',
        '[{at = "60 s", voltage = "1 kV"}, {at = "0 s", voltage = "2 kV"}]',
        "do not rise",
        "at =",
        "order",
    ),
    ("voltage_found", "30 V", "30 V", "Direct or alternating", 'dc = "30 V"', "which it is"),
    ("voltage_found", '{vdc = "30 V"}', "vdc", "no part", "dc, ac, frequency", "spelling"),
    ("voltage_found", '{dc = "30"}', "30", "Unit missing", "V", "unit"),
    ("previous_test", '{voltage = "1 kV"}', '{voltage = "1 kV"}', "lacks held, earthed", "held", "missing"),
    ("accuracy", '[{reading = "5"}]', "5", "", "", ""),
    ("accuracy", '[{error = "5 %"}]', "error", "no part", "range, reading, offset", "spelling"),
    ("asset", '"broken \\q"', '"broken \\q"', "escape", "text", "quotes"),
)
IDS = [f"{row[0]}-{row[1][:14]}" for row in BAD]


@pytest.mark.parametrize(("name", "text", "given", "problem", "allowed", "remedy"), BAD, ids=IDS)
def test_a_bad_value(name: str, text: str, given: str, problem: str, allowed: str, remedy: str) -> None:
    fault = only_fault(f"{MINIMAL}# {name} = {text}\n{TABLE}")
    assert fault.file == "test.csv"
    assert fault.row == LINE
    assert fault.field == name
    assert fault.given == given
    assert problem in fault.problem.replace("\u00a0", " ")
    assert allowed in fault.allowed.replace("\u00a0", " ")
    assert remedy in fault.remedy.replace("\u00a0", " ")


@pytest.mark.parametrize(("name", "text", "given", "problem", "allowed", "remedy"), BAD, ids=IDS)
def test_the_same_value_as_an_option(
    name: str, text: str, given: str, problem: str, allowed: str, remedy: str
) -> None:
    del allowed, remedy
    (fault,) = faults_of(MINIMAL + TABLE, **{name: text})
    assert fault.row is None
    assert fault.field == "--" + name.replace("_", "-")
    assert fault.given == given
    assert problem in fault.problem.replace("\u00a0", " ")


def test_all_of_them_are_told_at_once_each_with_its_line() -> None:
    once = {row[0]: row for row in BAD}
    header = "".join(f"# {name} = {row[1]}\n" for name, row in once.items())
    faults = faults_of(MINIMAL + header + TABLE)
    assert [fault.field for fault in sorted(faults, key=lambda fault: fault.row or 0)] == list(once)
    assert sorted(fault.row or 0 for fault in faults) == list(range(LINE, LINE + len(once)))


@pytest.mark.parametrize("name", [name for name in KEYS if words(KEYS[name])])
def test_every_word_that_is_allowed_is_shown(name: str) -> None:
    header = MINIMAL if name not in ("class", "method") else MINIMAL.replace(f"# {name} =", "# notes =")
    fault = only_fault(f"{header}# {name} = quite another\n{TABLE}")
    assert fault.allowed == ", ".join(words(KEYS[name]))


# ---- the table --------------------------------------------------------------------------------------------
CELLS: tuple[tuple[str, str, str, str, str], ...] = (
    # columns, row, field, problem, allowed
    ("time [s],resistance [MOhm]", "60,-5", "resistance", "cannot be negative", "zero or above"),
    ("time [s],resistance [MOhm]", "-60,5", "time", "before the voltage", "0 s or later"),
    ("time [s],resistance [MOhm]", "60,nan", "resistance", "no figure", "> 10 TOhm"),
    ("time [s],resistance [MOhm]", "60,inf", "resistance", "no figure", "empty cell"),
    ("time [s],resistance [MOhm]", "60,#DIV/0!", "resistance", "no figure", "empty cell"),
    ("time [s],resistance [MOhm]", "60,#N/A", "resistance", "no figure", "empty cell"),
    ("time [s],resistance [MOhm]", "60,∞", "resistance", "range is not given", "2.5 GOhm"),
    ("time [s],resistance [MOhm]", "> 60,5", "time", "bound", "a figure"),
    ("time [s],voltage [V],current [uA]", "60,> 5000,1", "voltage", "bound", "a figure"),
    ("time [s],resistance", "60,5", "resistance", "Unit missing", "Ohm"),
    ("time [s],resistance", "60,5 V", "resistance", "", "Ohm"),
    ("time [s],resistance [MOhm]", "1:75,5", "time", "", ""),
    ("time [s],resistance [MOhm]", "soon,5", "time", "", ""),
    ("time [s],voltage [V],current [uA]", "60,5000,five", "current", "", ""),
)


@pytest.mark.parametrize(("columns", "row", "field", "problem", "allowed"), CELLS, ids=[c[1] for c in CELLS])
def test_a_bad_cell_names_its_line_and_column(
    columns: str, row: str, field: str, problem: str, allowed: str
) -> None:
    good = ",".join("1" for _ in columns.split(","))
    if "resistance [" not in columns and "current" not in columns:
        good = "1,1 MOhm"
    fault = only_fault(f"{MINIMAL}{columns}\n{good}\n{row}\n")
    assert fault.row == 6
    assert fault.field == field
    assert problem in fault.problem
    assert allowed in fault.allowed.replace("Ω", "Ohm")
    assert fault.given


def test_bad_cells_are_told_at_once_and_in_order() -> None:
    rows = "".join(f"{10 * k},bad{k}\n" for k in range(1, 8))
    faults = faults_of(f"{MINIMAL}time [s],resistance [MOhm]\n{rows}")
    assert [fault.row for fault in faults] == list(range(5, 12))
    assert [fault.given for fault in faults] == [f"bad{k}" for k in range(1, 8)]


def test_beyond_five_hundred_they_are_counted() -> None:
    rows = "".join(f"{k},bad\n" for k in range(1, 602))
    faults = faults_of(f"{MINIMAL}time [s],resistance [MOhm]\n{rows}")
    assert len(faults) == 501
    assert faults[-1].problem == "101 more faults were found."


@pytest.mark.parametrize("letters", ("\x00", "\x1b[31m", "\u202e", "\ufeff", "\r"))
def test_nothing_that_cannot_be_printed_reaches_the_message(letters: str) -> None:
    fault = only_fault(f"{MINIMAL}# purpose = my{letters}word\n{TABLE}".replace("\r", "\x07"))
    assert all(letter.isprintable() or letter in "\u00a0\n" for letter in str(fault))


def test_a_long_value_is_shown_shortened() -> None:
    fault = only_fault(f"{MINIMAL}# purpose = {'x' * 300}\n{TABLE}")
    assert fault.given == "x" * 80 + "…"
