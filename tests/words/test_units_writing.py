"""What is written is what the house's papers print, and reads back.

Space between number and unit, upright symbols, minus sign: SI Brochure, 9th edition, 5.4 (from memory).
Rounding half to even: ISO 80000-1, annex B, rule A (from memory). Four digits closed up, from five the prefix
changes: our own style.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from soakage.errors import QuantityError, UsageError
from soakage.numerals import choose_prefix, rounded, shortest
from soakage.units import DIMENSIONS, Bound, Measured, format_exact, format_quantity, parse

PRINTED: tuple[tuple[float, str, dict[str, object], str], ...] = (
    (2.5e9, "resistance", {}, "2.50 G\u03a9"),
    (1.347e9, "resistance", {"prefix": "M"}, "1347 M\u03a9"),
    (9.9994e9, "resistance", {"prefix": "M"}, "9999 M\u03a9"),
    (1.3472e10, "resistance", {"prefix": "M"}, "13.5 G\u03a9"),
    (5.0e4, "resistance", {"prefix": "M"}, "0.0500 M\u03a9"),
    (5.0e2, "resistance", {"prefix": "M"}, "500 \u03a9"),
    (999.6e6, "resistance", {}, "1.00 G\u03a9"),
    (999.4e6, "resistance", {}, "999 M\u03a9"),
    (1.25e9, "resistance", {"digits": 2}, "1.2 G\u03a9"),
    (1.35e9, "resistance", {"digits": 2}, "1.4 G\u03a9"),
    (123e6, "resistance", {"digits": 2}, "123 M\u03a9"),
    (3e14, "resistance", {}, "300 T\u03a9"),
    (3e15, "resistance", {}, "3000 T\u03a9"),
    (2.5e20, "resistance", {}, "2.50E+20 \u03a9"),
    (0.0, "resistance", {}, "0 \u03a9"),
    (12.5e-9, "current", {}, "12.5 nA"),
    (31.8e-6, "current", {}, "31.8 \u00b5A"),
    (-2.1e-9, "current", {}, "\u22122.10 nA"),
    (1e-20, "current", {}, "1.00E\u221220 A"),
    (5003.0, "voltage", {}, "5.00 kV"),
    (5000.0, "voltage", {"trim": True}, "5 kV"),
    (6600.0, "voltage", {"trim": True}, "6.6 kV"),
    (250e-9, "capacitance", {}, "250 nF"),
    (300.65, "temperature", {}, "27.5 \u00b0C"),
    (295.15, "temperature", {}, "22 \u00b0C"),
    (263.15, "temperature", {}, "\u221210 \u00b0C"),
    (0.55, "humidity", {}, "55 %"),
    (0.0525, "fraction", {}, "5.25 %"),
    (15.0, "time", {}, "15 s"),
    (0.5, "time", {}, "0.5 s"),
    (59.96, "time", {}, "1 min"),
    (60.0, "time", {}, "1 min"),
    (90.0, "time", {}, "1 min 30 s"),
    (190.0, "time", {}, "3 min 10 s"),
    (600.0, "time", {}, "10 min"),
    (9900.0, "time", {}, "2 h 45 min"),
    (3601.0, "time", {}, "1 h 1 s"),
    (-90.0, "time", {}, "\u22121 min 30 s"),
    (0.0, "time", {}, "0 s"),
    (1.85e-3, "dielectric_discharge", {}, "1.85 mA/(V F)"),
    (0.05e-3, "dielectric_discharge", {}, "0.0500 mA/(V F)"),
    (1000 / 60, "ramp_rate", {}, "1.00 kV/min"),
    (1e11, "resistance_length", {}, "100 M\u03a9 km"),
    (1e12, "resistivity", {}, "1.00 T\u03a9 m"),
    (2.154, "ratio", {}, "2.15"),
    (10.04, "ratio", {}, "10.0"),
    (12345.6, "number", {}, "12346"),
    (1200.0, "length", {}, "1.20 km"),
)


@pytest.mark.parametrize(("value", "dimension", "options", "text"), PRINTED)
def test_printed(value: float, dimension: str, options: dict[str, object], text: str) -> None:
    assert format_quantity(value, dimension, **options) == text.replace(" ", "\u00a0")  # type: ignore[arg-type]


@pytest.mark.parametrize(("value", "dimension", "options", "text"), PRINTED)
def test_ascii_is_the_same_in_plain_letters(
    value: float, dimension: str, options: dict[str, object], text: str
) -> None:
    plain = (
        text.replace("\u03a9", "Ohm").replace("\u00b5", "u").replace("\u00b0", "deg").replace("\u2212", "-")
    )
    assert format_quantity(value, dimension, ascii=True, **options) == plain  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "bound", "prefix", "text"),
    (
        (10e12, Bound.LOWER, None, "> 10 TOhm"),
        (1e5, Bound.UPPER, "M", "< 0.1 MOhm"),
        (1e5, Bound.UPPER, None, "< 100 kOhm"),
        (10.09e12, Bound.LOWER, None, "> 10 TOhm"),
        (999.99e6, Bound.LOWER, None, "> 999 MOhm"),
        (1.001e6, Bound.UPPER, None, "< 1.01 MOhm"),
        (999.1e6, Bound.UPPER, None, "< 1 GOhm"),
    ),
)
def test_bound_never_claims_more_than_was_known(
    value: float, bound: Bound, prefix: str | None, text: str
) -> None:
    written = format_quantity(Measured(value, bound), "resistance", prefix=prefix, ascii=True)
    assert written == text
    again = parse(written, "resistance")
    assert again.bound is bound
    assert again.value <= value if bound is Bound.LOWER else again.value >= value


@pytest.mark.parametrize(
    ("quantity", "dimension", "text"),
    (
        (2.5e9, "resistance", "2.5 GOhm"),
        (Measured(10e12, Bound.LOWER), "resistance", "> 10 TOhm"),
        (Measured(1e5, Bound.UPPER), "resistance", "< 100 kOhm"),
        (1.2345678901234567e9, "resistance", "1.2345678901234567 GOhm"),
        (31.8e-6, "current", "31.8 uA"),
        (-2.1e-9, "current", "-2.1 nA"),
        (6600.0, "voltage", "6.6 kV"),
        (300.65, "temperature", "27.5 degC"),
        (1e-3, "temperature", "-273.149 degC"),
        (5e-324, "temperature", "5E-324 K"),
        (90.0, "time", "90 s"),
        (0.55, "humidity", "55 %"),
        (1000 / 60, "ramp_rate", "1 kV/min"),
        (1.85e-3, "dielectric_discharge", "1.85 mA/(V F)"),
        (2.15, "ratio", "2.15"),
        (3.0, "count", "3"),
        (1e300, "number", "1E+300"),
        (0.0, "voltage", "0 V"),
    ),
)
def test_exact_text(quantity: float | Measured, dimension: str, text: str) -> None:
    assert format_exact(quantity, dimension) == text


def test_noise_of_a_division_does_not_move_a_bound() -> None:
    rate = Measured(5000 / 60, Bound.LOWER)  # a hair below in binary
    assert format_quantity(rate, "ramp_rate", ascii=True) == "> 5 kV/min"
    assert format_quantity(Measured(9999999999.999998, Bound.LOWER), "resistance", ascii=True) == "> 10 GOhm"


def test_every_dimension_is_printed_here() -> None:
    rest = {"temperature_difference", "power", "energy", "charge", "frequency", "conductance", "count"}
    assert {dimension for _, dimension, _, _ in PRINTED} | rest == set(DIMENSIONS)
    for dimension, text in (
        ("temperature_difference", "12.5 K"),
        ("power", "12.5 W"),
        ("energy", "12.5 J"),
        ("charge", "12.5 C"),
        ("frequency", "12.5 Hz"),
        ("conductance", "12.5 S"),
        ("count", "12.5"),
    ):
        assert format_quantity(12.5, dimension, ascii=True) == text


def test_misuse_of_writing() -> None:
    with pytest.raises(UsageError, match="prefix"):
        format_quantity(1.0, "voltage", prefix="x")
    with pytest.raises(UsageError, match="dimension"):
        format_quantity(1.0, "tension")
    with pytest.raises(UsageError, match="dimension"):
        format_exact(1.0, "tension")
    for value in (float("nan"), float("inf")):
        with pytest.raises(QuantityError, match="finite"):
            format_quantity(value, "voltage")
        with pytest.raises(QuantityError, match="finite"):
            format_exact(value, "voltage")


@pytest.mark.parametrize(
    ("figure", "digits", "text"),
    (
        ("9.996", 3, "10.0"),
        ("0.09996", 3, "0.100"),
        ("1347.2", 3, "1347"),
        ("0.05", 3, "0.0500"),
        ("2.5", 1, "2"),
    ),
)
def test_rounding_keeps_digits_before_the_point(figure: str, digits: int, text: str) -> None:
    assert str(rounded(Decimal(figure), digits)) == text


@pytest.mark.parametrize(
    ("figure", "prefix"), (("1e-20", "n"), ("999.6", "k"), ("999.4", ""), ("1", ""), ("1e30", "k"))
)
def test_prefix_is_chosen_after_rounding(figure: str, prefix: str) -> None:
    assert choose_prefix(Decimal(figure), "nk", 3) == prefix


@pytest.mark.parametrize(
    ("figure", "text"), (("2.500E+3", "2500"), ("1E-7", "0.0000001"), ("1E-8", "1E-8"), ("1E16", "1E+16"))
)
def test_shortest_figure(figure: str, text: str) -> None:
    assert shortest(Decimal(figure)) == text
