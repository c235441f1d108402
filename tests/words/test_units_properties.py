"""Round trips, noise, and an outside reader of units.

Outside check: pint's default registry, on the spellings it reads right (it misreads decimal commas and
relative humidity, so those are not asked of it).
"""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from soakage.errors import QuantityError
from soakage.unit_table import EXACTLY
from soakage.units import (
    DIMENSIONS,
    Bound,
    Measured,
    Unit,
    format_exact,
    format_quantity,
    parse,
    parse_cell,
    unit,
)

dimensions = st.sampled_from(DIMENSIONS)
finite = st.floats(allow_nan=False, allow_infinity=False, allow_subnormal=False)
bounds = st.sampled_from((None, Bound.LOWER, Bound.UPPER))
# Signs of the trade, marks, prefixes and unit letters: noise that comes near to being right.
NEAR = (
    " 0123456789.,:'+-<>=eExfpnumkKMGTVAohmsCFK%/()dgrLO"
    "\u2212\u00a0\u2009\u00b5\u03a9\u2126\u00b7\u00b0\u221e^\u2079"
)
near = st.text(NEAR, max_size=18)


def own_zero(dimension: str, measured: Measured) -> bool:
    """A resistance of zero is read as a bound, by rule."""
    return dimension == "resistance" and measured.value == 0 and measured.bound is not Bound.LOWER


@given(finite, dimensions, bounds)
@example(5e-324, "temperature", None)
@example(1.7976931348623157e308, "ramp_rate", None)
@example(-0.0, "time", Bound.LOWER)
@settings(max_examples=600)
def test_exact_text_reads_back_to_the_same_float(value: float, dimension: str, bound: Bound | None) -> None:
    measured = Measured(value, bound)
    if not own_zero(dimension, measured):
        text = format_exact(measured, dimension)
        assert text.isascii()
        assert parse(text, dimension) == measured


@given(finite, dimensions, bounds, st.integers(1, 9), st.booleans(), st.booleans())
@settings(max_examples=600)
def test_printed_text_reads_back_within_its_digits(
    value: float, dimension: str, bound: Bound | None, digits: int, ascii_only: bool, trim: bool
) -> None:
    measured = Measured(value, bound)
    text = format_quantity(measured, dimension, digits=digits, ascii=ascii_only, trim=trim)
    assert ascii_only <= text.isascii()
    try:
        again = parse(text, dimension)
    except QuantityError:  # rounded up past the largest float
        assert abs(value) > 1e307
        return
    if own_zero(dimension, measured) or again.value == 0:
        return
    assert again.bound is bound
    step = 10.0 ** (1 - digits)
    if dimension == "temperature":
        assert math.isclose(again.value, value, rel_tol=step, abs_tol=0.1)
    elif dimension == "time" and abs(value) >= 59:
        assert math.isclose(again.value, value, rel_tol=step, abs_tol=1.0)
    else:
        assert math.isclose(again.value, value, rel_tol=step)
    assert parse(format_quantity(again, dimension, digits=digits, trim=trim), dimension) == again


@given(st.one_of(st.text(max_size=30), near), dimensions, st.sampled_from((None, True, False)))
@settings(max_examples=1500)
def test_noise_is_read_or_refused_and_nothing_else(
    text: str, dimension: str, decimal_comma: bool | None
) -> None:
    try:
        measured = parse(text, dimension, decimal_comma=decimal_comma, full_scale=1e13)
    except QuantityError:
        return
    assert math.isfinite(measured.value)


@given(st.one_of(st.text(max_size=20), near), st.sampled_from((None, True, False)))
@settings(max_examples=600)
def test_noise_in_a_cell_is_read_empty_or_refused(text: str, decimal_comma: bool | None) -> None:
    for heading in (unit("MOhm", "resistance"), unit("degC", "temperature"), unit("s", "time")):
        try:
            measured = parse_cell(text, heading, decimal_comma=decimal_comma)
        except QuantityError:
            continue
        assert measured is None or math.isfinite(measured.value)


@given(st.text(max_size=20))
def test_noise_is_no_unit_or_one_of_the_table(text: str) -> None:
    try:
        found = unit(text)
    except QuantityError:
        return
    assert found.dimension in DIMENSIONS


@given(st.decimals(-(10**6), 10**6, allow_nan=False, places=4))
def test_quick_way_of_a_cell_and_the_long_way_agree(figure: object) -> None:
    text = f"{figure:f}"
    for heading in (unit("uA", "current"), unit("kV", "voltage")):
        assert parse_cell(text, heading) == parse(f"{text} {heading.symbol}", heading.dimension)


@given(st.integers(0, 10**6), st.integers(0, 59), st.integers(0, 59))
def test_clock_forms_agree(hours: int, minutes: int, seconds: int) -> None:
    total = Measured(3600.0 * hours + 60 * minutes + seconds)
    assert parse(f"{hours}:{minutes:02}:{seconds:02}", "time") == total
    assert parse(f"{hours} h {minutes} min {seconds} s", "time") == total
    assert parse(f"{60 * hours + minutes}:{seconds:02}", "time") == total


PINT_NAMES = {
    "voltage": "volt", "current": "ampere", "resistance": "ohm", "capacitance": "farad", "time": "second",
    "power": "watt", "energy": "joule", "charge": "coulomb", "length": "metre", "frequency": "hertz",
    "conductance": "siemens", "ramp_rate": "volt/second", "dielectric_discharge": "ampere/volt/farad",
    "resistivity": "ohm*metre", "resistance_length": "ohm*metre", "temperature": "kelvin",
    "temperature_difference": "kelvin",
}  # fmt: skip


WITH_PREFIXES = (
    "voltage", "current", "resistance", "capacitance", "power", "energy", "charge", "length", "frequency",
    "conductance", "time",
)  # fmt: skip


REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("dimension", WITH_PREFIXES)
def test_every_own_symbol_is_worth_what_pint_says(dimension: str) -> None:
    own = {found.symbol: found for found in EXACTLY[dimension].values()}
    assert len(own) >= 3
    for symbol, found in own.items():
        outside = REGISTRY.Quantity(1.0, symbol).to(PINT_NAMES[dimension])
        assert found.scale == pytest.approx(outside.magnitude, rel=1e-12), symbol


@pytest.mark.parametrize(
    ("text", "dimension", "outside"),
    (
        ("1 kV/min", "ramp_rate", "kV/min"),
        ("1 mA/(V F)", "dielectric_discharge", "mA/(V*F)"),
        ("1 nA/(V uF)", "dielectric_discharge", "nA/(V*uF)"),
        ("1 MOhm km", "resistance_length", "Mohm*km"),
        ("1 MOhm*1000ft", "resistance_length", "Mohm*kft"),
        ("1 GOhm cm", "resistivity", "Gohm*cm"),
        ("1 megohm", "resistance", "megaohm"),
        ("1 horsepower", "power", "horsepower"),
        ("1 inch", "length", "inch"),
        ("1 \u00b0F", "temperature_difference", "delta_degF"),
    ),
)
def test_compound_is_worth_what_pint_says(text: str, dimension: str, outside: str) -> None:
    expected = REGISTRY.Quantity(1.0, outside).to(PINT_NAMES[dimension]).magnitude
    assert parse(text, dimension).value == pytest.approx(expected, rel=1e-12)


@given(st.floats(-80, 400), st.sampled_from((("degC", "degC"), ("degF", "degF"), ("K", "kelvin"))))
def test_temperature_is_what_pint_says(figure: float, scale: tuple[str, str]) -> None:
    expected = REGISTRY.Quantity(figure, scale[1]).to("kelvin").magnitude
    assert parse(f"{figure!r} {scale[0]}", "temperature").value == pytest.approx(
        expected, rel=1e-12, abs=1e-9
    )


def test_no_spelling_is_hidden_by_another_way_of_finding_it() -> None:
    for dimension, spellings in EXACTLY.items():
        for spelling, found in spellings.items():
            assert isinstance(found, Unit)
            assert unit(spelling, dimension) == found
