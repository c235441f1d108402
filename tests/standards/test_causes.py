"""Causes as data: read strictly, ranked by the weight of what is found."""

from __future__ import annotations

import pytest

from soakage.errors import StandardDataError
from soakage.methods import methods
from soakage.standards.causes import LEAST_WEIGHT, Cause, causes, rank, read_cause

GOOD = """
[cause]
id = "x"
name = "X"
description = "Something."
confirm_by = "Look."
next_test = "polarization-index"
source = "common practice, no source"
verified = "practice"
needs = ["a"]
[[evidence]]
feature = "a"
from = 1.0
weight = 2.0
text = "a is {value}"
[[evidence]]
feature = "b"
below = 0.5
weight = -1.0
text = "b is small"
[[evidence]]
feature = "c"
to = 0.0
weight = 3.0
text = "c is not above nought"
"""


def made() -> Cause:
    return read_cause("x.toml", GOOD.encode())


def test_a_cause_file_is_read_whole() -> None:
    cause = made()
    assert (cause.id, cause.needs, len(cause.evidence)) == ("x", ("a",), 3)
    assert [e.weight for e in cause.evidence] == [2.0, -1.0, 3.0]


@pytest.mark.parametrize(
    ("old", "new"),
    (
        ('id = "x"', ""),
        ('verified = "practice"', 'verified = "rumour"'),
        ("weight = 2.0", 'weight = "much"'),
        ("[cause]", "[cause"),
    ),
)
def test_a_broken_file_is_named(old: str, new: str) -> None:
    with pytest.raises(StandardDataError, match=r"x\.toml"):
        read_cause("x.toml", GOOD.replace(old, new, 1).encode())


@pytest.mark.parametrize(
    ("features", "weight"),
    (
        ({"a": 1.0}, 2.0),
        ({"a": 0.99}, None),  # needed and there, but too small to weigh anything
        ({"a": 1.0, "b": 0.4}, None),  # 2 - 1 is below the least weight
        ({"a": 1.0, "b": 0.5}, 2.0),  # on the edge: not below
        ({"a": 1.0, "c": 0.0}, 5.0),  # on the edge: to includes it
        ({"a": 1.0, "c": 0.001}, 2.0),
        ({"b": 0.1, "c": -1.0}, None),  # without what it needs it is not thought of
        ({}, None),
    ),
)
def test_evidence_adds_up_and_the_least_weight_holds(
    features: dict[str, float], weight: float | None
) -> None:
    found = rank([made()], features, {"a": "1"})
    assert [r.weight for r in found] == ([] if weight is None else [weight])


def test_for_and_against_are_told_apart_with_their_figures() -> None:
    (found,) = rank([made()], {"a": 3.0, "b": 0.1, "c": -1.0}, {"a": "3 %"})
    assert found.pro == ("a is 3 %", "c is not above nought")
    assert found.con == ("b is small",)


def test_the_heaviest_comes_first_and_equals_by_name() -> None:
    light = made()
    heavy = read_cause(
        "y.toml", GOOD.replace('id = "x"', 'id = "w"').replace("weight = 2.0", "weight = 4.0").encode()
    )
    twin = read_cause("z.toml", GOOD.replace('id = "x"', 'id = "a"').encode())
    found = rank([light, heavy, twin], {"a": 1.0}, {})
    assert [r.cause.id for r in found] == ["w", "a", "x"]


@pytest.mark.parametrize("cause", causes(), ids=lambda cause: cause.id)
def test_each_cause_that_ships_is_complete(cause: Cause) -> None:
    assert cause.next_test in methods()
    assert cause.source
    assert cause.confirm_by.endswith(".")
    assert cause.description.endswith(".")
    strongest = sum(e.weight for e in cause.evidence if e.weight > 0)
    assert strongest >= LEAST_WEIGHT, "it could never stand out"
    asked = {e.feature for e in cause.evidence}
    assert set(cause.needs) <= asked


def test_ten_causes_ship_under_unique_ids() -> None:
    assert {cause.id for cause in causes()} == {
        "surface-moisture", "bulk-moisture", "contamination", "embrittlement", "weak-layer",
        "voltage-dependent-defect", "bad-lead-or-guard", "residual-charge", "condensation", "instrument-limit",
    }  # fmt: skip
