"""Every key and cell of the format in a workbook: the same values as in text."""

from __future__ import annotations

import io
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest

from importing import codes, faults_of, read_all, read_one
from soakage.model.keys import KEYS
from test_keys_one_by_one import READ, plain

ROWS = ((15, 5003, 31.8), (30, 5002, 22.1), (60, 5001, 14.9), (600, 5001, 4.1))
COLUMNS = ("time [s]", "voltage [V]", "current [uA]")
TOP = (("# soakage", 1), ("# class", "rotating-machine"), ("# method", "polarization-index"))


def workbook(*lines: tuple[Any, ...], rows: tuple[tuple[Any, ...], ...] = (COLUMNS, *ROWS)) -> bytes:
    made = openpyxl.Workbook()
    sheet = made.worksheets[0]
    for line in (*lines, *rows):
        sheet.append(list(line))
    target = io.BytesIO()
    made.save(target)
    return target.getvalue()


@pytest.mark.parametrize(("name", "text", "value"), READ, ids=[f"{row[0]}-{row[1][:16]}" for row in READ])
def test_a_key_in_two_cells(name: str, text: str, value: Any) -> None:
    typed = text[1:-1] if text.startswith('"') and text.count('"') == 2 else text
    record = read_one(workbook(*TOP, (f"# {name}", typed)), "test.xlsx")
    found: Any = record.stated()[name]
    assert (dict(found) if isinstance(value, dict) else found) == plain(value)


@pytest.mark.parametrize(
    ("name", "cell", "value"),
    (
        ("year", 2004, 2004),
        ("year", 2004.0, 2004),
        ("thermal_class", 155, "155"),
        ("work_order", 451, "451"),
        ("revision", 2, "2"),
        ("hours_out_of_service", 36, 129600.0),
        ("hours_out_of_service", 1.5, 5400.0),
        ("started", datetime(2026, 3, 14, 9, 20), datetime(2026, 3, 14, 9, 20)),  # noqa: DTZ001 - as a cell holds it
        ("calibration_due", date(2026, 12, 31), date(2026, 12, 31)),
        ("calibration_due", datetime(2026, 12, 31), date(2026, 12, 31)),  # noqa: DTZ001 - as a cell holds it
        ("in_service_since", date(1998, 5, 1), date(1998, 5, 1)),
        ("hazardous_area", True, "yes"),
        ("hazardous_area", False, "no"),
    ),
)
def test_cells_that_are_no_text(name: str, cell: Any, value: Any) -> None:
    record = read_one(workbook(*TOP, (f"# {name}", cell)), "test.xlsx")
    found = record.stated()[name]
    if isinstance(value, date) and not isinstance(value, datetime) and isinstance(found, datetime):
        found = found.date()
    assert found == value


@pytest.mark.parametrize(
    ("name", "cell"), (("rated_voltage", 6600), ("test_voltage", 5000.0), ("winding_temperature", 27.5))
)
def test_a_number_without_its_unit_is_no_figure(name: str, cell: float) -> None:
    (fault,) = faults_of(workbook(*TOP, (f"# {name}", cell)), "test.xlsx")
    assert fault.field == name
    assert "Unit missing" in fault.problem
    assert fault.row == 4


def test_the_readings_are_those_of_the_cells() -> None:
    record = read_one(workbook(*TOP), "test.xlsx")
    assert record.readings.time.tolist() == [15.0, 30.0, 60.0, 600.0]
    assert record.readings.current.tolist() == pytest.approx([31.8e-6, 22.1e-6, 14.9e-6, 4.1e-6])
    assert codes(record) == []


@pytest.mark.parametrize(
    ("cell", "ohms", "bound"),
    (
        (250, 250e6, 0), (0.5, 5e5, 0), ("> 500", 5e8, 1), ("< 0.1", 1e5, -1), ("0.00", 1e4, -1), ("1.5", 1.5e6, 0),
        ("2 GOhm", 2e9, 0), ("> 10 TOhm", 1e13, 1),
    ),
)  # fmt: skip
def test_resistances_in_cells(cell: Any, ohms: float, bound: int) -> None:
    data = workbook(*TOP, rows=(("time [s]", "resistance [MOhm]"), (60, cell)))
    record = read_one(data, "test.xlsx")
    assert record.readings.resistance[0] == pytest.approx(ohms, rel=1e-9)
    assert record.readings.bound[0] == bound


@pytest.mark.parametrize("cell", ("wet", "#N/A", -5, "nan"))
def test_a_bad_cell_names_its_row(cell: Any) -> None:
    data = workbook(*TOP, rows=(("time [s]", "resistance [MOhm]"), (30, 1), (60, cell)))
    (fault,) = faults_of(data, "test.xlsx")
    assert (fault.row, fault.field) == (6, "resistance")


def test_a_schedule_in_a_workbook() -> None:
    top = (("# soakage", 1), ("# class", "low-voltage-installation"), ("# method", "circuit"))
    head = ("circuit", "between", "voltage [V]", "resistance [MOhm]", "note")
    rows = (
        ("Kitchen", "L-PE", 500, 120, "ok"),
        ("Kitchen", "N-PE", 500, "> 500", None),
        ("Hall", "L-N", 500, 0.2, "damp"),
    )
    records = read_all(workbook(*top, rows=(head, *rows)), "test.xlsx")
    assert [r.asset.circuit for r in records] == ["Kitchen", "Kitchen", "Hall"]
    assert [r.asset.between for r in records] == ["L-PE", "N-PE", "L-N"]
    assert [r.readings.resistance[0] for r in records] == pytest.approx([1.2e8, 5e8, 2e5])
    assert [r.readings.bound[0] for r in records] == [0, 1, 0]
    assert [r.paper.notes for r in records] == ["ok", None, "damp"]


@pytest.mark.parametrize(
    "name", [name for name in KEYS if KEYS[name].words and name not in ("class", "method")]
)
def test_a_word_that_is_not_known_is_refused_with_those_that_are(name: str) -> None:
    (fault,) = faults_of(workbook(*TOP, (f"# {name}", "quite another")), "test.xlsx")
    assert (fault.row, fault.field) == (4, name)
    assert fault.allowed == ", ".join(KEYS[name].words)
