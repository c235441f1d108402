"""Names that would turn, end, run or fill a report: shown as what they are in page, workbook, paper and drawing."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree as ET

import openpyxl
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import invented
from soakage.app.result import Evaluation
from soakage.model.verdict import Status
from soakage.report.figures import written_out
from soakage.report.html import report_html
from soakage.report.pdf import report_pdf
from soakage.report.rails import rails_svg
from soakage.report.stated import connection
from soakage.report.xlsx import report_xlsx

# what is typed, and how it must stand on the page
SHOWN = {
    "<script>alert(1)</script>": "<script>alert(1)</script>",
    "</title><h1>sound</h1>": "</title><h1>sound</h1>",
    "</style><b>x": "</style><b>x",
    '" onload="alert(1)': '" onload="alert(1)',
    "' autofocus onfocus='x": "' autofocus onfocus='x",
    "&amp;&lt;&#60;": "&amp;&lt;&#60;",
    "{{ 7 * 7 }}{% raw %}": "{{ 7 * 7 }}{% raw %}",
    "=HYPERLINK(A1)": "=HYPERLINK(A1)",
    "+1+1": "+1+1",
    "-1+1": "-1+1",
    "@SUM(A1)": "@SUM(A1)",
    "#import x": "#import x",
    "]]>": "]]>",
    "<!-- gone": "<!-- gone",
    "motor \u202etifnu\u202c end": "motor [U+202E]tifnu[U+202C] end",
    "left \u202aembedded\u202c": "left [U+202A]embedded[U+202C]",
    "own \u2066isolate\u2069": "own [U+2066]isolate[U+2069]",
    "nul\x00here": "nul[U+0000]here",
    "bell\x07": "bell[U+0007]",
    "clear\x1b[2J": "clear[U+001B][2J",
    "delete\x7f": "delete[U+007F]",
    "next\x85line": "next[U+0085]line",
    "half \ud83d": "half [U+D83D]",
    "A" * 200: "A" * 200,
    "Πυλώνας Ж-7": "Πυλώνας Ж-7",
    "מנוע \u200f7": "מנוע \u200f7",
}
NAMES = pytest.mark.parametrize("name", SHOWN, ids=[ascii(name)[1:24] for name in SHOWN])
TURNS = re.compile("[\u202a-\u202e\u2066-\u2069\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


class Text(HTMLParser):
    """Keeps text outside style, and every tag with its attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.inside = ""
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        del tag
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).replace("\u00a0", " ").split())


@cache
def named(name: str) -> Evaluation:
    asset = replace(invented.ASSET, name=name, section=None, site=name, tag=name, terminals=("U", name))
    test = replace(invented.record().test, tested=("U",), earthed=(name,))
    paper = replace(invented.PAPER, notes=name, tested_by=name, permit=name, work_order=name)
    plain = invented.spot("U", 900.0, Status.SOUND)  # one reading: no chart has to be drawn
    made = replace(plain.record, asset=asset, test=test, paper=paper, extra={name: name})
    return invented.evaluation(replace(plain, record=made))


@cache
def html(name: str) -> str:
    return report_html(named(name))


@cache
def page(name: str) -> Text:
    return Text(html(name))


@NAMES
def test_a_page_shows_the_name_as_it_was_typed(name: str) -> None:
    # as title, site, tag, permit, work order, remark, tester, unknown key and value
    assert page(name).text.count(" ".join(SHOWN[name].split())) >= 8


@NAMES
def test_a_page_is_turned_by_no_name(name: str) -> None:
    assert TURNS.findall(html(name).replace("\n", "").replace("\t", "")) == []


@NAMES
def test_a_name_opens_no_tag(name: str) -> None:
    plain = page("A" * 200)
    found = page(name)
    assert [tag for tag, _ in found.tags if tag != "text"] == [tag for tag, _ in plain.tags if tag != "text"]
    assert not any(key.startswith("on") for _, attrs in found.tags for key in attrs)


@NAMES
def test_a_page_is_utf_8(name: str) -> None:
    assert html(name).encode("utf-8").decode("utf-8") == html(name)


@NAMES
def test_a_workbook_holds_the_name_as_text(name: str) -> None:
    data = report_xlsx(named(name))
    for member in zipfile.ZipFile(io.BytesIO(data)).namelist():
        if member.endswith(".xml"):
            ET.fromstring(zipfile.ZipFile(io.BytesIO(data)).read(member))  # noqa: S314 - our own file
    book = openpyxl.load_workbook(io.BytesIO(data))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    written = [str(cell.value) for cell in cells]
    assert any(SHOWN[name] in text for text in written)
    assert [text for text in written if TURNS.search(text)] == []
    for cell in cells:
        if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@")):
            assert cell.quotePrefix


@NAMES
def test_rails_are_well_formed(name: str) -> None:
    drawn = connection(named(name).records[0].record)
    assert drawn is not None
    svg = rails_svg(written_out(drawn))  # type: ignore[arg-type]
    root = ET.fromstring(svg)  # noqa: S314 - our own drawing
    assert not [one for one in root.iter() if one.tag.rpartition("}")[2] in ("script", "foreignObject", "a")]


@pytest.mark.parametrize("name", list(SHOWN)[:24:4])
def test_the_paper_holds_the_name(name: str) -> None:
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(named(name))))
    text = "".join("".join(one.extract_text().replace("\u00a0", " ").split()) for one in reader.pages)
    assert re.sub(r"\s", "", SHOWN[name]) in text
    assert not TURNS.search(text)


# ------------------------------------------------------------------------------------------- the rule itself
@pytest.mark.parametrize(("name", "shown"), SHOWN.items(), ids=[ascii(name)[1:24] for name in SHOWN])
def test_controls_are_written_out(name: str, shown: str) -> None:
    assert written_out(name) == shown
    assert written_out({"a": [name, 1, None, True]}) == {"a": [shown, 1, None, True]}


@settings(max_examples=200)
@given(st.text(st.characters(blacklist_categories=())))
def test_what_is_written_out_controls_nothing_and_loses_nothing(text: str) -> None:
    shown: Any = written_out(text)
    assert not TURNS.search(shown)
    assert written_out(shown) == shown
    shown.encode("utf-8")
    kept = [letter for letter in text if letter in shown]
    assert len(shown) >= len(text) >= len(kept)


@pytest.mark.parametrize(
    "text", ("10\u00a0MΩ", "a\nb", "a\tb", "−40\u00a0°C", "“quoted” …", "\u200e7", "泵 3")
)
def test_what_only_looks_odd_is_left(text: str) -> None:
    assert written_out(text) == text
