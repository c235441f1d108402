"""Figures as printed: one decimal for value and uncertainty, signs of bounds, columns, the typeface."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from soakage.model.verdict import QuantityValue
from soakage.report import typeface
from soakage.report.figures import (
    column,
    counted,
    day,
    hang,
    listed,
    moment,
    printed,
    quantity_text,
    unparted,
)
from soakage.units import Bound


@pytest.mark.parametrize(
    ("name", "value", "u", "bound", "text"),
    (
        # JCGM 100, 7.2.6 (from memory): uncertainty to at most two significant digits, the value at the same decimal.
        ("insulation_resistance_60s", 832.4e6, 14.6e6, None, "832 ± 29 MΩ"),
        ("insulation_resistance_60s", 832.4e6, 0.5e6, None, "832.4 ± 1.0 MΩ"),
        ("insulation_resistance_60s", 9.996e9, 0.1e9, None, "10.00 ± 0.20 GΩ"),
        ("polarization_index", 1.61874, 0.0074, None, "1.619 ± 0.015"),
        ("polarization_index", 1.61874, None, None, "1.62"),
        ("phase_spread", 4.7171, None, None, "4.72"),
        ("dew_point", 285.65, 0.95, None, "12.5 ± 1.9 °C"),
        ("dielectric_discharge", 0.00231, 0.00005, None, "2.31 ± 0.10 mA/(V F)"),
        ("voltage_dependence", -0.123, 0.01, None, "−12.3 ± 2.0 %"),
        ("insulation_resistance", 1e12, 5e10, Bound.LOWER, "> 1 TΩ"),
        ("insulation_resistance", 1e5, None, Bound.UPPER, "< 100 kΩ"),
        ("capacitance", 2.5e-7, None, None, "250 nF"),
        ("polarization_index", float("nan"), None, None, "–"),
    ),
)
def test_printed(name: str, value: float, u: float | None, bound: Bound | None, text: str) -> None:
    shown = printed(QuantityValue(name, value, bound, u)).with_uncertainty
    assert shown.replace("\u00a0", " ") == text


def test_without_its_uncertainty_a_figure_has_three_digits() -> None:
    shown = printed(QuantityValue("polarization_index", 1.19412, None, 0.0058))
    assert (shown.value, shown.plus_minus, shown.whole) == ("1.194", "0.012", "1.19")
    shown = printed(QuantityValue("insulation_resistance_60s", 832.44e6, None, 0.05e6))
    assert shown.with_uncertainty == "832.44\u00a0±\u00a00.10\u00a0MΩ"
    assert shown.whole == "832\u00a0MΩ"


def test_no_uncertainty_leaves_the_place_empty() -> None:
    assert printed(QuantityValue("polarization_index", 2.0)).plus_minus == ""


def test_a_wanted_prefix_is_kept_to_four_digits() -> None:
    assert printed(QuantityValue("insulation_resistance_600s", 1347e6), prefix="M").whole == "1347\u00a0MΩ"
    assert printed(QuantityValue("insulation_resistance_600s", 134.7e9), prefix="M").unit == "GΩ"


def test_a_column_has_one_unit_and_one_decimal() -> None:
    texts, unit = column([5.27e-7, 8.74e-7, 1.931e-6, float("nan")], "current")
    assert (texts, unit) == (["527", "874", "1931", "–"], "nA")
    texts, _ = column([1e9, 2e9], "resistance", [None, Bound.LOWER])
    assert texts == ["1.00", ">\u00a02.00"]
    assert hang(["> 2.00", "12.5", "–"]) == (3, 2)


def test_words() -> None:
    assert day(date(2026, 3, 14)) == "14\u00a0March 2026"
    assert moment(datetime(2026, 3, 14, 9, 5)) == "14\u00a0March 2026, 09:05"  # noqa: DTZ001 - a stated local time
    assert day(None) == "–"
    assert listed(["U"]) == "U"
    assert listed(["U", "V", "frame"]) == "U, V and frame"
    assert (counted(1, "record"), counted(2, "record")) == ("1\u00a0record", "2\u00a0records")
    assert quantity_text(None, "voltage") == "–"


@pytest.mark.parametrize(
    ("given", "kept"),
    (
        ("at least 100 MΩ at 40 °C", "at least 100\u00a0MΩ at 40\u00a0°C"),
        ("IEEE Std 43-2013, cl. 12.2", "IEEE Std\u00a043-2013, cl.\u00a012.2"),
        ("after 10 min and 5 s", "after 10\u00a0min and 5\u00a0s"),
        ("3 Amsterdam pumps", "3 Amsterdam pumps"),
        ("room 5 by the door", "room 5 by the door"),
    ),
)
def test_a_figure_and_its_unit_never_part(given: str, kept: str) -> None:
    assert unparted(given) == kept
    assert unparted({"a": [given, 3, None]}) == {"a": [kept, 3, None]}


def test_the_typeface_has_what_our_own_words_need() -> None:
    assert {ord(c) for c in "Ωµ°±×−–≥≤’“”…·²³√éäöüßłŽЖα\u00a0"} <= typeface.characters()


@pytest.mark.parametrize("character", ("\u4e2d", "\u25b2", "\u2713", "\U0001f600"))
def test_the_typeface_lacks(character: str) -> None:
    # Tried with the typesetter: these print as an empty box.
    assert ord(character) not in typeface.characters()
    assert typeface.visible(f"a{character}b") == (f"a[U+{ord(character):04X}]b", True)


def test_signs_that_mean_the_same_are_taken_for_one_another() -> None:
    assert typeface.visible("5\u202fM\u2126\n\u03bcA") == ("5\u00a0MΩ µA", False)


def test_what_is_not_text_is_left_alone() -> None:
    assert typeface.visible({"a": [1, None, True, 2.5]}) == ({"a": [1, None, True, 2.5]}, False)
