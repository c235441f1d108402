"""Every formula against figures from outside the house: tests/references/*.toml.

A case calls ``function`` with ``inputs`` and compares its result, or one ``field`` or some elements
(``pick``) of it, with ``expected``.  A case that names a ``test`` instead is held by that test.
"""

from __future__ import annotations

import importlib
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soakage.physics import humidity, responses
from soakage.physics.bounds import bounded

FOLDER = Path(__file__).parent
REFERENCES = FOLDER.parent / "references"
FIELDS = {
    "function",
    "inputs",
    "field",
    "pick",
    "arrays",
    "expected",
    "rel",
    "abs",
    "source",
    "status",
    "test",
}


def cases() -> list[Any]:
    found = []
    for file in sorted(REFERENCES.glob("*.toml")):
        for number, case in enumerate(tomllib.loads(file.read_text(encoding="utf-8"))["case"], start=1):
            found.append(pytest.param(case, id=f"{file.stem}-{number}-{case['function']}"))
    return found


def resolved(path: str) -> Callable[..., Any]:
    module, name = path.rsplit(".", 1)
    function: Callable[..., Any] = getattr(importlib.import_module(f"soakage.physics.{module}"), name)
    return function


def argument(value: Any) -> Any:
    if isinstance(value, dict) and "kind" in value:
        parts = {key: part for key, part in value.items() if key != "kind"}
        return getattr(responses, value["kind"])(**parts)
    if isinstance(value, dict):
        return bounded(value["value"], value.get("bound"))
    return getattr(humidity, value) if isinstance(value, str) else value


@pytest.mark.parametrize("case", cases())
def test_the_published_figure_comes_out(case: dict[str, Any]) -> None:
    assert case.keys() <= FIELDS
    if "test" in case:
        file, _, name = case["test"].partition("::")
        assert f"def {name}(" in (FOLDER / file).read_text(encoding="utf-8")
        return
    inputs = {key: argument(value) for key, value in case["inputs"].items()}
    for key in case.get("arrays", ()):
        inputs[key] = np.asarray(inputs[key])
    result = resolved(case["function"])(**inputs)
    if "field" in case:
        result = getattr(result, case["field"])
    if "pick" in case:
        # Each pick is an index from the left; a list of picks gives a list of values.
        result = [np.asarray(result)[tuple(index)] for index in picks(case)]
    rel, slack = case.get("rel", 1e-12), case.get("abs", 0.0)
    np.testing.assert_allclose(
        np.asarray(result, dtype=float), np.asarray(case["expected"], dtype=float), rtol=rel, atol=slack
    )


def picks(case: dict[str, Any]) -> list[list[int]]:
    return [list(index) for index in case["pick"]]
