"""Everything that is printed of the whole demo: finite, plain, within its width, and claiming nothing it may not."""

from __future__ import annotations

import io
import json
import math
import re
from collections.abc import Iterator, Mapping
from html import unescape
from typing import Any

import jsonschema
import openpyxl
import pytest

from soakage.app.contract_json import evaluation_json, exit_code
from soakage.app.contract_schema import judge_schema
from soakage.app.result import Evaluated, Evaluation
from soakage.cli.text import evaluation_text, record_text
from soakage.model.verdict import Status, worst
from soakage.report import charts
from soakage.report.content import report_content
from soakage.report.html import report_html
from soakage.report.xlsx import report_xlsx

# What no output may claim: the tool gives no leave, and says of nothing that it is without voltage.
FORBIDDEN = (
    r"\bsafe(?:ly)?\b",
    r"\bmay be (?:re-?)?energi[sz]ed\b",
    r"\b(?:can|ready to) be (?:re-?)?energi[sz]ed\b",
    r"\b(?:is|are|has been|was) (?:now )?discharged\b",
    r"\ball[- ]clear\b",
    r"\bis (?:now )?(?:dead|clear)\b",
    r"\bno (?:danger|hazard|risk)\b",
    r"\bguaranteed?\b",
)
BROKEN = (
    r"\bnan\b", r"\b-?inf\b", r"\bNone\b", r"\{value\}", r"\bTrue\b", r"\bFalse\b", r"<soakage", r"object at 0x",
    r"\bTODO\b", r"Traceback",
)  # fmt: skip


def leaves(value: object, path: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from leaves(item, f"{path}.{key}")
    elif isinstance(value, list | tuple):
        for place, item in enumerate(value):
            yield from leaves(item, f"{path}[{place}]")
    else:
        yield path, value


@pytest.fixture(scope="module")
def page(evaluation: Evaluation) -> str:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(charts, "svg", lambda *_: "<svg></svg>")  # what charts show is held by their own tests
        text = report_html(evaluation)
    text = re.sub(r"<style.*?</style>", " ", text, flags=re.DOTALL)
    return unescape(re.sub(r"<[^>]+>", " ", text))


@pytest.fixture(scope="module")
def book(evaluation: Evaluation) -> Any:
    return openpyxl.load_workbook(io.BytesIO(report_xlsx(evaluation)))


@pytest.fixture(scope="module")
def content(evaluation: Evaluation) -> dict[str, Any]:
    return report_content(evaluation)


@pytest.fixture(scope="module")
def printed(evaluation: Evaluation) -> str:
    return "\n".join(evaluation_text(evaluation))


@pytest.fixture(scope="module")
def told(evaluation: Evaluation) -> dict[str, Any]:
    return evaluation_json(evaluation)


# ---------------------------------------------------------------------------------------- what may not be said
@pytest.mark.parametrize("pattern", FORBIDDEN)
def test_no_output_claims_what_it_may_not(
    pattern: str, printed: str, page: str, book: Any, content: dict[str, Any], told: dict[str, Any]
) -> None:
    cells = [str(c.value) for sheet in book for row in sheet.iter_rows() for c in row if c.value is not None]
    texts = {
        "terminal": printed,
        "page": page,
        "workbook": "\n".join(cells),
        "paper": "\n".join(str(v) for _, v in leaves(content) if isinstance(v, str)),
        "json": json.dumps(told, ensure_ascii=False),
    }
    for where, text in texts.items():
        flat = " ".join(text.split())
        found = re.search(pattern, flat, flags=re.IGNORECASE)
        assert found is None, f"{where}: ...{flat[max(0, found.start() - 60) : found.end() + 40]}..."


@pytest.mark.parametrize("pattern", BROKEN)
def test_nothing_broken_is_printed(pattern: str, printed: str, content: dict[str, Any]) -> None:
    paper = "\n".join(str(v) for _, v in leaves(content) if isinstance(v, str))
    for text in (printed, paper):
        found = re.search(pattern, text)
        assert found is None, text[max(0, found.start() - 60) : found.end() + 40]


def test_energising_is_only_ever_forbidden_or_left_to_others(printed: str, page: str) -> None:
    for text in (printed, page):
        flat = " ".join(text.split())
        for found in re.finditer(r"energis", flat):
            around = flat[max(0, found.start() - 80) : found.end() + 30].lower()
            assert re.search(r"do not|before|no ground|no leave|never|not to", around), around


def test_care_is_named_in_every_output(printed: str, page: str, content: dict[str, Any], book: Any) -> None:
    care = "Local codes and licensed practice come first."
    for text in (printed, page, content["deference"]):
        assert care in " ".join(text.split())
    cells = [str(c.value) for row in book["summary"].iter_rows() for c in row]
    assert any(care in cell for cell in cells)


# --------------------------------------------------------------------------------------------------- terminal
@pytest.mark.parametrize("columns", (20, 60, 72, 80, 100, 110, 300))
def test_every_line_fits_the_terminal(
    columns: int, evaluation: Evaluation, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = [line for text in evaluation_text(evaluation) for line in text.splitlines()]
    least = max(60, min(110, columns))
    wide = [line for line in lines if len(line) > least and " " in line.strip()[least // 2 :]]
    assert wide == []


def test_no_line_carries_colour_or_trailing_blanks(printed: str) -> None:
    assert "\x1b" not in printed
    assert "\t" not in printed
    assert [line for line in printed.splitlines() if line != line.rstrip()] == []
    assert not re.search(r"\n{4,}", printed)


def test_narrow_and_wide_say_the_same(evaluation: Evaluation, monkeypatch: pytest.MonkeyPatch) -> None:
    def words(columns: int) -> list[str]:
        monkeypatch.setenv("COLUMNS", str(columns))
        text = " ".join(line for line in evaluation_text(evaluation) if not set(line) <= {"-"})
        return sorted(text.split())

    assert words(60) == words(110)


def test_the_verdict_stands_before_everything_else(evaluation: Evaluation) -> None:
    for evaluated in evaluation.records:
        lines = [line.strip() for text in record_text(evaluated) for line in text.splitlines()]
        head = next(i for i, line in enumerate(lines) if line and set(line) == {"-"})
        assert lines[head + 1] == str(evaluated.verdict.status).upper()
        assert lines.index("Quantities") > head + 1


def test_every_judgement_and_finding_is_printed(evaluation: Evaluation) -> None:
    for evaluated in evaluation.records:
        flat = " ".join(" ".join(record_text(evaluated)).split())
        for judgement in evaluated.judgements:
            assert " ".join(judgement.name.split()) in flat
        for finding in evaluated.findings:
            assert f"{finding.code}: " in flat
            assert " ".join(finding.sentence.split()) in flat
        for action in evaluated.verdict.actions:
            assert " ".join(action.split()) in flat
        for ranked in evaluated.causes:
            assert ranked.cause.name in flat


# -------------------------------------------------------------------------------------------------------- JSON
def test_the_json_is_finite_and_of_its_schema(told: dict[str, Any]) -> None:
    for path, value in leaves(told):
        assert not (isinstance(value, float) and not math.isfinite(value)), path
    json.dumps(told, allow_nan=False)
    jsonschema.validate(told, judge_schema())


def test_the_json_reads_back_as_itself(told: dict[str, Any]) -> None:
    assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_the_json_keeps_the_order_and_count_of_the_records(
    told: dict[str, Any], evaluation: Evaluation
) -> None:
    assert len(told["records"]) == len(evaluation.records)
    for shown, evaluated in zip(told["records"], evaluation.records, strict=True):
        assert shown["verdict"]["status"] == str(evaluated.verdict.status)
        assert set(shown["quantities"]) == set(evaluated.quantities)


def test_no_text_of_the_json_is_blank_where_a_reason_is_owed(told: dict[str, Any]) -> None:
    for shown in told["records"]:
        assert shown["verdict"]["sentence"].strip()
        for judged in shown["judgements"]:
            if judged["status"] in ("not judged", "invalid test", "not applicable"):
                assert judged["reason"].strip(), judged


def test_causes_in_json_weigh_what_they_weigh(told: dict[str, Any], evaluation: Evaluation) -> None:
    for shown, evaluated in zip(told["records"], evaluation.records, strict=True):
        assert [c["id"] for c in shown["causes"]] == [r.cause.id for r in evaluated.causes]
        for cause, ranked in zip(shown["causes"], evaluated.causes, strict=True):
            against = [e for e in cause["evidence"] if e.startswith("against: ")]
            assert len(against) == len(ranked.con)
            assert len(cause["evidence"]) == len(ranked.con) + len(ranked.pro)


# ------------------------------------------------------------------------------------------- sentences and figures
def test_a_visit_is_as_bad_as_its_worst_record(evaluation: Evaluation) -> None:
    for visit in evaluation.visits:
        statuses = [evaluation.records[k].verdict.status for k in visit.members]
        top = worst(statuses)
        if top is not None and top.rung >= Status.INVESTIGATE.rung:
            assert visit.status is top
        assert visit.sentence.startswith(f"{len(visit.members)} record")
        for status in set(statuses):
            assert f"{statuses.count(status)} {status}" in visit.sentence


def test_each_record_is_in_one_visit(evaluation: Evaluation) -> None:
    members = [k for visit in evaluation.visits for k in visit.members]
    assert sorted(members) == list(range(len(evaluation.records)))


def test_the_exit_status_follows_the_worst(evaluation: Evaluation) -> None:
    assert exit_code(evaluation) == 1


def test_findings_and_judgements_are_worst_first(evaluation: Evaluation) -> None:
    need = {
        "unfit": 0,
        "investigate": 1,
        "invalid test": 2,
        "not judged": 3,
        "watch": 4,
        "sound": 5,
        "not applicable": 6,
    }
    for evaluated in evaluation.records:
        rungs = [f.status.rung if f.status else -1 for f in evaluated.findings]
        assert rungs == sorted(rungs, reverse=True)
        needs = [need[str(j.status)] for j in evaluated.judgements]
        assert needs == sorted(needs)


def test_a_verdict_that_is_not_good_names_a_figure_or_a_finding(evaluation: Evaluation) -> None:
    for evaluated in evaluation.records:
        verdict = evaluated.verdict
        if verdict.status.rung >= Status.INVESTIGATE.rung:
            said = [f.sentence for f in evaluated.findings if f.status]
            assert re.search(r"\d", verdict.sentence) or any(s in verdict.sentence for s in said)
            assert verdict.actions
        assert verdict.sentence.startswith(evaluated.record.title)


def test_a_fitted_figure_is_never_judged(evaluation: Evaluation) -> None:
    for evaluated in evaluation.records:
        assert not [j for j in evaluated.judgements if j.quantity.endswith("_fitted")]


def test_a_forecast_stands_beside_the_judgements(
    evaluation: Evaluation, by_file: Mapping[str, list[Evaluated]]
) -> None:
    foreseen = [e for e in evaluation.records if e.forecast is not None]
    for evaluated in foreseen:
        assert "polarization_index" not in evaluated.quantities
        assert all(j.value is None for j in evaluated.judgements if j.quantity == "polarization_index")
        text = " ".join(" ".join(record_text(evaluated)).split())
        assert "Forecast, no judgement" in text
        assert "replaces no hold that a standard asks for" in text
    assert sum(map(len, by_file.values())) == len(evaluation.records)


# ----------------------------------------------------------------------------------------------------- reports
def test_a_report_has_one_part_for_each_record_or_schedule(
    content: dict[str, Any], evaluation: Evaluation
) -> None:
    circuits = {e.record.origin.file for e in evaluation.records if e.method.id == "circuit"}
    others = [e for e in evaluation.records if e.method.id != "circuit"]
    assert len(content["parts"]) == len(others) + len(circuits)
    assert [part["number"] for part in content["parts"]] == list(range(1, len(content["parts"]) + 1))


def test_the_summary_lists_every_record_the_neediest_first(
    content: dict[str, Any], evaluation: Evaluation
) -> None:
    order = ("unfit", "investigate", "invalid test", "not judged", "watch", "sound", "not applicable")
    rows = content["summary"]["rows"]
    assert len(rows) == len(evaluation.records)
    places = [order.index(row["status"]) for row in rows]
    assert places == sorted(places)
    assert sorted(row["number"] for row in rows) == list(range(1, len(rows) + 1))


def test_the_content_is_plain_json_without_a_lost_number(content: dict[str, Any]) -> None:
    json.dumps(content, allow_nan=False)


def test_the_page_says_every_verdict(page: str, content: dict[str, Any]) -> None:
    flat = " ".join(page.split())
    for part in content["parts"]:
        for path, text in leaves(part["verdict"]):
            if isinstance(text, str):
                assert " ".join(text.split()) in flat, path
        for step in part["next"]:
            assert " ".join(step.split()) in flat


def test_the_workbook_holds_every_reading_quantity_and_criterion(book: Any, evaluation: Evaluation) -> None:
    assert book.sheetnames == ["summary", "quantities", "criteria", "findings", "causes", "readings"]
    counts = {
        "quantities": sum(len(e.quantities) for e in evaluation.records),
        "criteria": sum(len(e.judgements) for e in evaluation.records),
        "readings": sum(len(e.record.readings) for e in evaluation.records),
        "findings": sum(1 + len(e.findings) + len(e.not_tested) for e in evaluation.records),
    }
    for name, count in counts.items():
        assert book[name].max_row == count + 1, name


def test_no_cell_of_the_workbook_calculates(book: Any) -> None:
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type not in ("f", "e"), cell.coordinate
                if isinstance(cell.value, float):
                    assert math.isfinite(cell.value)


def test_the_numbers_of_the_workbook_are_those_judged(book: Any, evaluation: Evaluation) -> None:
    rows = [[c.value for c in row] for row in book["quantities"].iter_rows(min_row=2)]
    place = 0
    for number, evaluated in enumerate(evaluation.records, start=1):
        for quantity in evaluated.quantities.values():
            row = rows[place]
            place += 1
            assert (row[0], row[-1]) == (number, quantity.id)
            assert row[3] == pytest.approx(quantity.value, rel=1e-12)
