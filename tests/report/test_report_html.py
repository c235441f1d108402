"""The report as a page: whole in one file, nothing run or fetched, every status a word, contrasts held."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

import invented
from soakage.app.result import Evaluation
from soakage.model.verdict import Status, Verdict
from soakage.report.content import report_content
from soakage.report.html import report_html
from soakage.report.rails import rails_svg

VOID = {"meta", "link", "br", "img", "hr", "input"}


class Page(HTMLParser):
    """Keeps tags in balance, and text without style."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).replace("\u00a0", " ").split())


def page(evaluation: Evaluation) -> Page:
    return Page(report_html(evaluation))


CASES = {
    "one": invented.evaluation(),
    "steps": invented.evaluation(invented.steps()),
    "ramp": invented.evaluation(invented.ramp()),
    "visit": invented.visit(),
    "schedule": invented.schedule(),
    "errors": Evaluation((), (), (), invented.visit().errors, invented.RULES),
}


@pytest.mark.parametrize("case", CASES)
def test_the_page_is_whole(case: str) -> None:
    found = page(CASES[case])
    assert found.open == []
    names = [tag for tag, _ in found.tags]
    assert names.count("h1") == 1
    assert not {"script", "link", "img", "iframe", "object", "form"} & set(names)
    assert not any(key.startswith("on") for _, attrs in found.tags for key in attrs)
    ids = [attrs["id"] for _, attrs in found.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert "Local codes and licensed practice come first." in found.text


@pytest.mark.parametrize("case", CASES)
def test_nothing_is_fetched(case: str) -> None:
    source = report_html(CASES[case])
    assert not re.search(r"(?:src|href|xlink:href)=(?!\"#)|@import|url\((?!#|&quot;#)", source)
    # the only addresses are the names of SVG's own language
    assert set(re.findall(r"https?://[^\"' ]+", source)) <= {
        "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink",
    }  # fmt: skip


def test_it_says_what_the_paper_says() -> None:
    content, said = report_content(invented.evaluation()), page(invented.evaluation()).text
    part = content["parts"][0]
    wanted = [part["title"], part["subtitle"], part["verdict"]["sentence"], content["draft"], content["foot"]]
    wanted += [value for rows in ("asset", "test", "conditions") for row in part[rows] for value in row]
    wanted += [row["how"] for row in part["quantities"]["rows"]] + part["quantities"]["notes"]
    wanted += [
        row[key] for row in part["criteria"]["rows"] for key in ("name", "reason", "source", "verified")
    ]
    wanted += [row["lead"] for row in part["cautions"]] + part["next"] + [part["findings"]["sentence"]]
    for words in wanted:
        assert " ".join(words.replace("\u00a0", " ").split()) in said


@pytest.mark.parametrize("status", Status)
def test_a_status_is_a_word_and_a_mark(status: Status) -> None:
    made = invented.evaluated(verdict=Verdict(status, "Said."), judgements=(), findings=())
    source = report_html(invented.evaluation(made))
    plate = re.search(
        rf'<span class="status {str(status).replace(" ", "-")} big">(.*?)</span></span>', source, re.DOTALL
    )
    assert plate is not None
    assert "<svg" in plate[1]
    assert 'aria-hidden="true"' in plate[1]
    assert plate[1].endswith(f"<span>{status}")


def test_the_marks_differ() -> None:
    marks = set()
    for status in Status:
        made = invented.evaluated(verdict=Verdict(status, "Said."), judgements=(), findings=())
        found = re.search(r'big"><svg.*?</svg>', report_html(invented.evaluation(made)), re.DOTALL)
        assert found is not None
        marks.add(found[0])
    assert len(marks) == len(Status)


def test_the_ladder_names_where_it_stands() -> None:
    source = report_html(invented.evaluation())
    assert source.count('aria-current="true"') == 1
    assert 'class="here" aria-current="true">investigate</li>' in source


def test_user_text_is_escaped() -> None:
    nasty = "<script>alert(1)</script>\"'&{{ 7*7 }}"
    asset = replace(invented.ASSET, name=nasty, terminals=(nasty, "frame"))
    test = replace(invented.record().test, tested=(nasty,), earthed=("frame",))
    source = report_html(invented.evaluation(invented.evaluated(invented.record(asset=asset, test=test))))
    assert "<script" not in source
    assert "&lt;script&gt;" in source
    assert "{{ 7*7 }}" in source


def test_draft_goes_when_reviewed() -> None:
    assert "draft" not in page(invented.evaluation(invented.approved(invented.evaluated()))).text


def test_drawings_have_a_text_in_place() -> None:
    found = page(invented.evaluation())
    drawn = [attrs for tag, attrs in found.tags if tag == "svg" and "aria-hidden" not in attrs]
    assert len(drawn) == 5  # connection, two charts in two sizes
    assert all(attrs.get("aria-label") for attrs in drawn if "rails" in str(attrs.get("class")))
    assert "V, W and frame" in str(drawn[0]["aria-label"])


def test_charts_take_the_colours_of_the_page() -> None:
    source = report_html(invented.evaluation())
    assert "var(--ink)" in source
    drawn = re.findall(r'(?:fill|stroke)="(#[0-9a-fA-F]{3,6})"', source.split("</style>")[1])
    assert drawn == []


def test_rails_show_every_terminal_on_its_rail() -> None:
    items = [
        {"name": n, "rail": r} for n, r in (("U", "live"), ("V", "guard"), ("R", "floating"), ("f", "earth"))
    ]
    drawn = rails_svg({"items": items, "live": "5 kV", "alt": "a < b"})
    assert drawn.count("<rect") == 4
    assert drawn.count('fill="currentColor" stroke=') == 1  # the live one is filled
    assert drawn.count('stroke-dasharray="7 5"') == 1  # the floating one is dashed
    assert 'aria-label="a &lt; b"' in drawn


def luminance(colour: str) -> float:
    """WCAG 2.1 relative luminance (from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", (0, 1))
def test_contrasts_reach_wcag_aa(theme: int) -> None:
    # WCAG 2.1, 1.4.3: at least 4.5 for text (from memory).
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    style = report_html(invented.evaluation())
    tokens = dict(
        re.findall(r"--([\w-]+): (#[0-9A-F]{6})", re.findall(r":root \{(.*?)\}", style, re.DOTALL)[theme])
    )
    pairs = [(ink, "ground") for ink in ("ink", "ink-2", "ink-3", "glass")]
    pairs += [("ink", "sheet"), ("dye-ink", "dye"), ("dye-1-ink", "dye-1"), ("dye-3-ink", "dye-3")]
    for ink, ground in pairs:
        assert contrast(tokens[ink], tokens[ground]) >= 4.5, (ink, ground)
