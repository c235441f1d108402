"""The report on paper: what every reader must find, on which page, and the same bytes each time."""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pypdf
import pytest

import invented
from soakage.app.result import Evaluation
from soakage.errors import UsageError
from soakage.model.verdict import Status
from soakage.report.pdf import report_pdf
from soakage.report.typesetting import typeset

HERE = Path(__file__).parent


def pages(evaluation: Evaluation, paper: str = "a4") -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(evaluation, paper=paper)))
    return [" ".join(page.extract_text().replace("\u00a0", " ").split()) for page in reader.pages]


def text(evaluation: Evaluation) -> str:
    return " ".join(pages(evaluation))


@pytest.fixture(scope="module")
def one() -> str:
    return text(invented.evaluation())


@pytest.mark.parametrize(
    "words",
    (
        "Lower Marling pumping station", "Pump 3 motor, U", "LM-P3-M", "40917", "6.6 kV, 1.9 MW",
        "epoxy-mica (read as thermosetting)", "made 2004", "star point opened",
        "PTW-118", "WO-5512", "maintenance", "spring outage",
        "22 °C, 55 % relative humidity", "12.5 ± 1.9 °C", "15 K above the dew point", "slot sensors",
        "−5 kV", "V, W and frame", "RTD 1", "dashed: floating", "surge capacitors off",
        "tester no. 7", "T7-33", "valid to 2 September 2026", "5 % of reading",
        "1.619", "0.015", "832", "1347", "A dash: none is worked out", "K V / I(60 s)",
        "thermosetting rule", "IEEE Std 43-2013, cl. 6.3",
        "at least 2.0", "As reported by others, not read.", "Common practice, no source.", "Your own limit.",
        "No discharge current was recorded.", "deciding",
        "14 checks made on the readings, 12 passed.", "31 V ac stood on the terminals", "Find its source.",
        "Insulation between turns", "puts no voltage across turns",
        "1. Clean and dry winding U, then test it again.", "2. Do not test it at overvoltage before that.",
        "Minimum earthing time after this test: 40 min.", "prove dead, keep earthed while you work",
        "Local codes and licensed practice come first.",
        "Tested by", "R. Amsel", "Witnessed by", "T. Brook", "Reviewed by", "HV-2207",
        "Where the signer's verdict differs",
        "LM-2026-031, revision B", "instrument serial corrected", "a" * 64, "b" * 64, "c" * 64, "Soakage 0.1.0",
        "profile default", "invented sample, no real plant or person", "page 1 of 2", "page 2 of 2",
        "investigate",
    ),
)  # fmt: skip
def test_the_report_holds(one: str, words: str) -> None:
    # Long hashes may break over two lines.
    assert words.replace(" ", "") in one.replace(" ", "")


def test_nothing_unknowable_is_said(one: str) -> None:
    for word in ("safe", "energised", "go back", "all clear"):
        assert word not in one.lower()


def test_draft_stands_on_every_page_until_reviewed() -> None:
    draft = invented.visit()
    assert all("draft, not reviewed" in page for page in pages(draft))
    signed = replace(draft, records=tuple(map(invented.approved, draft.records)))
    assert not any("draft" in page for page in pages(signed))
    assert "L. Vane" in text(signed)


def test_one_record_not_reviewed_keeps_the_draft() -> None:
    mixed = invented.visit()
    mixed = replace(mixed, records=(invented.approved(mixed.records[0]), *mixed.records[1:]))
    assert all("draft, not reviewed" in page for page in pages(mixed))


def test_page_1_is_what_was_measured_page_2_what_it_means() -> None:
    first, second = pages(invented.evaluation())
    assert "How obtained" in first
    assert "How verified" not in first
    assert second.index("Criteria") < second.index("Findings") < second.index("Cautions")
    # a loose sheet still says what it is and what was found
    assert second.startswith("Pump 3 motor, U. Polarization index, 14 March 2026")


@pytest.mark.parametrize("make", (invented.steps, invented.ramp))
def test_tables_of_steps_and_ramp(make: object) -> None:
    said = text(invented.evaluation(make()))  # type: ignore[operator]
    if make is invented.steps:
        assert "5 steps: 1 kV, 2 kV, 3 kV, 4 kV, 5 kV" in said
        assert "end of each hold" in said
    else:
        assert "rising at 1.00 kV/min as read, 1 kV/min stated" in said.replace("/ ", "/")
        assert "Every 75th of 600 points is printed." in said
        assert "voltage over current is no resistance" in said


def test_a_bound_has_its_sign_and_no_uncertainty() -> None:
    # 1e12 ohm as a lower bound, uncertainty given in error: it is not printed.
    record = invented.spot("V", 1e6, Status.NOT_JUDGED, bound=1)
    values = {name: replace(q, uncertainty=1e10) for name, q in record.quantities.items()}
    said = text(invented.evaluation(replace(record, quantities=values)))
    assert "> 1 TΩ" in said
    assert "20 GΩ" not in said
    assert "The reading only bounds the truth" in said


def test_no_finding_is_not_written_as_good() -> None:
    said = text(invented.evaluation(invented.evaluated(findings=(), checks_made=24, checks_passed=24)))
    assert (
        "24 checks made on the readings, 24 passed. No finding. That tells nothing beyond these checks."
        in said
    )


def test_several_records_make_one_report() -> None:
    first, *rest = pages(invented.visit())
    assert "3 records: 1 unfit, 1 not judged and 1 sound." in first
    assert first.index("Pump 3 motor, W") < first.index("Pump 3 motor, V") < first.index("Pump 3 motor, U")
    assert "W is the odd one" in first
    assert "2.70 ± 0.20" in first
    assert "3.200 ± 0.080 GΩ" in first
    assert "not resolved by these connections" in first
    assert "contradict one another" in first
    assert (
        "pump-4.csv, line 7, test_voltage: Not a voltage. Given: 5 kW. Allowed: a voltage, such as 5 kV. Mend it."
        in first
    )
    assert sum("Verdict" in page for page in rest) >= 3
    assert sum("Signatures" in page for page in [first, *rest]) == 1


def test_a_schedule_is_one_table() -> None:
    found = pages(invented.schedule(40))
    assert len(found) == 2
    assert "1 sockets L-PE 500 V 120 MΩ at least 1 MΩ sound" in found[0]
    assert "400 kΩ" in found[0]
    assert "IEC 60364-6:2016, Table 6.1" in " ".join(found)


def test_only_errors() -> None:
    nothing = Evaluation((), (), (), invented.visit().errors, invented.RULES)
    (page,) = pages(nothing)
    assert "No record could be read" in page
    assert "draft, not reviewed" in page
    assert "Local codes and licensed practice come first." in page


@pytest.mark.parametrize("paper", ("a4", "letter"))
def test_paper_sizes(paper: str) -> None:
    # ISO 216: A4 is 210 mm x 297 mm; ANSI/ASME Y14.1: Letter is 8.5 in x 11 in (both from memory).
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(invented.evaluation(), paper=paper)))
    wide, high = (float(x) for x in reader.pages[0].mediabox[2:])
    wanted = (210 / 25.4 * 72, 297 / 25.4 * 72) if paper == "a4" else (8.5 * 72, 11 * 72)
    assert (wide, high) == pytest.approx(wanted, abs=0.1)
    assert len(reader.pages) == 2


def test_another_paper_is_refused() -> None:
    with pytest.raises(UsageError, match=r"Unknown paper\. Given: a5\. Allowed: a4, letter\."):
        report_pdf(invented.evaluation(), paper="a5")


def test_user_text_is_never_markup() -> None:
    # Marks of the typesetter's markup, and what opens a tag.
    nasty = r"#let x = 1 _a_ *b* $1/2$ @ref <tag> \ [c] `d` // e /* f = g"
    asset = replace(invented.ASSET, name=nasty, site=nasty)
    paper = replace(invented.PAPER, notes=nasty, tested_by=nasty)
    said = text(invented.evaluation(invented.evaluated(invented.record(asset=asset, paper=paper))))
    assert said.replace(" ", "").count(nasty.replace(" ", "")) >= 4


def test_a_character_the_typeface_lacks_is_written_out() -> None:
    asset = replace(invented.ASSET, name="泵 3", site="\x07bell")
    said = text(invented.evaluation(invented.evaluated(invented.record(asset=asset))))
    assert "[U+6CF5] 3" in said
    assert "[U+0007]bell" in said
    assert "written as its Unicode number" in said


def test_a_report_without_such_a_character_has_no_note(one: str) -> None:
    assert "Unicode number" not in one


def test_long_names_and_many_criteria() -> None:
    name = "Feed water pump motor of the second evaporator line, northern bay, spare from store " * 3
    asset = replace(
        invented.ASSET,
        name=name.strip(),
        terminals=tuple(f"terminal {i} of the long list" for i in range(14)),
    )
    test = replace(invented.record().test, earthed=asset.terminals[1:9], tested=asset.terminals[:1])
    judgements = tuple(
        replace(
            invented.JUDGEMENTS[i % 3], name=f"Criterion {i} whose name runs over two lines of its column"
        )
        for i in range(34)
    )
    made = invented.evaluated(invented.record(asset=asset, test=test), judgements=judgements)
    found = pages(invented.evaluation(made))
    said = " ".join(found)
    assert all(f"Criterion {i} whose name" in said for i in range(34))
    assert sum("Criterion; source; how verified" in page for page in found) >= 2  # the head repeats
    assert all(f"terminal {i} of the long list" in said for i in range(14))


def test_the_file_is_archivable_and_dated_by_its_test() -> None:
    data = report_pdf(invented.evaluation())
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert b"pdfaid:part" in data.replace(b" ", b"") or "pdfaid" in str(
        reader.xmp_metadata and reader.xmp_metadata.rdf_root.toxml()
    )
    assert reader.metadata is not None
    assert reader.metadata.creation_date == invented.STARTED
    assert "LM-2026-031" in str(reader.metadata.title)


def test_without_a_date_the_file_carries_the_epoch() -> None:
    undated = invented.record(test=replace(invented.record().test, started=None))
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(invented.evaluation(invented.evaluated(undated)))))
    assert reader.metadata is not None
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.date() == date(1970, 1, 1)
    assert "Date not stated." in reader.pages[0].extract_text().replace("\u00a0", " ")


def test_two_processes_write_the_same_bytes() -> None:
    code = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]); import invented;"
        "from soakage.report.pdf import report_pdf; from soakage.report.html import report_html;"
        "from soakage.report.xlsx import report_xlsx; e = invented.evaluation(invented.evaluated(), invented.steps());"
        "print(*(hashlib.sha256(b).hexdigest() for b in (report_pdf(e), report_html(e).encode(), report_xlsx(e))))"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", code, str(HERE)], capture_output=True, text=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert len(set(runs[0].split())) == 3


def test_what_was_drawn_before_changes_nothing() -> None:
    first = hashlib.sha256(report_pdf(invented.evaluation())).hexdigest()
    report_pdf(invented.evaluation(invented.steps()))
    assert hashlib.sha256(report_pdf(invented.evaluation())).hexdigest() == first


def test_a_date_alone_dates_a_file() -> None:
    content: dict[str, Any] = {
        "paper": "a4",
        "doc": {"title": "t", "author": "a", "keywords": [], "description": "d"},
    }
    content |= {"head": ["", ""], "foot": "", "draft": None, "single": True, "title": "", "subtitle": "",
                "deference": "", "summary": None, "parts": [], "networks": [], "errors": [], "origin": [],
                "signatures": {"signers": [], "note": ""}}  # fmt: skip
    reader = pypdf.PdfReader(io.BytesIO(typeset("report", content, made=date(2026, 3, 14))))
    assert reader.metadata is not None
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.date() == date(2026, 3, 14)
