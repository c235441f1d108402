"""How values and marks are shown."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest

from soakage.model.verdict import QuantityValue, Status
from soakage.standards.criterion import Verified
from soakage.units import Bound
from soakage.web import view
from soakage.web.marks import big_mark, curve, mark

NBSP = "\u00a0"


@pytest.mark.parametrize(
    ("value", "dimension", "more", "parts"),
    (
        (622e6, "resistance", {}, ("", "622", "MΩ")),
        (2e11, "resistance", {"bound": Bound.LOWER}, (">", "200", "GΩ")),
        (6.82e-6, "current", {}, ("", "6.82", "µA")),
        (5000.0, "voltage", {"trim": True}, ("", "5", "kV")),
        (1.61, "ratio", {}, ("", "1.61", "")),
        (-3e-9, "current", {"bound": Bound.UPPER}, ("<", "−3", "nA")),
    ),
)
def test_a_figure_in_its_parts(
    value: float, dimension: str, more: dict[str, object], parts: tuple[str, ...]
) -> None:
    shown = view.figure(value, dimension, **more)  # type: ignore[arg-type]
    assert (shown.sign, shown.value, shown.unit) == parts
    assert str(shown) == view.quantity(value, dimension, **more)  # type: ignore[arg-type]
    assert " " not in str(shown)


def made(value: float, uncertainty: float | None, bound: Bound | None = None) -> QuantityValue:
    return QuantityValue(
        id="insulation_resistance_60s",
        value=value,
        bound=bound,
        uncertainty=uncertainty,
        formula="U/I",
        source="definition",
    )


def test_a_computed_quantity_has_its_uncertainty_or_its_bound() -> None:
    shown = view.of(made(622e6, 9.5e6))
    assert (shown.sign, shown.value, shown.unit, shown.plus_minus) == ("", "622", "MΩ", "19")
    assert str(shown) == f"622{NBSP}MΩ{NBSP}±{NBSP}19"
    bound = view.of(made(2e11, None, Bound.LOWER))
    assert (bound.sign, bound.value, bound.unit, bound.plus_minus) == (">", "200", "GΩ", "")
    assert view.of(made(622e6, None)).plus_minus == ""


def test_how_a_limit_is_known_is_never_made_better_than_it_is() -> None:
    # The look: read solid, as reported dashed, from memory dotted, no source bare.
    said = {verified.value: view.how(verified.value) for verified in Verified}
    assert said["read"] == ("read", "read")
    assert said["secondary"] == ("secondary", "as reported")
    assert said["memory"] == ("memory", "from memory")
    assert said["practice"] == ("practice", "no source")
    assert [name for name, (kind, _) in said.items() if kind == "read"] == ["read"]
    assert view.how("something new")[0] == "practice"
    assert view.how("") == ("practice", "no source")


@pytest.mark.parametrize("status", Status)
def test_every_status_has_a_mark_that_a_screen_reader_passes_over(status: Status) -> None:
    drawn = ET.fromstring(mark(status))  # noqa: S314 - our own drawing
    assert drawn.attrib["aria-hidden"] == "true"
    assert drawn.attrib["class"] == f"mark {view.css(status)}"


def test_marks_differ_by_shape_and_not_by_colour_only() -> None:
    shapes = [re.sub(r'class="[^"]*"', "", str(mark(status)), count=1) for status in Status]
    assert len(set(shapes)) == len(Status)


@pytest.mark.parametrize("status", ("sound", "watch", "investigate", "unfit"))
def test_the_big_mark_is_drawn_the_same_each_time_and_inside_its_frame(status: str) -> None:
    first = str(big_mark(status))
    big_mark.cache_clear()
    assert str(big_mark(status)) == first
    ET.fromstring(first)  # noqa: S314 - our own drawing
    for path in re.findall(r' d="M([^"]*)Z"', first):
        for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path):
            assert (float(x) - 60) ** 2 + (float(y) - 60) ** 2 <= 54.2**2


def _reach(status: str) -> float:
    path = re.findall(r'class="soak" d="M([^"]*)Z"', str(big_mark(status)))[0]
    points = re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)
    return min(math.hypot(float(x) - 60, float(y) - 60) for x, y in points)


def test_the_dye_touches_the_core_where_it_is_to_be_investigated_and_not_before() -> None:
    assert _reach("watch") > 25
    assert _reach("investigate") == pytest.approx(17, abs=0.2)
    assert "soak" not in str(big_mark("sound"))


@pytest.mark.parametrize("status", ("not judged", "not applicable", "invalid test"))
def test_what_stands_beside_the_ladder_has_no_big_mark(status: str) -> None:
    assert str(big_mark(status)) == ""


def test_the_rule_under_the_head_falls_steeply_and_then_stays() -> None:
    points = [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", str(curve()).split('d="')[1])]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    assert xs == sorted(xs)
    assert ys == sorted(ys)
    assert (ys[10] - ys[0]) > 0.7 * (ys[-1] - ys[0])


def test_words_as_classes() -> None:
    assert view.css(Status.NOT_JUDGED) == "not-judged"
    assert view.css("to come") == "to-come"
