"""A batch is its records one by one: every formula that takes plain arrays, in every shape."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from calls import CALLS

IDS = [name for name, _ in CALLS]


def function(name: str) -> Callable[..., Any]:
    module, short = name.rsplit(".", 1)
    found: Callable[..., Any] = getattr(importlib.import_module(f"soakage.physics.{module}"), short)
    return found


def one_by_one(name: str, inputs: dict[str, list[float]]) -> list[float]:
    call = function(name)
    return [float(call(**{key: value[k] for key, value in inputs.items()})) for k in range(3)]


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_three_records_at_once(name: str, inputs: dict[str, list[float]]) -> None:
    found = np.asarray(function(name)(**inputs))
    assert found.shape == (3,)
    np.testing.assert_allclose(found, one_by_one(name, inputs), rtol=1e-12)
    assert np.isfinite(found).any(), "the example lies within the range of the formula"


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_leading_axes_of_any_shape(name: str, inputs: dict[str, list[float]]) -> None:
    stacked = {key: np.array([[value, value]] * 4) for key, value in inputs.items()}
    found = np.asarray(function(name)(**stacked))
    assert found.shape == (4, 2, 3)
    np.testing.assert_allclose(found[3, 1], one_by_one(name, inputs), rtol=1e-12)


@pytest.mark.parametrize(("name", "inputs"), [call for call in CALLS if len(call[1]) > 1], ids=IDS[:-1])
def test_each_argument_against_each(name: str, inputs: dict[str, list[float]]) -> None:
    first, *others = inputs
    call = function(name)
    rest = {key: np.array(inputs[key])[:, None] for key in others}
    found = np.asarray(call(**{first: np.array(inputs[first])}, **rest))
    assert found.shape == (3, 3)
    for row in range(3):
        for column in range(3):
            single = call(**{first: inputs[first][column]}, **{key: inputs[key][row] for key in others})
            np.testing.assert_allclose(found[row, column], single, rtol=1e-12)


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_no_records_give_no_results(name: str, inputs: dict[str, list[float]]) -> None:
    assert np.asarray(function(name)(**{key: np.empty(0) for key in inputs})).shape == (0,)


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_one_record_is_one_result(name: str, inputs: dict[str, list[float]]) -> None:
    found = np.asarray(function(name)(**{key: np.array(value[:1]) for key, value in inputs.items()}))
    assert found.shape == (1,)
    assert np.ndim(function(name)(**{key: value[0] for key, value in inputs.items()})) == 0


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_a_missing_input_leaves_nothing_and_only_there(name: str, inputs: dict[str, list[float]]) -> None:
    whole = np.asarray(function(name)(**inputs))
    for key in inputs:
        gappy = {**inputs, key: [inputs[key][0], np.nan, inputs[key][2]]}
        found = np.asarray(function(name)(**gappy))
        assert np.isnan(found[1]), f"without {key} there is no result"
        np.testing.assert_array_equal(found[[0, 2]], whole[[0, 2]])


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_the_arguments_are_left_as_they_were(name: str, inputs: dict[str, list[float]]) -> None:
    given = {key: np.array(value, dtype=float) for key, value in inputs.items()}
    for array in given.values():
        array.setflags(write=False)
    function(name)(**given)
    assert all(given[key].tolist() == [float(v) for v in inputs[key]] for key in inputs)


@pytest.mark.parametrize(("name", "inputs"), CALLS, ids=IDS)
def test_infinite_or_absurd_inputs_never_raise(name: str, inputs: dict[str, list[float]]) -> None:
    for value in (np.inf, -np.inf, 0.0, -1.0, 1e300, 1e-300):
        for key in inputs:
            with np.errstate(all="ignore"):
                found = np.asarray(function(name)(**{**inputs, key: [value] * 3}))
            assert found.shape == (3,)
