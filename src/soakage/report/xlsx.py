"""The report as a workbook: figures as numbers in SI, words as words, nothing that calculates."""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from soakage.app.result import Evaluated, Evaluation
from soakage.quantities import lookup
from soakage.report.content import made, report_content
from soakage.report.diagnosis_sheet import Cell, diagnosis_rows
from soakage.report.figures import COVERAGE, written_out
from soakage.report.tables import budget_text, cited, name_of

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_EPOCH = datetime(1980, 1, 1, tzinfo=UTC)  # the earliest a zip file can carry
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
_LONGEST = 32_767
_WIDTHS = {"summary": (24, 46, 30, 46, 40), "default": (22, 40, 24, 18, 18, 18, 44, 44)}


def report_xlsx(evaluation: Evaluation) -> bytes:
    """Return the report as a workbook of six sheets.

    Parameters
    ----------
    evaluation : Evaluation
        The records with everything said about them.

    Returns
    -------
    bytes
        Sheets ``summary``, ``quantities``, ``criteria``, ``findings``, ``causes`` and ``readings``; the same bytes for
        the same evaluation. Text never becomes a formula, whatever it begins with.
    """
    from openpyxl import Workbook

    content = report_content(evaluation)
    book = Workbook()
    first = book.active
    if first is not None:
        book.remove(first)
    sheets: tuple[tuple[str, Iterable[Sequence[Cell]], tuple[int, ...]], ...] = (
        ("summary", _summary(evaluation, content), ()),
        ("quantities", _quantities(evaluation), (1,)),
        ("criteria", _criteria(evaluation), (1,)),
        ("findings", _findings(evaluation), (1,)),
        ("causes", diagnosis_rows(evaluation), (1,)),
        ("readings", _readings(evaluation), (1,)),
    )
    for title, rows, heads in sheets:
        sheet = book.create_sheet(title)
        _fill(sheet, rows, heads)
    stamp = _stamp(evaluation)
    book.properties.creator = "Soakage"
    book.properties.title = _plain(content["doc"]["title"])
    book.properties.created = book.properties.modified = stamp.replace(tzinfo=None)
    buffer = io.BytesIO()
    book.save(buffer)
    return _repacked(buffer.getvalue(), stamp)


def table_xlsx(title: str, heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return one table as a workbook; text never becomes a formula, whatever it begins with.

    Parameters
    ----------
    title : str
        Of the sheet, at most 31 characters.
    heads : sequence of str
        Heads of its columns.
    rows : iterable of sequence
        Texts, numbers, or None for nothing.
    """
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    if sheet is None:
        sheet = book.create_sheet()
    sheet.title = title
    _fill(sheet, [list(heads), *rows], (1,))
    book.properties.creator = "Soakage"
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _stamp(evaluation: Evaluation) -> datetime:
    """Return the time inside the workbook: the latest test's, else 1980; no clock is read."""
    when = made(evaluation)
    if when is None:
        return _EPOCH
    if not isinstance(when, datetime):
        when = datetime(when.year, when.month, when.day, tzinfo=UTC)
    when = (when if when.tzinfo else when.replace(tzinfo=UTC)).astimezone(UTC).replace(microsecond=0)
    return max(when, _EPOCH)


def _repacked(book: bytes, stamp: datetime) -> bytes:
    """Return the same zip with one time on every member and in the document's properties."""
    out = io.BytesIO()
    text = stamp.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*", rb"\g<1>" + text, data)
            member = zipfile.ZipInfo(name, stamp.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(member, data)
    return out.getvalue()


def _plain(text: str) -> str:
    """Return text a sheet can hold: control characters written out, no longer than a cell."""
    return str(written_out(text))[:_LONGEST]


def _fill(sheet: Worksheet, rows: Iterable[Sequence[Cell]], heads: tuple[int, ...]) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    bold, wrapped = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            if value is None or (isinstance(value, float) and not math.isfinite(value)):
                continue
            cell = sheet.cell(number, column)
            if isinstance(value, str):
                text = _plain(value)
                cell.value = text
                cell.data_type = "s"  # never a formula, an error or a date
                cell.quotePrefix = text.startswith(_FORMULA_SIGNS)
                if len(text) > 24:
                    cell.alignment = wrapped
            else:
                cell.value = value
            if number in heads or (not heads and column == 1):
                cell.font = bold
    for column, width in enumerate(_WIDTHS.get(sheet.title, _WIDTHS["default"]), start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    if heads:
        sheet.freeze_panes = "A2"


def _name(evaluated: Evaluated, number: int) -> list[Cell]:
    return [number, evaluated.record.title]


def _summary(evaluation: Evaluation, content: dict[str, Any]) -> list[list[Cell]]:
    rows: list[list[Cell]] = [
        ["Report", content["head"][1]],
        ["Title", content["title"]],
        ["Said", content["subtitle"]],
        ["State", content["draft"] or "reviewed"],
        ["Care", content["deference"]],
        ["Origin", content["foot"]],
    ]
    rows += [list(row) for row in content["origin"]]
    if content["summary"]:
        rows.append(["Summary", content["summary"]["sentence"]])
        rows += [
            ["Visit", visit["title"], visit["status"], visit["sentence"], visit["spread"]]
            for visit in content["summary"]["visits"]
        ]
    rows += [[], ["Record", "Asset and section", "Verdict", "Sentence", "Do next"]]
    for number, evaluated in enumerate(evaluation.records, start=1):
        verdict = evaluated.verdict
        rows.append(
            [*_name(evaluated, number), str(verdict.status), verdict.sentence, " ".join(verdict.actions)]
        )
    for network in content["networks"]:
        rows += [[], ["Between terminals", network["asset"], network["sentence"]]]
        rows += [["", pair["between"], pair["resistance"], pair["note"]] for pair in network["rows"]]
    rows += [
        ["Drying", dry["asset"], "", dry["sentence"], " ".join(dry["cautions"])]
        for dry in content["dry_outs"]
    ]
    for fault in content["errors"]:
        said = " ".join(filter(None, (fault["problem"], fault["remedy"])))
        rows.append(["Not read", fault["place"], fault["given"], said, fault["allowed"]])
    return rows


def _quantities(evaluation: Evaluation) -> list[list[Cell]]:
    rows: list[list[Cell]] = [
        ["Record", "Asset and section", "Quantity", "Value", "Unit (SI)", "Bound",
         "Expanded uncertainty, k = 2",
         "Formula", "Source", "Temperature rule", "Base temperature, K",
         "Budget, shares of the variance", "Id"]
    ]  # fmt: skip
    for number, evaluated in enumerate(evaluation.records, start=1):
        rows += [
            [
                *_name(evaluated, number), name_of(q.id), float(q.value), lookup(q.id).unit,
                str(q.bound or ""),
                COVERAGE * q.uncertainty if q.uncertainty is not None else "" if q.bound else "not declared",
                q.formula, q.source, q.rule, q.base_temperature, budget_text(q), q.id,
            ]
            for q in evaluated.quantities.values()
        ]  # fmt: skip
    return rows


def _criteria(evaluation: Evaluation) -> list[list[Cell]]:
    rows: list[list[Cell]] = [
        ["Record", "Asset and section", "Criterion", "Verdict", "Value (SI)", "Limit", "Reason", "Source",
         "How verified", "Deciding", "Probability that the limit is met", "Guard band (SI)", "Id"]
    ]  # fmt: skip
    for number, evaluated in enumerate(evaluation.records, start=1):
        rows += [
            [
                *_name(evaluated, number), j.name, str(j.status),
                float(j.value) if j.value is not None else None,
                j.limit.text if j.limit else "", j.reason, j.source,
                cited(j.source, "user" if j.user_limit else j.verified)[1] or "read",
                "yes" if j.decides else "", j.probability, j.guard_band, j.criterion,
            ]
            for j in evaluated.judgements
        ]  # fmt: skip
    return rows


def _findings(evaluation: Evaluation) -> list[list[Cell]]:
    rows: list[list[Cell]] = [["Record", "Asset and section", "Finding", "No better than", "Remedy", "Code"]]
    for number, evaluated in enumerate(evaluation.records, start=1):
        made_and_passed = f"{evaluated.checks_made} checks made, {evaluated.checks_passed} passed."
        rows.append([*_name(evaluated, number), made_and_passed])
        rows += [
            [*_name(evaluated, number), f.sentence, str(f.status or ""), f.remedy, f.code]
            for f in evaluated.findings
        ]
        rows += [
            [*_name(evaluated, number), f"Not tested: {n.what}", "", n.why, ""] for n in evaluated.not_tested
        ]
    return rows


def _readings(evaluation: Evaluation) -> Iterable[list[Cell]]:
    yield [
        "Record",
        "Asset and section",
        "Time, s",
        "Voltage, V",
        "Current, A",
        "Resistance, ohm",
        "Bound of resistance",
    ]
    words = {0: "", 1: "lower", -1: "upper"}
    for number, evaluated in enumerate(evaluation.records, start=1):
        readings = evaluated.record.readings
        columns = (readings.time, readings.voltage, readings.current, readings.resistance)
        for *values, bound in zip(*(c.tolist() for c in columns), readings.bound.tolist(), strict=True):
            yield [*_name(evaluated, number), *values, words[bound]]
