"""Each test method against what the contract and the format say of it."""

from __future__ import annotations

import sys
from dataclasses import FrozenInstanceError

import pytest

import soakage.methods as room
from soakage.discovery import declared
from soakage.errors import UsageError
from soakage.methods import method, methods, words
from soakage.methods.base import Mark, Method, Shape
from soakage.model.keys import CLASSES, KEYS
from soakage.quantities import lookup, ratio_marks, resistance_mark

STATUSES = ("read", "secondary", "memory", "practice", "derived")
ALL = tuple(sorted(methods()))


@pytest.mark.parametrize(
    ("name", "shape"),
    (
        ("insulation-resistance", Shape.SPOT),
        ("timed-insulation-resistance", Shape.HOLD),
        ("dielectric-absorption-ratio", Shape.HOLD),
        ("polarization-index", Shape.HOLD),
        ("dielectric-discharge", Shape.DISCHARGE),
        ("step-voltage", Shape.STEPS),
        ("ramp", Shape.RAMP),
        ("terminal-set", Shape.SPOT),
        ("circuit", Shape.SPOT),
        ("cable-core", Shape.SPOT),
        ("cable-sheath", Shape.SPOT),
    ),
)
def test_how_the_voltage_runs(name: str, shape: Shape) -> None:
    assert method(name).shape is shape
    assert name in words(KEYS["method"])


@pytest.mark.parametrize(
    ("name", "classes"),
    (
        ("circuit", {"low-voltage-installation"}),
        ("cable-core", {"cable"}),
        ("cable-sheath", {"cable"}),
        ("polarization-index", {"rotating-machine", "transformer", "cable"}),
        ("dielectric-discharge", {"rotating-machine", "transformer", "cable"}),
        ("ramp", {"rotating-machine", "cable"}),
    ),
)
def test_what_a_method_is_made_on(name: str, classes: set[str]) -> None:
    assert set(method(name).classes) == classes


@pytest.mark.parametrize(
    ("name", "needed", "others"),
    (
        # IEEE Std 43, cl. 5.4 (secondary): one and ten minutes; 60/30 and 60/15 are common practice.
        ("polarization-index", {60.0, 600.0}, {15.0, 30.0, 190.0, 300.0}),
        ("dielectric-absorption-ratio", {30.0, 60.0}, {15.0}),
        ("insulation-resistance", set(), {60.0}),
        ("terminal-set", set(), {60.0}),
        ("cable-core", set(), {60.0}),
        ("cable-sheath", set(), {60.0}),
        ("circuit", set(), set()),
        ("ramp", set(), set()),
        ("step-voltage", {60.0}, set()),
    ),
)
def test_the_marks(name: str, needed: set[float], others: set[float]) -> None:
    marks = method(name).marks
    assert {mark.time for mark in marks if mark.required} == needed
    assert {mark.time for mark in marks if not mark.required} == others
    assert not any(mark.after_discharge for mark in marks)


def test_the_discharge_is_read_a_minute_into_the_short_circuit() -> None:
    # Definition of the dielectric discharge (from memory).
    (after,) = [mark for mark in method("dielectric-discharge").marks if mark.after_discharge]
    assert after == Mark(60.0, required=True, after_discharge=True)


def test_the_middle_mark_of_the_index_is_that_of_the_three_currents() -> None:
    # 1, root 10 and 10 minutes; root 10 minutes is 189.7 s (derived).
    assert any(abs(mark.time - 60 * 10**0.5) < 0.5 for mark in method("polarization-index").marks)


@pytest.mark.parametrize("name", ALL)
def test_marks_rise_and_are_later_than_nought(name: str) -> None:
    times = [mark.time for mark in method(name).marks if not mark.after_discharge]
    assert times == sorted(set(times))
    assert all(time > 0 for time in times)


@pytest.mark.parametrize("name", ALL)
def test_a_method_is_whole(name: str) -> None:
    found = method(name)
    assert found.id == name
    assert found.title
    assert found.purpose.endswith(".")
    assert found.limits_of_use.endswith(".")
    assert len(found.procedure) >= 3
    assert all(step.endswith(".") for step in found.procedure)
    assert found.source
    assert found.verified in STATUSES
    assert (found.verified == "practice") == found.source.startswith("common practice")


@pytest.mark.parametrize("name", ALL)
def test_a_method_names_classes_keys_and_quantities_that_are_there(name: str) -> None:
    found = method(name)
    assert found.classes
    assert set(found.classes) <= set(CLASSES)
    assert set(found.needs) <= set(KEYS)
    assert "test_voltage" in found.needs
    for quantity in found.quantities:
        assert lookup(quantity).id == quantity


@pytest.mark.parametrize("name", ALL)
def test_a_ratio_or_a_resistance_at_a_mark_has_its_mark(name: str) -> None:
    found = method(name)
    times = {mark.time for mark in found.marks}
    for quantity in found.quantities:
        pair, mark = ratio_marks(quantity), resistance_mark(quantity)
        assert pair is None or set(pair) <= times, quantity
        assert mark is None or mark in times, quantity


@pytest.mark.parametrize("name", ALL)
def test_every_procedure_ends_with_the_charge_and_the_earth(name: str) -> None:
    text = " ".join(method(name).procedure[-2:]).lower()
    assert "discharge" in text or "short" in text
    assert "earth" in text or name == "circuit"


@pytest.mark.parametrize("name", ALL)
def test_a_method_promises_nothing(name: str) -> None:
    found = method(name)
    text = " ".join((found.title, found.purpose, *found.procedure, found.limits_of_use)).lower()
    for word in ("safe ", "safely", "is discharged", "energised", "energized", "dangerless"):
        assert word not in text


@pytest.mark.parametrize(
    ("name", "role"),
    [(name, "overvoltage" if name in ("ramp", "step-voltage") else "insulation-resistance") for name in ALL],
)
def test_only_steps_and_ramps_are_read_in_the_table_of_overvoltages(name: str, role: str) -> None:
    assert method(name).voltage_role == role


def test_a_ramp_forms_no_resistance() -> None:
    assert not [q for q in method("ramp").quantities if "resistance" in q]
    assert "no resistance" in method("ramp").limits_of_use


@pytest.mark.parametrize("asset_class", CLASSES)
def test_every_class_has_a_method(asset_class: str) -> None:
    assert [name for name in ALL if asset_class in method(name).classes]


@pytest.mark.parametrize("name", ("", "PI", "polarization_index", "Polarization-Index", " ramp"))
def test_another_name_is_refused_with_those_known(name: str) -> None:
    with pytest.raises(UsageError) as caught:
        method(name)
    assert repr(name) in str(caught.value)
    assert all(known in str(caught.value) for known in ALL)


def test_methods_are_frozen_and_found_by_their_files() -> None:
    with pytest.raises(FrozenInstanceError):
        method("ramp").title = "other"  # type: ignore[misc]
    assert declared(sys.modules[room.__name__], "METHOD", Method, "no.such.group") == methods()


@pytest.mark.parametrize("name", ALL)
def test_a_method_stands_in_the_file_of_its_name(name: str) -> None:
    module = __import__(f"soakage.methods.{name.replace('-', '_')}", fromlist=["METHOD"])
    assert module.METHOD is method(name)
