"""Probable causes, fit, forecast, network and drying in a report: what each says, and what it must not say."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import openpyxl
import pypdf
import pytest

import invented
import invented_diagnosis as made
from soakage.app.diagnose import COVERAGE
from soakage.app.result import Evaluated, Evaluation
from soakage.model.test import Instrument
from soakage.model.verdict import Finding, Status
from soakage.report.content import report_content
from soakage.report.content_record import certainty, next_steps, parted
from soakage.report.criteria import criteria, merged_bands
from soakage.report.diagnosis import (
    NONE_STANDS_OUT,
    RANKED,
    causes,
    chance_text,
    fit_sentence,
    forecast_sentences,
)
from soakage.report.html import report_html
from soakage.report.networks import MOST_TERMINALS, network_content
from soakage.report.pdf import report_pdf
from soakage.report.xlsx import report_xlsx


def plain(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").split())


def pdf_text(evaluation: Evaluation) -> str:
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(evaluation)))
    return plain(" ".join(page.extract_text() for page in reader.pages))


def html_text(evaluation: Evaluation) -> str:
    page = re.sub(r"(?s)<style>.*?</style>|<svg.*?</svg>", " ", report_html(evaluation))
    return plain(unescape(re.sub(r"<[^>]+>", " ", page)))


def xlsx_text(evaluation: Evaluation) -> str:
    book = openpyxl.load_workbook(io.BytesIO(report_xlsx(evaluation)))
    cells = (cell for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row)
    return plain(" ".join(str(cell) for cell in cells if cell is not None))


PAPERS: tuple[Callable[[Evaluation], str], ...] = (pdf_text, html_text, xlsx_text)


@pytest.fixture(scope="module", params=PAPERS, ids=("pdf", "html", "xlsx"))
def caused(request: pytest.FixtureRequest) -> str:
    return str(request.param(invented.evaluation(made.with_causes(*made.CAUSES))))


@pytest.mark.parametrize(
    "words",
    (
        "Wet film", "Old crack", "likely", "possible", "the air was damp; one section only", "the winding was warm",
        "it falls with voltage", "nothing found", "Open it and look.", "Repeat at lower voltage.",
        "polarization index", "step voltage", RANKED,
    ),
)  # fmt: skip
def test_every_paper_names_causes_with_for_and_against(caused: str, words: str) -> None:
    assert words in caused


def test_causes_stand_heaviest_first(caused: str) -> None:
    assert caused.index("Wet film") < caused.index("Old crack")


def test_no_probability_is_given_to_a_cause(caused: str) -> None:
    start = caused.index("Wet film")
    said = caused[start : caused.index(RANKED, start)]
    assert "%" not in said
    assert "4.5" not in said  # the weight is no probability and not shown as one


def test_words_follow_the_rank_only() -> None:
    found = causes(made.with_causes(*made.CAUSES))
    assert found is not None
    assert [row["word"] for row in found["rows"]] == ["likely", "possible"]
    light = causes(made.with_causes(made.CAUSES[1]))
    assert light is not None
    assert [row["word"] for row in light["rows"]] == ["likely"]


def test_a_source_that_says_how_it_was_verified_is_said_once() -> None:
    found = causes(made.with_causes(*made.CAUSES))
    assert found is not None
    row = found["rows"][0]
    assert (row["source"], row["verified"]) == ("", "Common practice, no source.")


@pytest.mark.parametrize("paper", PAPERS)
def test_sought_and_none_found_is_said(paper: Callable[[Evaluation], str]) -> None:
    assert NONE_STANDS_OUT in paper(invented.evaluation(made.with_causes()))


@pytest.mark.parametrize("paper", PAPERS[:2])
def test_not_sought_has_no_section(paper: Callable[[Evaluation], str]) -> None:
    assert "Probable causes" not in paper(invented.evaluation())


def test_a_fit_is_told_with_its_figures() -> None:
    said = plain(fit_sentence(made.FIT))
    assert "power 0.75 of time" in said
    assert "640 pS" in said
    assert "scatter by 0.4 %" in said


def test_a_curve_that_does_not_follow_is_told_with_its_reason() -> None:
    said = fit_sentence(made.NOT_FOLLOWED)
    assert said == (
        "The current does not follow the model of absorption and conduction: "
        "the current steps upward at one reading."
    )
    assert fit_sentence(None) == ""


@pytest.mark.parametrize("paper", PAPERS)
def test_every_paper_tells_of_the_fit(paper: Callable[[Evaluation], str]) -> None:
    assert "does not follow the model" in paper(invented.evaluation(made.fitted(made.NOT_FOLLOWED)))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "words",
    (
        "Forecast, not a judgement", "readings up to 2 min", "1.62 at 10 min", "1.55 to 1.70 with 90 % coverage",
        "If nothing changes", "cannot be foreseen", plain(COVERAGE), "at least 2.0: 93 %",
    ),
)  # fmt: skip
def test_a_forecast_says_what_it_is_and_is_not(paper: Callable[[Evaluation], str], words: str) -> None:
    assert words in paper(invented.evaluation(made.ended_early()))


def test_a_forecast_never_enters_the_criteria() -> None:
    part = report_content(invented.evaluation(made.ended_early()))["parts"][0]
    rows = [*part["criteria"]["rows"], *part["criteria"]["beside"]]
    assert {row["value"] for row in rows} == {"–"}
    assert {row["status"] for row in rows} == {"not judged"}


def test_a_forecast_without_a_limit_says_why() -> None:
    evaluated = made.ended_early(None, reason="No criterion of the index applies to this record.")
    said = forecast_sentences(evaluated.forecast, evaluated.judgements)
    assert said[-1] == "No criterion of the index applies to this record."
    assert not any("Chance" in sentence for sentence in said)
    assert forecast_sentences(None, ()) == []


@pytest.mark.parametrize(
    ("probability", "text"),
    ((0.99995, "above 99.9 %"), (0.0001, "below 0.1 %"), (0.5, "50 %"), (0.934, "93.4 %"), (0.999, "99.9 %")),
)
def test_no_chance_is_said_to_be_certain(probability: float, text: str) -> None:
    assert plain(chance_text(probability)) == text


def test_the_chance_that_a_limit_is_met_stands_with_its_criterion() -> None:
    assert "chance met below 0.1 %" in pdf_text(invented.evaluation(made.budgeted()))
    assert "chance met below 0.1 %" in html_text(invented.evaluation(made.budgeted()))


def test_a_budget_is_told_without_what_does_not_count() -> None:
    said = pdf_text(invented.evaluation(made.budgeted()))
    assert "gain 66 %, timing 34 %" in said
    assert "offset 0.2" not in said
    assert "gain 66 %, timing 34 %" in xlsx_text(invented.evaluation(made.budgeted()))


def test_guard_band_and_probability_are_numbers_of_the_workbook() -> None:
    book = openpyxl.load_workbook(io.BytesIO(report_xlsx(invented.evaluation(made.budgeted()))))
    head, first, *_ = book["criteria"].iter_rows(values_only=True)
    row = dict(zip(head, first, strict=True))
    assert row["Probability that the limit is met"] == 0.0004
    assert row["Guard band (SI)"] == 0.012


def test_steps_and_knee_are_rows_of_the_workbook() -> None:
    said = xlsx_text(invented.evaluation(made.staircase(), made.knee()))
    assert "Conductance at 5000 V, S 1.7e-10" in said
    assert "Knee of the ramp, V 8200" in said
    assert "noticed at 8900 V" in said


def test_a_knee_is_told_with_where_it_was_noticed() -> None:
    said = pdf_text(invented.evaluation(made.knee()))
    assert "bends upward from about 8.20 kV, noticed at 8.90 kV" in said
    assert "excess is 6 % of the current" in said


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "words",
    (
        "Transformer 9", "T1 and T3", "not resolved", "at least 5.0 GΩ", "> 100 GΩ",
        "The readings of the set agree with one another.", "Set aside: T3: damp lead",
        "Read next T1 against T2 and tank.",
    ),
)  # fmt: skip
def test_a_network_is_listed(paper: Callable[[Evaluation], str], words: str) -> None:
    assert words in paper(made.drying())


def test_a_network_names_its_earth_and_marks_what_is_not_resolved() -> None:
    found = network_content(made.network())
    assert (found["earth"], found["terminals"]) == ("tank", ["T1", "T2", "T3"])
    first, *others = found["links"]
    assert (first["resolved"], plain(first["text"])) == (False, "> 5.0 GΩ")
    assert all(link["resolved"] for link in others)


def test_a_network_with_too_many_terminals_is_only_listed() -> None:
    found = network_content(made.network(MOST_TERMINALS + 1))
    assert found["terminals"] == []
    assert len(found["rows"]) == 7 * 6 // 2 + 7


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "words", ("Pump 3 motor", "levelling off after 36 h", "Keep the winding below 90 °C.")
)
def test_a_drying_is_told(paper: Callable[[Evaluation], str], words: str) -> None:
    assert words in paper(made.drying())


@pytest.mark.parametrize("evaluation", (made.drying(), invented.evaluation(made.with_causes(*made.CAUSES))))
def test_the_tool_never_gives_leave(evaluation: Evaluation) -> None:
    for paper in PAPERS:
        said = paper(evaluation).lower()
        for word in ("may be energised", "is safe", "discharged and clear", "can go back"):
            assert word not in said


def test_the_same_bytes_each_time() -> None:
    evaluation = made.drying()
    assert report_pdf(evaluation) == report_pdf(evaluation)
    assert report_html(evaluation) == report_html(evaluation)
    assert report_xlsx(evaluation) == report_xlsx(evaluation)


def test_a_page_holds_drawings_of_network_and_drying() -> None:
    page = report_html(made.drying())
    assert page.count('class="network"') == 1
    assert "Resistances between terminals." in page
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def as_json(value: Any) -> bool:
    return isinstance(value, str | int | float | bool | None.__class__) or (
        all(as_json(v) for v in value.values()) if isinstance(value, dict) else all(map(as_json, value))
    )


@pytest.mark.parametrize(
    "evaluation", (made.drying(), invented.evaluation(made.staircase(), made.ended_early()))
)
def test_content_is_plain(evaluation: Evaluation) -> None:
    assert as_json(report_content(evaluation))


def test_a_negative_voltage_is_told_by_its_size_and_its_sign() -> None:
    record = made.negative(invented.evaluated()).record
    unsaid = replace(record, test=replace(record.test, polarity=None))
    said = pdf_text(invented.evaluation(replace(invented.evaluated(), record=unsaid)))
    assert "5.003 kV as read, 5 kV set, negative" in said


def test_a_long_name_is_cut_in_the_head_of_later_pages_only() -> None:
    name = "Reserve circulating water pump motor of the northern intake house"
    record = invented.record(asset=replace(invented.ASSET, name=name))
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(invented.evaluation(invented.evaluated(record)))))
    first, second, *_ = (plain(page.extract_text()) for page in reader.pages)
    assert name in first
    assert second.startswith("Reserve circulating water pump motor of the…")


@pytest.mark.parametrize(
    ("sentence", "lead", "more"),
    (
        ("P 3: meets every deciding criterion: index 3.63 (at least 2.00).",
         "Meets every deciding criterion.", "Index 3.63 (at least 2.00)."),
        ("P 3: index is 1.19, where at least 2.00 is required and spread is 4.72, where at most 2.00 is required.",
         "Index is 1.19, where at least 2.00 is required.", "Spread is 4.72, where at most 2.00 is required."),
        ("P 3: discharge is 4.99 mA/(V F) (below 2.00 mA/(V F) sound, from 2.00 mA/(V F) watch).",
         "Discharge is 4.99 mA/(V F).", "Bands: below 2.00 mA/(V F) sound, from 2.00 mA/(V F) watch."),
        ("P 3: R is 9 MΩ (at least 5 MΩ (twice; memory)).", "R is 9 MΩ (at least 5 MΩ).", ""),
        ("Another: it is wet. It meets nothing.", "Another: it is wet.", "It meets nothing."),
    ),
)  # fmt: skip
def test_a_verdict_leads_with_its_first_statement(sentence: str, lead: str, more: str) -> None:
    assert parted(sentence, "P 3") == {"sentence": lead, "more": more}


@pytest.mark.parametrize(
    ("text", "merged"),
    (
        ("below 1.50 watch, 1.50 to 2.00 watch, from 2.00 sound", "below 2.00 watch, from 2.00 sound"),
        ("below 2 mA/(V F) sound, 2 mA/(V F) to 4 mA/(V F) watch, from 4 mA/(V F) investigate",) * 2,
        ("at least 100 MΩ",) * 2,
    ),
)
def test_neighbouring_bands_of_one_status_are_one(text: str, merged: str) -> None:
    assert merged_bands(text) == merged


def test_what_neither_decides_nor_is_worst_stands_beside() -> None:
    watch = replace(invented.JUDGEMENTS[0], status=Status.WATCH, decides=False, name="Bands")
    found = criteria((*invented.JUDGEMENTS, watch), {})
    assert [row["name"] for row in found["beside"]] == ["Dielectric discharge", "Bands"]
    alone = criteria((watch,), {})
    assert [row["name"] for row in alone["rows"]] == ["Bands"]


def test_an_action_is_a_whole_sentence() -> None:
    verdict = replace(invented.VERDICT, actions=("one phase differs: find out why. phase W departs most.",))
    (said,) = next_steps(invented.evaluated(verdict=verdict))
    assert said == "One phase differs: find out why. Phase W departs most."


def test_accuracy_is_only_missed_where_none_was_declared() -> None:
    values = {q.id: replace(q, uncertainty=None) for q in invented.QUANTITIES}
    declared = invented.evaluated(quantities=values)
    assert certainty(declared) == "No uncertainty is worked out for this figure."
    bare = replace(declared, record=replace(declared.record, instrument=Instrument("tester")))
    assert "accuracy was not declared" in certainty(bare)


def test_an_unknown_key_is_stated_and_no_finding() -> None:
    record = replace(invented.record(), extra={"invented": "yes", "colour": "green"})
    found = (Finding("unknown_key", "The key 'colour' is not known."),)
    part = report_content(invented.evaluation(invented.evaluated(record, findings=found)))["parts"][0]
    assert part["findings"]["rows"] == []
    assert ["colour", "green"] in part["also_stated"]
    assert not any(word == "invented" for word, _ in part["also_stated"])


@pytest.mark.parametrize("paper", ("a4", "letter"))
@pytest.mark.parametrize(
    "make",
    (
        invented.evaluated, made.fitted, made.ended_early, made.staircase, made.knee, made.budgeted,
        lambda: made.with_causes(*made.CAUSES),
    ),
)  # fmt: skip
def test_a_record_takes_two_pages(make: Callable[[], Evaluated], paper: str) -> None:
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(invented.evaluation(make()), paper=paper)))
    first, *rest = (plain(page.extract_text()) for page in reader.pages)
    assert len(rest) == 1
    assert paper == "letter" or "Quantities" in first
    assert "Criteria" in rest[0]


def test_many_criteria_with_long_names_repeat_their_head() -> None:
    many = tuple(
        replace(invented.JUDGEMENTS[0], name=f"Minimum index of a rather long family of windings, no. {i}")
        for i in range(34)
    )
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(invented.evaluation(invented.evaluated(judgements=many)))))
    pages = [plain(page.extract_text()) for page in reader.pages]
    assert sum("Criterion; source; how verified" in page for page in pages) >= 2
    assert all(f"no. {i}" in " ".join(pages) for i in range(34))
