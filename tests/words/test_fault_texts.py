"""Faults as they are printed: place, field, what is wrong, what was given, what is allowed, what to do."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage import errors
from soakage.errors import Fault, InputError, QuantityError, SoakageError

WORDS = st.text("abc xyz", min_size=1, max_size=12).filter(str.strip)


@pytest.mark.parametrize(
    ("fault", "line"),
    (
        (
            Fault("a.csv", 7, "current", "x", "This is no figure.", "a figure", "Leave it empty."),
            "a.csv:7: current: This is no figure. Given: x. Allowed: a figure. Leave it empty.",
        ),
        (Fault("a.csv", None, "", "", "Cut short.", "", ""), "a.csv: Cut short."),
        (Fault("", 7, "", "", "Cut short.", "", ""), "line 7: Cut short."),
        (Fault("", None, "year", "", "No year.", "", ""), "year: No year."),
        (Fault("", None, "", "", "Nothing.", "", "Do it."), "Nothing. Do it."),
        (Fault("a", None, "", "5", "Wrong.", "", ""), "a: Wrong. Given: 5."),
        (Fault("a", None, "", "", "Wrong.", "6", ""), "a: Wrong. Allowed: 6."),
        (Fault("a", 0, "", "", "Wrong.", "", ""), "a:0: Wrong."),
    ),
)
def test_a_fault_is_one_line(fault: Fault, line: str) -> None:
    assert str(fault) == line


@given(st.tuples(WORDS, st.integers(1, 10**6), WORDS, WORDS, WORDS, WORDS, WORDS))
def test_nothing_of_a_fault_is_left_unsaid(parts: tuple[str, int, str, str, str, str, str]) -> None:
    assert all(str(part) in str(Fault(*parts)) for part in parts)


def test_an_input_error_holds_and_prints_every_fault() -> None:
    faults = [Fault("a", row, "", "", f"Fault {row}.", "", "") for row in range(1, 4)]
    error = InputError(iter(faults))
    assert error.faults == tuple(faults)
    assert str(error).splitlines() == [str(fault) for fault in faults]
    assert str(InputError([])) == ""


def test_a_quantity_error_becomes_a_fault_of_its_place() -> None:
    error = QuantityError("1,500 V", "Two readings.", "1.5 V or 1500 V", "Write one.")
    assert str(error) == "Two readings. Given: 1,500 V. Allowed: 1.5 V or 1500 V. Write one."
    assert error.fault("a.csv", 4, "test_voltage") == Fault(
        "a.csv", 4, "test_voltage", "1,500 V", "Two readings.", "1.5 V or 1500 V", "Write one."
    )


@pytest.mark.parametrize(
    "name",
    ("InputError", "QuantityError", "UsageError", "ValidityError", "StandardDataError", "DiscoveryError"),
)
def test_one_base_catches_all(name: str) -> None:
    kind = getattr(errors, name)
    assert issubclass(kind, SoakageError)
    assert not issubclass(kind, ValueError), "misuse is never mistaken for a bad value of Python's own"
