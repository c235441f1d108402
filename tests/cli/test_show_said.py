"""An asset and a test as ``soakage show`` prints them: all that is kept stands there, and nothing is judged anew."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from soakage.cli.show_asset import added_text, asset_text, figure_text, instruments_text
from soakage.cli.show_test import READINGS_SHOWN, figure, result_text
from soakage.cli.show_test import test_text as whole_text
from soakage.cli.tables import NOTHING
from soakage.cli.text import AFTERWARDS

Row = dict[str, Any]
FORBIDDEN = ("is safe", "may be energised", "is discharged", "all clear", "\x1b")
NO_MORE: Row = {
    "conflicts": [],
    "events": [],
    "attachments": [],
    "reviews": [],
    "notes": [],
    "instruments": [],
}
R60 = "insulation_resistance_60s_corrected"


def flat(lines: Iterable[str]) -> str:
    text = " ".join(" ".join(lines).replace("\u00a0", " ").split())
    assert not any(word in text.lower() for word in FORBIDDEN)
    return text


def kept(value: float = 5e8, bound: str | None = None) -> Row:
    return {"value": value, "bound": bound, "uncertainty": None, "rule": None, "base_temperature": None}


def asset(**changed: Any) -> Row:
    page: Row = {
        "asset": {
            "id": "0123456789abcdef",
            "asset": "Pump 3 motor",
            "site": "Works",
            "rated_voltage": 6600.0,
        },
        "sections": [{"name": "phase U"}, {"name": "phase V"}],
        "standing": {"status": "watch", "day": "2026-03-14", "tests": 3, "unsigned": 2},
        "tests": [],
        **NO_MORE,
    }
    return page | changed


def a_test(**changed: Any) -> Row:
    row: Row = {
        "id": "fedcba9876543210", "day": "2026-03-14", "section": "phase U", "figures": {}, "review": "draft",
        "status": "sound", "state": "current", "sentence": "All criteria are met.",
    }  # fmt: skip
    return row | changed


# Figures


@pytest.mark.parametrize(
    ("figures", "said"),
    (
        ({}, NOTHING), ({R60: kept()}, "500 MΩ"), ({R60: kept(bound="lower")}, "> 500 MΩ"),
        ({R60: kept(bound="upper")}, "< 500 MΩ"), ({"insulation_resistance": kept(1e9)}, "1.00 GΩ"),
        ({"insulation_resistance": kept(1e9), R60: kept()}, "500 MΩ"), ({"polarization_index": kept(2.0)}, NOTHING),
        ({"insulation_resistance_60s": kept(2e9), "insulation_resistance": kept(1e9)}, "2.00 GΩ"),
    ),
)  # fmt: skip
def test_the_figure_beside_a_test_is_the_first_of_those_that_count(figures: Row, said: str) -> None:
    names = (R60, "insulation_resistance_corrected", "insulation_resistance_60s", "insulation_resistance")
    assert figure_text(figures, names).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("name", "value", "bound", "said"),
    (
        ("polarization_index", 2.5, None, "2.50"), ("polarization_index", 2.5, "lower", "> 2.5"),
        ("insulation_resistance", 5e8, None, "500 MΩ"), ("insulation_resistance", 5e8, "upper", "< 500 MΩ"),
        ("insulation_resistance_60s", 1.234e12, None, "1.23 TΩ"), ("insulation_resistance", 0.0, None, "0 Ω"),
    ),
)  # fmt: skip
def test_a_quantity_is_printed_with_its_unit(name: str, value: float, bound: str | None, said: str) -> None:
    assert figure(name, value, bound).replace("\u00a0", " ") == said


# Assets


@pytest.mark.parametrize(
    ("plate", "first"),
    (
        ({"asset": "Pump", "site": "Works"}, "Pump, Works"), ({"asset": "Pump"}, "Pump"),
        ({"tag": "P-3", "site": "Works"}, "P-3, Works"), ({"serial": "s-1"}, "s-1"),
        ({"asset": "Pump", "tag": "P-3", "serial": "s-1"}, "Pump"),
    ),
)  # fmt: skip
def test_an_asset_goes_by_the_first_of_its_names(plate: Row, first: str) -> None:
    assert next(asset_text(asset(asset={"id": "i", **plate}))) == first


def test_where_it_stands_comes_before_its_nameplate() -> None:
    text = flat(asset_text(asset()))
    assert "WATCH (newest visit: 2026-03-14) 3 tests, 2 not signed" in text
    assert text.index("WATCH") < text.index("Nameplate")
    assert "rated_voltage: 6.60 kV sections: phase U, phase V" in text


@pytest.mark.parametrize("day", (None, "2026-03-14"))
def test_a_visit_without_a_day_is_said(day: str | None) -> None:
    standing = {"status": "unfit", "day": day, "tests": 1, "unsigned": 1}
    assert f"UNFIT (newest visit: {day or 'no day'})" in flat(asset_text(asset(standing=standing)))


def test_an_asset_without_a_test_says_so() -> None:
    text = flat(asset_text(asset(standing=None, sections=[])))
    assert "No test is kept." in text
    assert "Tests" not in text
    assert "sections" not in text


def test_its_tests_stand_in_a_table_with_their_figures() -> None:
    tests = [
        a_test(figures={R60: kept(), "polarization_index": kept(2.5)}),
        a_test(id="b" * 16, section="phase V", day=None, state="withdrawn", review="signed", status="unfit"),
    ]
    text = flat(asset_text(asset(tests=tests)))
    assert "fedcba987654 2026-03-14 phase U 500 MΩ 2.50 draft sound" in text
    assert f"bbbbbbbbbbbb {NOTHING} phase V {NOTHING} {NOTHING} signed withdrawn (unfit)" in text
    assert "Resistances as corrected by the rule that judged, where there was one." in text


def test_without_figures_nothing_is_said_of_their_correction() -> None:
    assert "as corrected" not in flat(asset_text(asset(tests=[a_test()])))


@pytest.mark.parametrize(
    ("index", "said"),
    (
        ("polarization_index", "2.50"), ("dielectric_absorption_ratio", "2.50"), ("absorption_ratio_60_15", "2.50"),
        ("insulation_resistance", NOTHING),
    ),
)  # fmt: skip
def test_the_index_beside_a_test_is_the_one_there_is(index: str, said: str) -> None:
    line = next(
        line
        for line in asset_text(asset(tests=[a_test(figures={index: kept(2.5)})]))
        if "fedcba987654" in line
    )
    assert line.replace("\u00a0", " ").split()[-3] == said


def test_the_end_says_how_to_look_closer() -> None:
    assert flat(asset_text(asset())).endswith(
        "Look closer with 'soakage show TEST', at its course with 'soakage trend ASSET'."
    )


@pytest.mark.parametrize(
    ("instrument", "said"),
    (
        ({"instrument": "tester", "instrument_serial": "7", "calibration_due": "2027-01-01"},
         "- tester 7, calibration due 2027-01-01"),
        ({"instrument": "tester"}, "- tester , calibration not stated"),
        ({"instrument_serial": "7"}, "- instrument 7, calibration not stated"),
    ),
)  # fmt: skip
def test_an_instrument_and_its_calibration(instrument: Row, said: str) -> None:
    text = flat(instruments_text([instrument]))
    assert text == f"Instruments used {said}"
    assert list(instruments_text([])) == []


SAID = {"person": "N. Invented", "said_at": "2026-03-15T08:00:00.000Z"}
ADDED: dict[str, tuple[str, Row, str]] = {
    "an event": ("events", {"at": "2021-03-04", "event": "rewind", "text": "New coils."},
                 "Events - 2021-03-04: rewind. New coils. (N. Invented, 2026-03-15)"),
    "an event without words": ("events", {"at": "2021-03-04", "event": "refill"},
                               "Events - 2021-03-04: refill. (N. Invented, 2026-03-15)"),
    "a note": ("notes", {"text": "The gland leaks."}, "Notes - The gland leaks. (N. Invented, 2026-03-15)"),
    "a file": ("attachments", {"name": "photo.jpg", "size": 1234},
               "Attachments - photo.jpg (1234 bytes) (N. Invented, 2026-03-15)"),
    "a sign-off": ("reviews", {"action": "signed", "status": "sound", "text": "Looked at."},
                   "Reviews - signed as sound. Looked at. (N. Invented, 2026-03-15)"),
    "a review": ("reviews", {"action": "reviewed", "status": "watch"},
                 "Reviews - reviewed as watch. (N. Invented, 2026-03-15)"),
}  # fmt: skip


@pytest.mark.parametrize("what", ADDED)
@pytest.mark.parametrize("times", (1, 3))
def test_what_was_added_stands_with_who_and_when(what: str, times: int) -> None:
    group, row, said = ADDED[what]
    text = flat(added_text(NO_MORE | {group: [SAID | row] * times}))
    assert text.startswith(said)
    assert text.count("(N. Invented, 2026-03-15)") == times
    assert sum(text.count(title) for title in ("Events", "Notes", "Attachments", "Reviews")) == 1


def test_a_conflict_shows_its_claims() -> None:
    claims = [
        {"value": 6600.0, "person": "Bo", "at": "2026-03-15T08:00:00.000Z"},
        {"value": 3300.0, "person": "Ann", "at": "2026-03-14T08:00:00.000Z"},
    ]
    text = flat(added_text(NO_MORE | {"conflicts": [{"field": "rated_voltage", "claims": claims}]}))
    assert "In conflict: rated_voltage. Settle it by stating the right value once more." in text
    assert "- 6.60 kV (Bo, 2026-03-15T08:00:00.000Z) - 3.30 kV (Ann, 2026-03-14T08:00:00.000Z)" in text
    assert list(added_text(NO_MORE)) == []


# Tests

RESULT: Row = {
    "quantities": {
        "insulation_resistance_60s": {"value": 5e8, "bound": None, "uncertainty": 5e6, "formula": "U / I"},
        "polarization_index": {"value": 2.5, "bound": "lower", "uncertainty": None, "formula": "R600 / R60"},
    },
    "judgements": [
        {"status": "sound", "name": "Minimum", "quantity": "insulation_resistance_60s", "value": 5e8, "reason": "Met.",
         "limit": {"text": "at least 100 MΩ"}, "source": "Invented rule 1", "verified": "user"},
        {"status": "not judged", "name": "Index", "quantity": "polarization_index", "value": None, "limit": None,
         "reason": "It has no meaning here.", "source": "Invented rule 2", "verified": "user"},
    ],
    "checks": {"passed": 4, "made": 5},
    "findings": [{"code": "humid", "sentence": "The air was humid.", "status": "watch"},
                 {"code": "spare", "sentence": "Only told.", "status": None}],
    "causes": [{"id": "moisture", "name": "Moisture", "weight": 2.0, "confirm_by": "Dry it and test again."}],
    "not_tested": [{"what": "phase W", "why": "no access"}],
    "verdict": {"actions": ["Dry it.", "Test it again."]},
}  # fmt: skip


def page(**changed: Any) -> Row:
    readings = {
        "time": [15.0, 60.0, None], "voltage": [5000.0, 5000.0, None], "current": [2e-5, 1e-5, None],
        "resistance": [2.5e8, 5e8, 1e9], "bound": [0, 0, 1],
    }  # fmt: skip
    verdict = {
        "status": "sound", "stands": True, "profile": "default", "profile_sha256": "p" * 64,
        "criteria_sha256": "c" * 64,
        "version": "0.1", "person": "N. Invented", "at": "2026-03-14T10:00:00.000Z", "reason": "",
    }  # fmt: skip
    made: Row = {
        "test": a_test(),
        "asset": {"id": "i", "asset": "Pump 3 motor", "site": "Works", "tag": None, "serial": None},
        "record": {"stated": {"test_voltage": 5000.0}, "extra": {"colour": "grey"}, "findings": [],
                   "readings": readings},
        "result": RESULT,
        "revisions": [{"number": 1, "reason": "", "person": "N. Invented", "at": "2026-03-14T10:00:00.000Z"}],
        "verdicts": [verdict],
        "origin": {"file": "a.csv", "row": None, "sha256": "f" * 64, "kept": True},
        **NO_MORE,
    }  # fmt: skip
    return made | changed


@pytest.mark.parametrize(
    ("changed", "first"),
    (
        ({}, "Pump 3 motor, Works, phase U, 2026-03-14"), ({"asset": None}, "no asset, phase U, 2026-03-14"),
        ({"asset": {"tag": "P-3"}}, "P-3, phase U, 2026-03-14"), ({"asset": {"serial": "7"}}, "7, phase U, 2026-03-14"),
        ({"test": a_test(day=None, section="")}, "Pump 3 motor, Works"),
    ),
)  # fmt: skip
def test_a_test_is_named_by_asset_section_and_day(changed: Row, first: str) -> None:
    lines = whole_text(page(**changed))
    assert next(lines) == first
    assert next(lines) == "Test fedcba9876543210"


@pytest.mark.parametrize("status", ("sound", "unfit", "invalid test", None))
@pytest.mark.parametrize("state", ("current", "withdrawn"))
def test_the_verdict_comes_first_and_a_withdrawal_before_it(status: str | None, state: str) -> None:
    text = flat(whole_text(page(test=a_test(status=status, state=state))))
    assert (status or "not judged").upper() in text
    assert ("WITHDRAWN: kept, and counted nowhere." in text) is (state == "withdrawn")
    assert text.index((status or "not judged").upper()) < text.index("Quantities")


def test_a_test_that_nobody_judged_has_no_result() -> None:
    text = flat(whole_text(page(test=a_test(status=None, sentence=None), result=None, verdicts=[])))
    assert "NOT JUDGED" in text
    assert "Criteria" not in text
    assert "None" not in text


def test_it_ends_with_what_comes_before_everything() -> None:
    assert flat(whole_text(page())).endswith(" ".join(AFTERWARDS.split()))


def test_the_result_is_told_as_it_was_given() -> None:
    text = flat(result_text(RESULT))
    for part in (
        "500 MΩ ± 10 MΩ (U / I)", "> 2.5 (R600 / R60)", "sound: Minimum: 500 MΩ; at least 100 MΩ",
        f"not judged: Index: {NOTHING}; no limit", "It has no meaning here.",
        "Findings (4 of 5 checks found nothing)", "humid: [watch] The air was humid.", "spare: Only told.",
        "Probable causes, by weight of evidence (no probability is computed) - Moisture (weight 2). To confirm: Dry it",
        "Not tested - phase W: no access", "What to do next 1. Dry it. 2. Test it again.",
    ):  # fmt: skip
        assert part in text, part
    assert "Met." not in text


@pytest.mark.parametrize("part", ("causes", "not_tested", "findings"))
def test_parts_that_are_empty_have_no_heading(part: str) -> None:
    text = flat(result_text(RESULT | {part: []}))
    titles = {"causes": "Probable causes", "not_tested": "Not tested", "findings": "humid"}
    assert titles[part] not in text
    assert all(title in text for name, title in titles.items() if name != part)


def test_what_was_stated_stands_with_its_units_and_what_nobody_knows_is_marked() -> None:
    text = flat(whole_text(page()))
    assert "test_voltage: 5.00 kV" in text
    assert "colour: grey (a key the reader does not know)" in text


def test_readings_are_shown_with_their_bounds() -> None:
    text = flat(whole_text(page()))
    assert "Readings (3) time voltage current resistance" in text
    assert "60 s 5.00 kV 10.0 µA 500 MΩ" in text
    assert f"{NOTHING} {NOTHING} {NOTHING} > 1 GΩ" in text


@pytest.mark.parametrize("count", (0, 1, READINGS_SHOWN, READINGS_SHOWN + 1, 601))
def test_of_many_readings_some_are_shown_and_always_the_last(count: int) -> None:
    readings = {
        "time": [float(n) for n in range(count)], "voltage": [5000.0] * count, "current": [None] * count,
        "resistance": [1e9] * count, "bound": [0] * count,
    }  # fmt: skip
    record = page()["record"] | {"readings": readings}
    lines = [line.split() for line in whole_text(page(record=record))]
    shown = [line[0] for line in lines if line[1:2] == ["s"] or (line and line[0].endswith("\u00a0s"))]
    text = flat(whole_text(page(record=record)))
    assert f"Readings ({count})" in text
    assert len(shown) == min(count, READINGS_SHOWN)
    assert ("every so many of them, and the last" in text) is (count > READINGS_SHOWN)
    if count:
        assert shown[-1].startswith(f"{count - 1}")
        assert shown[0].startswith("0")
    assert len(set(shown)) == len(shown)


@pytest.mark.parametrize("stands", (True, False))
def test_each_verdict_names_what_judged(stands: bool) -> None:
    given = page()["verdicts"][0] | {"stands": stands, "reason": "Another edition."}
    text = flat(whole_text(page(verdicts=[given, given])))
    assert (
        text.count(
            "profile default (pppppppppppp), criteria cccccccccccc, Soakage 0.1; N. Invented, 2026-03-14."
        )
        == 2
    )
    assert text.count("(does not stand any more)") == (0 if stands else 2)
    assert text.count("Another edition.") == 2


def test_revisions_are_told_once_there_are_several() -> None:
    first = page()["revisions"][0]
    second = first | {"number": 2, "reason": "Misread.", "person": "Bo"}
    assert "Revisions" not in flat(whole_text(page()))
    text = flat(whole_text(page(revisions=[first, second])))
    assert "- 1: as received (N. Invented, 2026-03-14) - 2: Misread. (Bo, 2026-03-14)" in text


@pytest.mark.parametrize(
    ("origin", "said"),
    (
        ({}, "From a.csv; SHA-256 " + "f" * 64 + "; the file is kept as it came."),
        ({"row": 7}, "From a.csv, line 7; SHA-256"), ({"kept": False}, "the file itself is not kept."),
        ({"file": "", "sha256": ""}, f"From no file; SHA-256 {NOTHING};"),
    ),
)  # fmt: skip
def test_where_it_came_from(origin: Row, said: str) -> None:
    assert said in flat(whole_text(page(origin=page()["origin"] | origin)))
