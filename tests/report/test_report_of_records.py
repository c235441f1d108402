"""Records as typed, judged by the default rules, and what their reports print: words, figures, sheets, drawings."""

from __future__ import annotations

import io
import json
import math
import re
import tomllib
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl
import pypdf
import pytest

from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluation
from soakage.app.rules import default_rules
from soakage.importers.reading import read_bytes
from soakage.model.verdict import Status
from soakage.report import charts
from soakage.report.content import DEFERENCE, DRAFT, report_content
from soakage.report.html import report_html
from soakage.report.pdf import report_pdf
from soakage.report.xlsx import report_xlsx
from soakage.units import Bound

CASES: dict[str, dict[str, Any]] = {
    case["name"]: case
    for case in tomllib.loads((Path(__file__).parent / "cases_records.toml").read_text(encoding="utf-8"))[
        "record"
    ]
}
EVERY = pytest.mark.parametrize("name", CASES)
NEVER = (
    r"\bsafe\b", r"may be energi[sz]ed", r"\ball clear\b", r"\bis discharged\b", r"\bsatisfactory\b",
    r"within acceptable limits", r"\bno danger\b", r"\bapproved for\b",
)  # fmt: skip
NOT_A_FIGURE = re.compile(r"\b(?:nan|inf|None|null|NaN|undefined)\b")


class Text(HTMLParser):
    """Keeps what a reader sees: no style, no drawing."""

    def __init__(self) -> None:
        super().__init__()
        self.hidden = 0
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del attrs
        self.hidden += tag in ("style", "svg")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "svg")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


@cache
def evaluation(name: str) -> Evaluation:
    records = read_bytes(CASES[name]["text"].lstrip().encode(), "invented.csv")
    return evaluate(records, default_rules())


@cache
def html(name: str) -> str:
    return report_html(evaluation(name))


@cache
def seen(name: str) -> str:
    reader = Text()
    reader.feed(html(name))
    return " ".join(" ".join(reader.words).replace("\u00a0", " ").split())


@cache
def content(name: str) -> dict[str, Any]:
    return report_content(evaluation(name))


@cache
def workbook(name: str) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(report_xlsx(evaluation(name))))


def texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [text for part in value.values() for text in texts(part)]
    if isinstance(value, list | tuple):
        return [text for part in value for text in texts(part)]
    return []


# ------------------------------------------------------------------------------------------ case by case
@EVERY
def test_the_page_says_what_it_must(name: str) -> None:
    missing = [part for part in CASES[name]["says"] if part not in seen(name)]
    assert missing == [], seen(name)


@EVERY
def test_the_page_is_silent_where_it_must_be(name: str) -> None:
    silent = CASES[name].get("silent", ())
    assert [part for part in silent if re.search(rf"(?<![\w-]){re.escape(part)}", seen(name))] == []


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "status" in case])
def test_the_status_stands_in_every_paper(name: str) -> None:
    status = CASES[name]["status"]
    (evaluated,) = evaluation(name).records
    assert str(evaluated.verdict.status) == status
    assert content(name)["parts"][0]["verdict"]["status"] == status
    assert status in seen(name)
    sheet = workbook(name)["summary"]
    assert status in {row[2] for row in sheet.iter_rows(values_only=True)}


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "limits" in case])
def test_the_limits_are_printed_with_the_criteria(name: str) -> None:
    found = content(name)["parts"][0]["criteria"]
    limits = [row["limit"].replace("\u00a0", " ") for row in (*found["rows"], *found["beside"])]
    for wanted in CASES[name]["limits"]:
        assert any(limit.startswith(wanted) for limit in limits), limits


# ----------------------------------------------------------------------------------- what holds for all
@EVERY
def test_no_report_promises_anything(name: str) -> None:
    for pattern in NEVER:
        assert not re.search(pattern, seen(name), re.IGNORECASE), pattern


@EVERY
def test_every_report_defers_and_cautions(name: str) -> None:
    assert DEFERENCE in seen(name)
    assert DRAFT in seen(name)
    for part in content(name)["parts"]:
        assert part["cautions"], "a test under voltage leaves charge behind"
        for caution in part["cautions"]:
            assert caution["lead"].endswith(".")
            assert caution["verified"] or caution["source"], "a caution says where it comes from"
        told = " ".join(f"{c['lead']} {c['rest']}" for c in part["cautions"]).lower()
        assert "earth" in told
        assert "prove" in told


@EVERY
def test_no_text_is_a_figure_that_is_none(name: str) -> None:
    assert [text for text in texts(content(name)) if NOT_A_FIGURE.search(text)] == []


@EVERY
def test_content_is_plain_and_the_same_each_time(name: str) -> None:
    once = json.dumps(content(name), allow_nan=False, sort_keys=True)
    assert once == json.dumps(report_content(evaluation(name)), allow_nan=False, sort_keys=True)


@EVERY
def test_every_criterion_names_its_ground(name: str) -> None:
    statuses = {str(status) for status in Status}
    for part in content(name)["parts"]:
        for row in (*part["criteria"]["rows"], *part["criteria"]["beside"]):
            assert row["source"] or row["verified"], row["id"]
            assert row["status"] in statuses
            assert row["limit"]
            if row["status"] not in ("sound", "watch"):
                assert row["reason"] or row["limit"] != "–", row["id"]
            if row["status"] in ("not judged", "not applicable", "invalid test"):
                assert row["reason"], f"{row['id']}: what is not judged says why"


@EVERY
def test_every_quantity_says_how_it_was_had(name: str) -> None:
    records = dict(enumerate(evaluation(name).records, start=1))
    for number, part in enumerate(content(name)["parts"], start=1):
        if part["kind"] != "record":
            continue
        sources = {entry["number"] for entry in part["quantities"]["sources"]}
        for row in part["quantities"]["rows"]:
            quantity = records[number].quantities[row["id"]]
            assert row["how"], row["id"]
            assert row["source"] in sources | {0}
            sign = {Bound.LOWER: ">", Bound.UPPER: "<", None: ""}[quantity.bound]
            assert row["value"].startswith(sign)
            assert sign or row["value"][0] not in "<>"
            assert not (row["plus_minus"] and quantity.bound), "a bound has no uncertainty"


@EVERY
def test_uncertainty_only_from_a_declared_accuracy(name: str) -> None:
    for evaluated in evaluation(name).records:
        if not evaluated.record.instrument.accuracy:
            told = {q.id for q in evaluated.quantities.values() if q.uncertainty is not None}
            # the air has an uncertainty of its own; nothing electrical has
            assert told <= {"dew_point"}
            assert "not declared" in seen(name) or evaluated.method.id == "circuit"


@EVERY
def test_nothing_is_run_or_fetched(name: str) -> None:
    page = html(name)
    assert not re.search(r"<(script|iframe|object|embed|link|img|form|base)\b", page, re.IGNORECASE)
    assert not re.search(r"\son\w+\s*=", re.sub(r">[^<]*<", "><", page))
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!#)""", page)
    assert not re.search(r"url\(\s*['\"]?(?!#)", page)


@EVERY
def test_the_page_stands_in_its_own_order(name: str) -> None:
    text = seen(name)
    for part in content(name)["parts"]:
        verdict = text.index(part["verdict"]["sentence"].replace("\u00a0", " "))
        assert verdict < text.index("Findings")
        assert text.index("Cautions") < text.index("Tested by"), "cautions come before anyone signs"


@EVERY
def test_the_findings_count_their_checks(name: str) -> None:
    for evaluated in evaluation(name).records:
        assert evaluated.checks_made >= evaluated.checks_passed >= 0
    for part in content(name)["parts"]:
        sentence = part["findings"]["sentence"].replace("\u00a0", " ")
        assert re.match(r"\d+ checks? made on the readings, \d+ passed\.", sentence)
        if not part["findings"]["rows"]:
            assert "No finding. That tells nothing beyond these checks." in sentence
        for row in part["findings"]["rows"]:
            assert row["sentence"].endswith((".", "?"))
            assert not row["sentence"][0].islower(), "a sentence begins as one"


# ------------------------------------------------------------------------------------------- the workbook
@EVERY
def test_the_workbook_holds_numbers_in_si(name: str) -> None:
    book = workbook(name)
    head, *rows = book["quantities"].iter_rows(values_only=True)
    told = [dict(zip(head, row, strict=True)) for row in rows]
    wanted = [
        (number, quantity)
        for number, evaluated in enumerate(evaluation(name).records, start=1)
        for quantity in evaluated.quantities.values()
    ]
    assert len(told) == len(wanted)
    for row, (number, quantity) in zip(told, wanted, strict=True):
        assert (row["Record"], row["Id"]) == (number, quantity.id)
        assert isinstance(row["Value"], int | float)
        assert row["Value"] == pytest.approx(quantity.value, rel=1e-12)
        assert (row["Bound"] or "") == str(quantity.bound or "")
        expanded = row["Expanded uncertainty, k = 2"]
        if quantity.uncertainty is None:
            assert expanded == (None if quantity.bound else "not declared")
        else:
            assert expanded == pytest.approx(2 * quantity.uncertainty)


@EVERY
def test_the_workbook_holds_every_reading(name: str) -> None:
    book = workbook(name)
    _, *rows = book["readings"].iter_rows(values_only=True)
    wanted = [
        (time, resistance, bound)
        for evaluated in evaluation(name).records
        for time, resistance, bound in zip(
            evaluated.record.readings.time.tolist(), evaluated.record.readings.resistance.tolist(),
            evaluated.record.readings.bound.tolist(), strict=True,
        )
    ]  # fmt: skip
    assert len(rows) == len(wanted)
    for row, (time, resistance, bound) in zip(rows, wanted, strict=True):
        assert row[2] == (pytest.approx(time) if math.isfinite(time) else None)
        assert row[5] == (pytest.approx(resistance) if math.isfinite(resistance) else None)
        assert (row[6] or "") == {0: "", 1: "lower", -1: "upper"}[bound]


@EVERY
def test_the_workbook_calculates_nothing(name: str) -> None:
    book = workbook(name)
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type in ("s", "n", "inlineStr"), (sheet.title, cell.coordinate)
                if isinstance(cell.value, str) and cell.value[:1] in ("=", "+", "-", "@"):
                    assert cell.quotePrefix
    said = {cell.value for row in book["summary"].iter_rows() for cell in row}
    assert {DEFERENCE, DRAFT} <= said


# ----------------------------------------------------------------------------------------------- the paper
AWKWARD = (
    "names that would be markup", "a schedule of four circuits", "a winding to earth", "a ramp of ten points",
    "nothing but a class, a method and a reading", "keys nobody knows are shown as they came",
)  # fmt: skip


@pytest.mark.parametrize("paper", ("a4", "letter"))
@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_records_are_printed_whole(name: str, paper: str) -> None:
    pages = pypdf.PdfReader(io.BytesIO(report_pdf(evaluation(name), paper=paper))).pages
    texts = ["".join(page.extract_text().replace("\u00a0", " ").split()) for page in pages]
    whole = "".join(texts)
    assert 1 <= len(pages) <= 3
    assert [part for part in CASES[name]["says"] if part.replace(" ", "") not in whole] == []
    for number, text in enumerate(texts, start=1):
        assert f"page{number}of{len(pages)}" in text
        assert DRAFT.replace(" ", "") in text, "a loose sheet says that nobody reviewed it"
        assert "Soakage" in text
    for part in content(name)["parts"]:
        assert part["verdict"]["status"].replace(" ", "") in texts[0]
        for caution in part["cautions"]:
            assert caution["lead"].replace("\u00a0", " ").replace(" ", "") in whole


# --------------------------------------------------------------------------------------------- the charts
@EVERY
def test_charts_plot_readings_and_nothing_at_or_below_zero_on_a_log_axis(name: str) -> None:
    for part in content(name)["parts"]:
        for plot in part["plots"]:
            for line in plot["lines"]:
                for x, y in line["points"]:
                    assert math.isfinite(x)
                    assert math.isfinite(y)
                    assert x > 0 or not plot["x"]["log"]
                    assert y > 0 or not plot["y"]["log"]
            assert plot["alt"].endswith(".")
            assert plot["title"]


@EVERY
@pytest.mark.parametrize(("look", "width", "height"), (("paper", 240, 180), ("screen", 350, 320)))
def test_charts_are_drawn_inside_their_frame(name: str, look: str, width: float, height: float) -> None:
    for part in content(name)["parts"]:
        for plot in part["plots"]:
            made = charts.spec(plot, look, width=width, height=height)
            pad = made["padding"]
            assert made["width"] + pad["left"] + pad["right"] == pytest.approx(width)
            assert made["height"] + pad["top"] + pad["bottom"] == pytest.approx(height)
            assert made["width"] > width / 2, "the frame is not eaten by its margins"
            assert made["description"] == plot["alt"]
            json.dumps(made, allow_nan=False)


@EVERY
def test_a_chart_has_a_sentence_above_it(name: str) -> None:
    for part in content(name)["parts"]:
        if part["plots"]:
            assert part["message"].endswith(".")
            assert "reading" in part["plot_note"]
