"""Two results of one test compared: what is said differs where they do, and the last digits of a fit do not count."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.app.contract_json import record_json
from soakage.app.differences import SAME, alike, differences
from soakage.app.evaluate import evaluate
from soakage.importers.reading import read_bytes

RECORD = """\
# soakage = 1
# asset = "Pump 3 motor"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# winding = "form-wound"
# insulation = "thermosetting"
# thermal_class = "155"
# year = 2004
# method = "polarization-index"
# test_voltage = "5 kV"
# winding_temperature = "40 degC"
time [s],voltage [V],current [uA]
15,5000,30
30,5000,20
60,5000,10
600,5000,4
"""
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.floats(-1e12, 1e12) | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=2), inner, max_size=3),
    max_leaves=8,
)


@pytest.fixture
def result() -> dict[str, Any]:
    (judged,) = evaluate(read_bytes(RECORD.encode(), "x.csv")).records
    found: dict[str, Any] = json.loads(json.dumps(record_json(judged)))
    return found


def changed(result: dict[str, Any], *path: object, to: object) -> dict[str, Any]:
    made = deepcopy(result)
    place: Any = made
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = to
    return made


def test_the_same_says_so(result: dict[str, Any]) -> None:
    assert differences(result, deepcopy(result)) == [SAME]


def test_the_verdict_comes_first(result: dict[str, Any]) -> None:
    now = changed(result, "verdict", "status", to="unfit")
    now["findings"] = [*now["findings"], {"code": "spoken_of", "sentence": "x", "status": None, "remedy": ""}]
    assert differences(result, now) == ["Verdict: sound before, unfit now.", "Finding new: spoken_of."]
    assert differences(now, result) == ["Verdict: unfit before, sound now.", "Finding gone: spoken_of."]


def test_a_criterion_that_comes_goes_or_moves(result: dict[str, Any]) -> None:
    first = result["judgements"][0]
    without = changed(result, "judgements", to=result["judgements"][1:])
    assert differences(result, without) == [f"No longer applied: {first['criterion']} ({first['source']})."]
    assert differences(without, result) == [
        f"Now applied: {first['criterion']} ({first['source']}): {first['status']}."
    ]
    stricter = changed(result, "judgements", 0, "limit", "text", to="at least 999 MOhm")
    (line,) = differences(result, stricter)
    assert line.startswith(f"{first['criterion']}: limit ")
    assert line.endswith("before, at least 999 MOhm now.")
    other = changed(result, "judgements", 0, "source", to="Another edition")
    assert differences(result, other) == [
        f"{first['criterion']}: after {first['source']} before, Another edition now."
    ]
    (line,) = differences(result, changed(result, "judgements", 0, "status", to="unfit"))
    assert line.startswith(f"{first['criterion']}: {first['status']} before, unfit now.")
    assert first["reason"] in line


def test_figures_are_told_with_unit_and_enough_digits(result: dict[str, Any]) -> None:
    name = "insulation_resistance_60s_corrected"
    assert differences(result, changed(result, "quantities", name, "value", to=450e6)) == [
        f"{name}: 500\u00a0MΩ before, 450\u00a0MΩ now."
    ]
    (line,) = differences(result, changed(result, "quantities", name, "value", to=500.01e6))
    assert "500.010\u00a0MΩ now" in line
    assert differences(result, changed(result, "quantities", name, "value", to=500e6 * (1 + 1e-12))) == [SAME]
    assert differences(result, changed(result, "quantities", name, "bound", to="lower")) == [
        f"{name}: 500\u00a0MΩ before, >\u00a0500\u00a0MΩ now."
    ]
    (ruled,) = differences(result, changed(result, "quantities", name, "rule", to="ieee-43-2000.halving"))
    assert ruled == f"{name}: temperature rule ieee-43-2013.thermosetting before, ieee-43-2000.halving now."


def test_quantities_that_come_and_go(result: dict[str, Any]) -> None:
    less = deepcopy(result)
    del less["quantities"]["polarization_index"]
    assert differences(result, less) == ["Quantity gone: polarization_index."]
    assert differences(less, result) == ["Quantity new: polarization_index."]


# Alike


@given(PLAIN)
def test_anything_is_alike_itself(value: Any) -> None:
    assert alike(value, deepcopy(value))


@given(st.floats(-1e12, 1e12).filter(lambda value: abs(value) > 1e-9))
def test_the_last_digits_of_a_figure_do_not_count(value: float) -> None:
    assert alike({"a": [value]}, {"a": [value * (1 + 1e-12)]})
    assert not alike({"a": [value]}, {"a": [value * (1 + 1e-6)]})


@pytest.mark.parametrize(
    ("before", "after"),
    (
        ({"a": 1}, {"b": 1}), ({"a": 1}, {"a": 1, "b": None}), ([1], [1, 2]), ([1, 2], [2, 1]), ("a", "b"),
        (None, 0), ({"a": 1}, [1]), (1.0, None), (True, False), (0.0, 1e-30), ("1", 1),
    ),
)  # fmt: skip
def test_what_is_not_alike(before: object, after: object) -> None:
    assert not alike(before, after)
    assert not alike(after, before)
