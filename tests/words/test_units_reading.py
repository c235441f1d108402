"""Bounds, zeros, over-range, decimal marks and cells; what could be two figures is refused with both.

The rules for bounds, zeros and decimal marks are those of our own record file. Written forms: common
practice, no source.
"""

from __future__ import annotations

import pytest

from soakage.errors import QuantityError, UsageError
from soakage.units import Bound, Measured, Unit, celsius, kelvin, parse, parse_cell, unit


@pytest.mark.parametrize(
    ("text", "value", "bound"),
    (
        ("> 10 T\u03a9", 10e12, Bound.LOWER),
        (">10T\u03a9", 10e12, Bound.LOWER),
        (">= 10 TOhm", 10e12, Bound.LOWER),
        ("\u226510 TOhm", 10e12, Bound.LOWER),
        ("=> 10 TOhm", 10e12, Bound.LOWER),
        ("< 0.1 M\u03a9", 1e5, Bound.UPPER),
        ("<0,1M", 1e5, Bound.UPPER),
        ("\u2264 0.1 MOhm", 1e5, Bound.UPPER),
        ("<= 0.1 MOhm", 1e5, Bound.UPPER),
        ("> 0 MOhm", 0.0, Bound.LOWER),
    ),
)
def test_sign_makes_a_bound(text: str, value: float, bound: Bound) -> None:
    assert parse(text, "resistance") == Measured(value, bound)


@pytest.mark.parametrize(
    ("text", "below"),
    (
        ("0.00 M\u03a9", 0.01e6),
        ("0,00 M\u03a9", 0.01e6),
        ("0 M\u03a9", 1e6),
        ("0.0 kOhm", 100.0),
        ("0 ohm", 1.0),
        ("-0.0 kOhm", 100.0),
        ("< 0 MOhm", 1e6),
        ("0.0E3 ohm", 100.0),
    ),
)
def test_resistance_of_zero_is_below_one_of_its_last_digit(text: str, below: float) -> None:
    assert parse(text, "resistance") == Measured(below, Bound.UPPER)


def test_zero_of_a_bare_cell_is_below_one_of_the_heading_unit() -> None:
    assert parse_cell("0", unit("MOhm", "resistance")) == Measured(1e6, Bound.UPPER)
    assert parse_cell("0.00", unit("GOhm", "resistance")) == Measured(1e7, Bound.UPPER)
    assert parse_cell("0", unit("uA", "current")) == Measured(0.0)


OVER_RANGES = (
    "OL",
    "O.L",
    "+OL",
    "0L",
    "0.L",
    "ol",
    "over range",
    "overrange",
    "Over-Range",
    "\u221e",
    "inf",
    "OL M\u03a9",
    ">OL",
)


@pytest.mark.parametrize("text", OVER_RANGES)
def test_over_range_needs_its_range(text: str) -> None:
    assert parse(text, "resistance", full_scale=10e12) == Measured(10e12, Bound.LOWER)
    with pytest.raises(QuantityError, match="range is not given") as caught:
        parse(text, "resistance")
    assert caught.value.given == text


@pytest.mark.parametrize("text", ("OL V", "-OL", "OL 5 GOhm", "< OL", "overcast", "only"))
def test_what_is_no_over_range_is_refused_even_with_a_range(text: str) -> None:
    with pytest.raises(QuantityError):
        parse(text, "resistance", full_scale=10e12)


@pytest.mark.parametrize(
    ("text", "dimension", "first", "second"),
    (
        ("1,500 V", "voltage", "1500", "1.500"),
        ("-1,500 V", "voltage", "1500", "1.500"),
        ("12,345 nA", "current", "12345", "12.345"),
        ("5 MA", "current", "5 megaampere", "5 mA"),
        ("5 Ma", "current", "5 megaampere", "5 mA"),
        ("5 MF", "capacitance", "5 megafarad", "5 \u00b5F"),
        ("2G5", "resistance", "2.5 G", "25 G"),
        ("4k7", "resistance", "4.7 k", "47 k"),
    ),
)
def test_two_readings_are_both_shown(text: str, dimension: str, first: str, second: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert first in caught.value.problem
    assert second in caught.value.problem
    assert caught.value.given == text
    assert caught.value.allowed
    assert caught.value.remedy


# text, then what it is when the decimal comma is not known, known, known not to be; None: refused.
MARKS: list[tuple[str, float | None, float | None, float | None]] = [
    ("12,5", 12.5, 12.5, None),
    ("12.5", 12.5, 12.5, 12.5),
    ("1,500", None, 1.5, 1500.0),
    ("1.500", 1.5, None, 1.5),
    ("0,500", 0.5, 0.5, None),
    ("0.500", 0.5, 0.5, 0.5),
    ("1234,567", 1234.567, 1234.567, None),
    ("1,234,567", 1234567.0, None, 1234567.0),
    ("1.234.567", 1234567.0, 1234567.0, None),
    ("1.500,5", 1500.5, 1500.5, None),
    ("1,500.5", 1500.5, None, 1500.5),
    ("1.234.567,89", 1234567.89, 1234567.89, None),
    ("1 500,5", 1500.5, 1500.5, None),
    ("1 500,500", 1500.5, 1500.5, None),
    ("1 500.5", 1500.5, 1500.5, 1500.5),
    ("1,5E3", 1500.0, 1500.0, None),
    ("1,234E3", 1234.0, 1234.0, None),
    ("1.234E3", 1234.0, 1234.0, 1234.0),
    ("1,23,456", None, None, None),
    ("1.5.2026", None, None, None),
    ("12,34,5.6", None, None, None),
    ("1 500.500,5", None, None, None),
    ("1.,5", None, None, None),
]


@pytest.mark.parametrize(("text", "unknown", "comma", "point"), MARKS)
def test_decimal_mark(text: str, unknown: float | None, comma: float | None, point: float | None) -> None:
    heading = unit("V", "voltage")
    for known, value in ((None, unknown), (True, comma), (False, point)):
        if value is None:
            with pytest.raises(QuantityError):
                parse(text, "number", decimal_comma=known)
            with pytest.raises(QuantityError):
                parse_cell(text, heading, decimal_comma=known)
        else:
            assert parse(text, "number", decimal_comma=known) == Measured(value)
            assert parse_cell(text, heading, decimal_comma=known) == Measured(value)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    (
        ("5 kV", "current", "measures voltage, not current"),
        ("5 nA", "voltage", "measures current, not voltage"),
        ("5 kV", "resistance", "measures voltage"),
        ("5 m", "voltage", "measures length"),
        ("5 min", "voltage", "measures time"),
        ("5 mA/(V F)", "current", "measures dielectric discharge"),
        ("5 furlongs", "length", "not known"),
        ("400 V AC", "voltage", "not known"),
        ("5 PV", "voltage", "not known"),
        ("5 mOHM m", "resistance", "measures resistivity"),
        ("5", "voltage", "Unit missing"),
        ("55", "humidity", "Unit missing"),
        ("0.05", "fraction", "Unit missing"),
        ("20", "temperature", "Unit missing"),
        ("", "voltage", "No figure"),
        ("kV", "voltage", "No figure"),
        ("about 5 kV", "voltage", "No figure"),
        ("5-10 kV", "voltage", "not known"),
        ("5 \u00b1 1 kV", "voltage", "not known"),
        ("1:75", "time", "60"),
        ("1:60:00", "time", "60"),
        ("1:5", "time", "not known"),
        ("30 s 1 min", "time", "not known"),
        ("1 min 1 min", "time", "not known"),
        ("1e999 V", "voltage", "Too large"),
        ("1e-999 ohm", "resistance", "too small"),
        ("9" * 300, "voltage", "Too long"),
        ("1_000 V", "voltage", "not known"),
        ("\u0661\u0662 V", "voltage", "No figure"),
    ),
)
def test_refusal_says_why(text: str, dimension: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words) as caught:
        parse(text, dimension)
    fault = caught.value.fault("record.csv", 7, "test_voltage")
    assert (fault.file, fault.row, fault.field) == ("record.csv", 7, "test_voltage")
    assert all((fault.problem, fault.allowed, fault.remedy))


def test_case_of_a_prefix_is_kept() -> None:
    assert parse("5 MV", "voltage").value / parse("5 mV", "voltage").value == pytest.approx(1e9)
    assert parse("5 Mohm", "resistance").value / parse("5 mohm", "resistance").value == pytest.approx(1e9)


def test_default_unit_serves_only_a_bare_figure() -> None:
    assert parse("31.8", "current", default_unit="uA") == Measured(31.8e-6)
    assert parse("31.8 nA", "current", default_unit="uA") == Measured(31.8e-9)
    assert parse("2", "time", default_unit="h") == Measured(7200.0)
    assert parse("0.05", "fraction", default_unit="1") == Measured(0.05)
    with pytest.raises(QuantityError, match="measures voltage"):
        parse("5", "current", default_unit="kV")


def test_bare_prefix_under_a_prefixed_heading_has_two_readings() -> None:
    assert parse_cell("2.5G", unit("ohm", "resistance")) == Measured(2.5e9)
    assert parse_cell("2.5M", unit("MOhm", "resistance")) == Measured(2.5e6)
    with pytest.raises(QuantityError, match="times M\u03a9"):
        parse_cell("2.5k", unit("MOhm", "resistance"))


@pytest.mark.parametrize(
    "text", ("", " ", "\u00a0", "-", "\u2013", "\u2014", "--", "n/a", "N/A", "nan", "NaN")
)
def test_no_reading(text: str) -> None:
    assert parse_cell(text, unit("uA", "current")) is None


@pytest.mark.parametrize(
    ("text", "value"),
    (
        ("31.8", 31.8e-6),
        (" 31.8 ", 31.8e-6),
        ("3.18e1", 31.8e-6),
        ("12 nA", 12e-9),
        ("31,8", 31.8e-6),
        ("-1", -1e-6),
    ),
)
def test_cell_of_a_column(text: str, value: float) -> None:
    assert parse_cell(text, unit("uA", "current")) == Measured(value)


def test_cell_of_minutes_celsius_and_bounds() -> None:
    assert parse_cell("1.5", unit("min", "time")) == Measured(90.0)
    assert parse_cell("1:30", unit("min", "time")) == Measured(90.0)
    assert parse_cell("27.5", unit("degC", "temperature")) == Measured(300.65)
    assert parse_cell("> 10", unit("TOhm", "resistance")) == Measured(10e12, Bound.LOWER)
    assert parse_cell("OL", unit("MOhm", "resistance"), full_scale=2e11) == Measured(2e11, Bound.LOWER)


def test_clock_under_hours_has_two_readings() -> None:
    for default in ("h", "hours", unit("hr", "time")):
        assert parse("1:30:00", "time", default_unit=default) == Measured(5400.0)
        assert parse("1.5", "time", default_unit=default) == Measured(5400.0)
        with pytest.raises(QuantityError, match="h:mm"):
            parse("1:30", "time", default_unit=default)


@pytest.mark.parametrize("text", ("#N/A", "#DIV/0!", "abc", "5 V", "1_000", "12 34", "1e400"))
def test_bad_cell_is_an_error_not_an_empty_one(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_cell(text, unit("uA", "current"))


@pytest.mark.parametrize(
    ("symbol", "dimension", "found"),
    (
        ("m", "length", "m"),
        ("C", "charge", "C"),
        ("F", "capacitance", "F"),
        ("K", "temperature", "K"),
        ("%", "humidity", "%"),
    ),
)
def test_unit_without_dimension_is_the_one_whose_symbol_it_is(
    symbol: str, dimension: str, found: str
) -> None:
    assert (unit(symbol).dimension, unit(symbol).symbol) == (dimension, found)


def test_unit_converts_by_scale_and_offset() -> None:
    micro = unit("\u03bcA")
    assert isinstance(micro, Unit)
    assert (micro.symbol, micro.dimension, micro.scale, micro.offset) == ("\u00b5A", "current", 1e-6, 0.0)
    degree = unit("degC", "temperature")
    assert (degree.scale, degree.offset) == (1.0, 273.15)


@pytest.mark.parametrize(
    ("symbol", "dimension"), (("furlong", None), ("kV", "current"), ("", "voltage"), ("MA", "current"))
)
def test_unknown_unit_is_refused(symbol: str, dimension: str | None) -> None:
    with pytest.raises(QuantityError):
        unit(symbol, dimension)


def test_unknown_dimension_is_misuse() -> None:
    with pytest.raises(UsageError, match="voltage"):
        parse("5 V", "tension")
    with pytest.raises(UsageError, match="voltage"):
        unit("V", "tension")


@pytest.mark.parametrize("value", (float("nan"), float("inf"), float("-inf")))
def test_no_reading_is_not_finite(value: float) -> None:
    with pytest.raises(QuantityError, match="finite"):
        Measured(value)


def test_celsius_and_kelvin() -> None:
    assert kelvin(0.0) == 273.15
    assert celsius(kelvin(40.0)) == pytest.approx(40.0)
