"""A profile's own words on a report: at its head and where it says what it comes from, nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invented import RULES
from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluation
from soakage.demo.make import demo_files
from soakage.importers.reading import read_bytes
from soakage.report.content import report_content

NAME, TEXT = next((name, text) for name, text in demo_files().items() if "pump" in name)
PLAIN = evaluate(read_bytes(TEXT.encode(), NAME))


def worded(**wording: str) -> Evaluation:
    return replace(PLAIN, rules=replace(PLAIN.rules, wording=wording))


@pytest.mark.parametrize(
    ("wording", "first"),
    (
        ({"company": "Lowland works (invented)"}, "Lowland works (invented)"),
        ({"heading": "Electrical maintenance"}, "Electrical maintenance"),
        ({"company": "Lowland works (invented)", "heading": "Electrical maintenance"},
         "Lowland works (invented), Electrical maintenance"),
    ),
)  # fmt: skip
def test_company_and_heading_stand_before_the_site(wording: dict[str, str], first: str) -> None:
    site = report_content(PLAIN)["head"][0]
    head = report_content(worded(**wording))["head"][0]
    assert head == f"{first}, {site}" if site else first


def test_a_note_stands_with_the_origin() -> None:
    rows = report_content(worded(note="Keep ten years."))["origin"]
    assert ["Note of the profile", "Keep ten years."] in rows
    assert not any(row[0] == "Note of the profile" for row in report_content(PLAIN)["origin"])


def test_wording_changes_nothing_else() -> None:
    plain, other = (
        report_content(PLAIN),
        report_content(worded(company="Lowland works (invented)", note="N.")),
    )
    assert [key for key in plain if plain[key] != other[key]] == ["head", "origin"]


def test_rules_made_without_wording_have_none() -> None:
    assert RULES.wording == {}
