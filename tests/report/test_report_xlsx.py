"""The report as a workbook: six sheets, figures as numbers, text that never calculates."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from typing import Any

import openpyxl
import pytest

import invented
from soakage.app.result import Evaluation
from soakage.report.xlsx import report_xlsx

FORMULAS = ("=1+1", "+1", "-1+2", "@SUM(A1)", '=HYPERLINK("x")', "=cmd|' /C calc'!A0", "\t=1")


def book(evaluation: Evaluation) -> Any:
    return openpyxl.load_workbook(io.BytesIO(report_xlsx(evaluation)))


def rows(evaluation: Evaluation, sheet: str) -> list[tuple[Any, ...]]:
    return list(book(evaluation)[sheet].iter_rows(values_only=True))


def test_sheets() -> None:
    assert book(invented.visit()).sheetnames == [
        "summary",
        "quantities",
        "criteria",
        "findings",
        "causes",
        "readings",
    ]


@pytest.mark.parametrize("text", FORMULAS)
def test_text_never_becomes_a_formula(text: str) -> None:
    asset = replace(invented.ASSET, name=text, section=None, site=text, tag=text)
    paper = replace(invented.PAPER, tested_by=text, report_number=text, notes=text)
    finding = replace(invented.FINDINGS[0], sentence=text, remedy=text)
    made = invented.evaluated(invented.record(asset=asset, paper=paper), findings=(finding,))
    whole = book(invented.evaluation(made))
    seen = 0
    for sheet in whole:
        for cell in (c for row in sheet.iter_rows() for c in row if c.value is not None):
            assert cell.data_type in ("s", "n")
            if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@", "\t")):
                assert cell.quotePrefix
                seen += 1
    assert seen >= 4
    sheets = zipfile.ZipFile(io.BytesIO(report_xlsx(invented.evaluation(made))))
    assert not any(b"<f>" in sheets.read(name) for name in sheets.namelist())


def test_quantities_are_numbers_in_si() -> None:
    head, *found = rows(invented.evaluation(), "quantities")
    table = {row[-1]: dict(zip(head, row, strict=True)) for row in found}
    index = table["polarization_index"]
    assert index["Value"] == 1.6187
    assert index["Expanded uncertainty, k = 2"] == pytest.approx(2 * 0.0074)
    assert table["insulation_resistance_60s"]["Unit (SI)"] == "ohm"
    assert table["insulation_resistance_60s"]["Value"] == pytest.approx(832.4e6)
    assert table["dielectric_absorption_ratio"]["Expanded uncertainty, k = 2"] == "not declared"
    assert table["insulation_resistance_60s_corrected"]["Base temperature, K"] == 313.15


def test_a_bound_is_said() -> None:
    head, *found = rows(invented.visit(), "quantities")
    bound = next(dict(zip(head, row, strict=True)) for row in found if row[0] == 2)
    assert (bound["Bound"], bound["Value"], bound["Expanded uncertainty, k = 2"]) == ("lower", 1e12, None)


def test_criteria_and_findings() -> None:
    head, *found = rows(invented.evaluation(), "criteria")
    first = dict(zip(head, found[0], strict=True))
    assert first["Verdict"] == "investigate"
    assert first["Deciding"] == "yes"
    assert first["How verified"] == "As reported by others, not read."
    assert [row[8] for row in found][-1] == "Your own limit."
    said = [row[2] for row in rows(invented.evaluation(), "findings")]
    assert "14 checks made, 12 passed." in said
    assert "Not tested: Insulation between turns" in said


def test_every_reading_as_it_came() -> None:
    evaluation = invented.evaluation()
    readings = evaluation.records[0].record.readings
    head, *found = rows(evaluation, "readings")
    assert head[2:6] == ("Time, s", "Voltage, V", "Current, A", "Resistance, ohm")
    assert len(found) == len(readings)
    # a workbook holds 16 digits
    assert [row[4] for row in found] == pytest.approx(readings.current.tolist(), rel=1e-14)


def test_a_missing_reading_is_an_empty_cell() -> None:
    found = rows(invented.evaluation(invented.ramp()), "readings")[1:]
    assert all(row[5] is None for row in found)


def test_the_summary_says_state_and_care() -> None:
    said = {str(v) for row in rows(invented.visit(), "summary") for v in row if v}
    assert "draft, not reviewed" in said
    assert any("Local codes and licensed practice come first." in v for v in said)
    assert "pump-4.csv, line 7, test_voltage" in said
    assert "3.200\u00a0±\u00a00.080\u00a0GΩ" in said


def test_bytes_repeat_and_carry_the_time_of_the_test() -> None:
    data = report_xlsx(invented.evaluation())
    assert data == report_xlsx(invented.evaluation())
    members = zipfile.ZipFile(io.BytesIO(data)).infolist()
    assert {m.date_time for m in members} == {(2026, 3, 14, 9, 20, 0)}
    assert book(invented.evaluation()).properties.modified.isoformat()[:19] == "2026-03-14T09:20:00"


def test_control_characters_are_written_out() -> None:
    asset = replace(invented.ASSET, name="bell\x07", section=None)
    said = {
        row[1]
        for row in rows(invented.evaluation(invented.evaluated(invented.record(asset=asset))), "summary")
    }
    assert "bell[U+0007]" in said


def test_no_record() -> None:
    empty = Evaluation((), (), (), (), invented.RULES)
    members = zipfile.ZipFile(io.BytesIO(report_xlsx(empty))).infolist()
    assert {m.date_time for m in members} == {(1980, 1, 1, 0, 0, 0)}
