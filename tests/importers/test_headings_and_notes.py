"""Headings of columns, and the notebook in which faults are collected."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import InputError, QuantityError
from soakage.importers.base import MOST_FAULTS, NBSP, Notes, printable, shown
from soakage.importers.columns import READINGS, read_columns, recognised, split_heading


# ---- headings ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("cell", "column", "unit"),
    (
        ("time [s]", "time", "s"), ("Time [s]", "time", "s"), ("TIME", "time", None), ("t (s)", "time", "s"),
        ("elapsed time [min]", "time", "min"), ("voltage [V]", "voltage", "V"), ("V", "voltage", None),
        ("U [kV]", "voltage", "kV"), ("Test voltage / kV", "voltage", "kV"), ("current [uA]", "current", "uA"),
        ("I, nA", "current", "nA"), ("resistance [MOhm]", "resistance", "MOhm"), ("R (GΩ)", "resistance", "GΩ"),
        ("insulation resistance [TOhm]", "resistance", "TOhm"), ("circuit", "circuit", None),
        ("between", "between", None), ("note", "note", None), ("  time   [ s ]  ", "time", "s"),
    ),
)  # fmt: skip
def test_a_heading_is_taken_apart(cell: str, column: str, unit: str | None) -> None:
    assert split_heading(cell) == (column, unit)


@pytest.mark.parametrize(
    "cell", ("", " ", "temperature [degC]", "remarks on time", "[s]", "x" * 200, "time [s")
)
def test_a_heading_of_something_else(cell: str) -> None:
    assert split_heading(cell) is None


@pytest.mark.parametrize(
    ("cells", "count"),
    (
        (("time [s]", "voltage [V]", "current [uA]"), 3),
        (("time [s]", "t"), 1),
        (("a", "b"), 0),
        ((), 0),
        (("circuit", "between", "resistance"), 3),
    ),
)
def test_columns_are_counted_once(cells: tuple[str, ...], count: int) -> None:
    assert recognised(cells) == count


@given(st.permutations(["time [s]", "voltage [V]", "current [uA]", "resistance [MOhm]"]))
def test_columns_are_found_wherever_they_stand(cells: list[str]) -> None:
    notes = Notes("a.csv")
    found = read_columns(cells, 4, notes)
    assert set(found) == set(READINGS)
    assert all(cells[column.index].startswith(name) for name, column in found.items())
    assert not notes.faults
    assert not notes.findings


@pytest.mark.parametrize(
    ("cells", "field", "given", "problem"),
    (
        (("time [s]", "Time [min]"), "time", "Time [min]", "twice"),
        (("current [V]",), "current", "current [V]", ""),
        (("time [kg]",), "time", "time [kg]", ""),
        (("resistance [A]", "time [s]"), "resistance", "resistance [A]", ""),
    ),
)
def test_a_bad_heading_is_a_fault_of_its_line(
    cells: tuple[str, ...], field: str, given: str, problem: str
) -> None:
    notes = Notes("a.csv")
    read_columns(cells, 4, notes)
    (fault,) = notes.faults
    assert (fault.file, fault.row, fault.field, fault.given) == ("a.csv", 4, field, given)
    assert problem in fault.problem
    assert fault.allowed
    assert fault.remedy


def test_a_column_of_something_else_is_said_and_passed_over() -> None:
    notes = Notes("a.csv")
    assert set(read_columns(["time [s]", "", "weather"], 4, notes)) == {"time"}
    (finding,) = notes.findings
    assert finding.code == "unknown_column"
    assert "weather" in finding.sentence


# ---- the notebook -----------------------------------------------------------------------------------------
@given(st.text(max_size=300))
def test_what_is_shown_is_short_printable_and_on_one_line(text: str) -> None:
    found = shown(text)
    assert len(found) <= 81
    assert "\n" not in found
    assert all(letter.isprintable() or letter == NBSP for letter in found)


@given(st.text(max_size=60))
def test_printable_keeps_what_can_be_printed(text: str) -> None:
    found = printable(text)
    assert len(found) == len(text)
    for before, after in zip(text, found, strict=True):
        assert after == (before if before.isprintable() or before == NBSP else "\ufffd")


@pytest.mark.parametrize("count", (0, 1, MOST_FAULTS, MOST_FAULTS + 1, MOST_FAULTS + 250))
def test_faults_are_raised_together_and_counted_beyond_the_first(count: int) -> None:
    notes = Notes("a.csv")
    for row in range(count):
        notes.fault(row, "time", "x", "Wrong.")
    if not count:
        notes.settle()
        return
    with pytest.raises(InputError) as caught:
        notes.settle()
    faults = caught.value.faults
    kept = min(count, MOST_FAULTS)
    assert [fault.row for fault in faults[:kept]] == list(range(kept))
    assert len(faults) == kept + (count > MOST_FAULTS)
    if count > MOST_FAULTS:
        assert faults[-1].problem == f"{count - MOST_FAULTS} more faults were found."


def test_a_quantity_that_cannot_be_read_is_noted_with_its_place() -> None:
    notes = Notes("a.csv")
    notes.quantity_fault(7, "current", QuantityError("x", "No figure.", "a figure", "Mend it."))
    (fault,) = notes.faults
    assert str(fault) == "a.csv:7: current: No figure. Given: x. Allowed: a figure. Mend it."


def test_findings_never_stop_the_reading() -> None:
    notes = Notes("a.csv")
    notes.finding("something", "Something was seen.", "Look.")
    notes.settle()
    (finding,) = notes.findings
    assert (finding.code, finding.sentence, finding.remedy) == ("something", "Something was seen.", "Look.")
