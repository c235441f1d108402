"""One record written in every way the format allows: the same record comes back."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from importing import codes, faults_of, read_one, without_origin
from soakage.model.record import Record

NAMES = {"comma": ",", "semicolon": ";", "tab": "\t"}
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le-mark", "utf-16-be-mark", "cp1252")
HEADER = (
    ("soakage", "1"),
    ("asset", "Pump 3 motor, left"),
    ("class", "rotating-machine"),
    ("rated_voltage", "6.6 kV"),
    ("year", "2004"),
    ("method", "polarization-index"),
    ("test_voltage", "5 kV"),
    ("winding_temperature", "27.5 °C"),
    ("tested", "U, V, W"),
    ("earthed", "frame"),
    ("notes", "Änderung: fan off"),
)
COLUMNS = ("time [s]", "voltage [V]", "current [µA]")
ROWS = ((15.0, 5003.0, 31.8), (30.0, 5002.5, 22.1), (60.0, 5001.0, 14.9), (600.0, 5001.0, 4.1))


def quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


def header_line(key: str, value: str, style: str, delimiter: str) -> str:
    """Write one header line as typed or as a spreadsheet saves it."""
    if style == "typed":
        return f"# {key} = {value}" if key == "tested" else f'# {key} = "{value}"'
    if style == "saved":  # the whole line in one cell, its quotes doubled, empty cells behind
        whole = f'# {key} = "{value}"' if key != "tested" else f"# {key} = {value}"
        return quoted(whole) + 2 * delimiter
    if style == "two cells":
        return f"# {key}{delimiter}{quoted(value) if delimiter in value else value}"
    if style == "trailing":
        return f'# {key} = "{value}"' + 2 * delimiter
    raise AssertionError(style)


def text_of(delimiter: str, style: str, *, decimal_comma: bool = False, ending: str = "\n") -> str:
    def cell(value: float) -> str:
        return f"{value:g}".replace(".", ",") if decimal_comma else f"{value:g}"

    lines = [header_line(key, value, style, delimiter) for key, value in HEADER]
    lines.append(delimiter.join(COLUMNS))
    lines += [delimiter.join(map(cell, row)) for row in ROWS]
    return ending.join(lines) + ending


def encoded(text: str, encoding: str) -> bytes:
    if encoding == "utf-16-le-mark":
        return b"\xff\xfe" + text.encode("utf-16-le")
    if encoding == "utf-16-be-mark":
        return b"\xfe\xff" + text.encode("utf-16-be")
    return text.encode(encoding)


def check(record: Record) -> None:
    asset, test = record.asset, record.test
    assert asset.name == "Pump 3 motor, left"
    assert (asset.asset_class, asset.rated_voltage, asset.year) == ("rotating-machine", 6600.0, 2004)
    assert (test.method, test.test_voltage) == ("polarization-index", 5000.0)
    assert (test.tested, test.earthed) == (("U", "V", "W"), ("frame",))
    assert record.conditions.winding_temperature == pytest.approx(300.65)
    assert record.paper.notes == "Änderung: fan off"
    np.testing.assert_allclose(record.readings.time, [row[0] for row in ROWS])
    np.testing.assert_allclose(record.readings.voltage, [row[1] for row in ROWS])
    np.testing.assert_allclose(record.readings.current, [row[2] * 1e-6 for row in ROWS])
    np.testing.assert_allclose(record.readings.resistance, [row[1] / row[2] * 1e6 for row in ROWS])
    assert not record.readings.bound.any()
    assert codes(record) == []


@pytest.mark.parametrize("style", ("typed", "saved", "two cells", "trailing"))
@pytest.mark.parametrize("delimiter", NAMES)
@pytest.mark.parametrize("encoding", ENCODINGS)
def test_headers_delimiters_and_letters(style: str, delimiter: str, encoding: str) -> None:
    check(read_one(encoded(text_of(NAMES[delimiter], style), encoding)))


@pytest.mark.parametrize("style", ("typed", "saved", "two cells", "trailing"))
@pytest.mark.parametrize("delimiter", ("semicolon", "tab"))
@pytest.mark.parametrize("ending", ("\n", "\r\n", "\r"))
def test_decimal_commas_and_line_ends(style: str, delimiter: str, ending: str) -> None:
    check(read_one(text_of(NAMES[delimiter], style, decimal_comma=True, ending=ending)))


@pytest.mark.parametrize(
    "order", ((0, 1, 2), (2, 1, 0), (1, 2, 0), (2, 0, 1)), ids=lambda order: "".join(map(str, order))
)
def test_columns_in_any_order(order: tuple[int, ...]) -> None:
    lines = [header_line(key, value, "typed", ",") for key, value in HEADER]
    lines.append(",".join(COLUMNS[k] for k in order))
    lines += [",".join(f"{row[k]:g}" for k in order) for row in ROWS]
    check(read_one("\n".join(lines)))


UNITS = {
    "voltage": (("V", 1.0), ("kV", 1e3), ("mV", 1e-3)),
    "current": (("A", 1.0), ("mA", 1e-3), ("uA", 1e-6), ("µA", 1e-6), ("μA", 1e-6), ("nA", 1e-9), ("pA", 1e-12)),
    "time": (("s", 1.0), ("min", 60.0)),
    "resistance": (
        ("Ohm", 1.0), ("ohm", 1.0), ("Ω", 1.0), ("\u2126", 1.0), ("kOhm", 1e3), ("MOhm", 1e6), ("MΩ", 1e6),
        ("GOhm", 1e9), ("GΩ", 1e9), ("TOhm", 1e12), ("TΩ", 1e12),
    ),
}  # fmt: skip
SHORT = "# soakage = 1\n# class = apparatus\n# method = timed-insulation-resistance\n# test_voltage = 1 kV\n"


@pytest.mark.parametrize(("unit", "size"), UNITS["resistance"])
@pytest.mark.parametrize("brackets", ("[{}]", "({})", "/ {}", "{}"))
def test_units_of_a_resistance(unit: str, size: float, brackets: str) -> None:
    in_heading = brackets != "{}"
    heading = f"resistance {brackets.format(unit)}" if in_heading else "resistance"
    cell = "2.5" if in_heading else f"2.5 {unit}"
    record = read_one(f"{SHORT}time [s],{heading}\n60,{cell}\n")
    assert record.readings.resistance[0] == pytest.approx(2.5 * size, rel=1e-12)


@pytest.mark.parametrize(("first", "second"), tuple(product(UNITS["voltage"], UNITS["current"])))
def test_units_of_voltage_and_current(first: tuple[str, float], second: tuple[str, float]) -> None:
    volts, amperes = 5000 / first[1], 2e-6 / second[1]
    head = f"time [s],voltage [{first[0]}],current [{second[0]}]"
    record = read_one(f"{SHORT}{head}\n60,{volts:.12g},{amperes:.12g}\n")
    assert record.readings.resistance[0] == pytest.approx(2.5e9, rel=1e-9)


@pytest.mark.parametrize(
    ("cell", "seconds"),
    (
        ("60", 60.0), ("0:15", 15.0), ("1:00", 60.0), ("3:10", 190.0), ("10:00", 600.0), ("90:00", 5400.0),
        ("0:10:00", 600.0), ("1:00:00", 3600.0), ("1:30:30", 5430.0), ("60 s", 60.0), ("1 min", 60.0),
        ("0.5 h", 1800.0), ("0", 0.0), ("7.5", 7.5),
    ),
)  # fmt: skip
def test_times_in_seconds_or_with_colons(cell: str, seconds: float) -> None:
    record = read_one(f"{SHORT}time,resistance [MOhm]\n{cell},5\n")
    assert record.readings.time[0] == pytest.approx(seconds)


# A bound of the resistance by its cell: value [ohm] and kind (+1 at or above, -1 at or below).
BOUNDS = (
    ("> 10 TOhm", 1e13, 1), (">10TOhm", 1e13, 1), (">= 10 TΩ", 1e13, 1), ("≥ 10 TΩ", 1e13, 1),
    ("< 0.1 MOhm", 1e5, -1), ("<= 0.1 MOhm", 1e5, -1), ("≤ 100 kΩ", 1e5, -1), ("0.00 MOhm", 1e4, -1),
    ("0.0 GOhm", 1e8, -1), ("0 MOhm", 1e6, -1), ("0 kOhm", 1e3, -1), ("0.000 GOhm", 1e6, -1),
    ("10 TOhm", 1e13, 0), ("0.1 MOhm", 1e5, 0),
)  # fmt: skip


@pytest.mark.parametrize(("cell", "value", "bound"), BOUNDS)
def test_bounds_of_a_resistance(cell: str, value: float, bound: int) -> None:
    record = read_one(f"{SHORT}time [s],resistance\n60,{cell}\n")
    assert record.readings.resistance[0] == pytest.approx(value, rel=1e-9)
    assert record.readings.bound[0] == bound
    assert math.isfinite(record.readings.current[0])


@pytest.mark.parametrize(("cell", "value", "bound"), BOUNDS)
def test_a_bound_with_a_decimal_comma(cell: str, value: float, bound: int) -> None:
    record = read_one(f"{SHORT}time [s];resistance\n60;{cell.replace('.', ',')}\n")
    assert record.readings.resistance[0] == pytest.approx(value, rel=1e-9)
    assert record.readings.bound[0] == bound


@given(st.floats(1e-3, 9e5), st.sampled_from((1, 0, -1)), st.integers(1, 3000))
def test_a_bound_of_the_current_turns_over(amount: float, kind: int, volts: int) -> None:
    sign = {1: "> ", 0: "", -1: "< "}[kind]
    record = read_one(f"{SHORT}time [s],voltage [V],current [nA]\n60,{volts},{sign}{amount:.9g}\n")
    assert record.readings.bound[0] == -kind
    assert record.readings.resistance[0] == pytest.approx(volts / (amount * 1e-9), rel=1e-8)


@given(
    st.lists(st.tuples(st.floats(1.0, 1e4), st.floats(0.1, 1e6)), min_size=1, max_size=12),
    st.sampled_from((",", ";", "\t")),
)
def test_any_rows_are_the_same_whatever_parts_them(rows: list[tuple[float, float]], delimiter: str) -> None:
    lines = [f"{60 * k}{delimiter}{v:.9g}{delimiter}{i:.9g}" for k, (v, i) in enumerate(rows, start=1)]
    head = delimiter.join(("time [s]", "voltage [V]", "current [nA]"))
    record = read_one(SHORT + "\n".join([head, *lines]) + "\n")
    np.testing.assert_allclose(record.readings.voltage, [v for v, _ in rows], rtol=1e-8)
    np.testing.assert_allclose(record.readings.current, [i * 1e-9 for _, i in rows], rtol=1e-8)
    plain = read_one(SHORT + "\n".join([head, *lines]).replace(delimiter, ",") + "\n")
    assert without_origin(plain) == without_origin(record)


@pytest.mark.parametrize("delimiter", NAMES.values())
@pytest.mark.parametrize("text", ("1,500 V", "12,000 V", "999,999 V"))
def test_a_grouping_comma_is_never_guessed(delimiter: str, text: str) -> None:
    body = delimiter.join(("time [s]", "resistance [MOhm]")) + f"\n60{delimiter}5\n"
    (fault,) = faults_of(SHORT.replace("1 kV", text) + body)
    assert fault.field == "test_voltage"
    assert fault.given == text
    assert "can be read as" in fault.problem
