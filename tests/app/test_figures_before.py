"""Earlier figures and calibrations out of everything known, whatever order it came in; pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import permutations
from typing import Any

import pytest

from soakage.app.before import figures_before, figures_now
from soakage.app.calibration import due_of
from soakage.app.evaluate import evaluate
from soakage.app.folding import fold
from soakage.app.journal import STATED_IDENTITY, Entry, made_entry
from soakage.app.ports import KnownTest, PastTest
from soakage.app.rules import Rules
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from soakage.standards.library import library
from soakage.standards.profile import embedded_profile, read_profile

SHARE = Rules(
    read_profile(
        "share.toml",
        b"""
[profile]
id = "share"
title = "With the factory share (invented)"
include = "default"

[[use]]
criteria = ["gb-50150-2006.transformer-factory-share"]
applies = { class = ["transformer"] }
decides = []
cap = "investigate"
reason = "Invented."
""",
        library(),
        embedded_profile,
    ),
    library(),
)
R = "insulation_resistance_60s_corrected"


def past(name: str, day: str | None, value: float, **changed: Any) -> PastTest:
    stated = {"method": "insulation-resistance", "test_voltage": 5000.0} | changed.pop("stated", {})
    figure = {"value": value, "bound": changed.pop("bound", None), "uncertainty": None, "rule": "x",
              "base_temperature": None}  # fmt: skip
    return PastTest(name, changed.pop("section", "U"), day, stated, "sound", None, {R: figure}, None)


def known(day: str = "2026-03-14") -> KnownTest:
    text = (
        f'# soakage = 1\n# class = "apparatus"\n# section = "U"\n# method = "insulation-resistance"\n'
        f'# test_voltage = "5 kV"\n# started = {day}\nresistance [MOhm]\n500\n'
    )
    (record,) = read_bytes(text.encode(), "x.csv")
    return KnownTest(
        "now", "c", record, "a", None, None, "U", withdrawn=False, review="draft", status=None, result=None
    )


def test_first_last_and_factory() -> None:
    history = [
        past("1", "2020-03-14", 9e8),
        past("2", "2021-03-14", 8e8, stated={"purpose": "acceptance"}),
        past("3", "2022-03-14", 7e8),
    ]
    assert figures_before(known(), history, {}) == {("first", R): 9e8, ("last", R): 7e8, ("factory", R): 8e8}


def test_figures_just_made_win_over_those_kept() -> None:
    history = [past("1", "2020-03-14", 9e8), past("2", "2021-03-14", 8e8)]
    assert figures_before(known(), history, {"1": {R: 4e8}, "2": {}}) == {("first", R): 4e8, ("last", R): 4e8}


@pytest.mark.parametrize(
    "other",
    (
        past("x", "2026-03-14", 1e8), past("x", "2027-03-14", 1e8), past("x", None, 1e8),
        past("now", "2020-03-14", 1e8), past("x", "2020-03-14", 1e8, section="V"),
        past("x", "2020-03-14", 1e8, stated={"method": "ramp"}),
        past("x", "2020-03-14", 1e8, stated={"test_voltage": 2500.0}), past("x", "2020-03-14", 1e8, bound="lower"),
    ),
    ids=("same day", "later", "no day", "itself", "section", "method", "voltage", "bound"),
)  # fmt: skip
def test_what_is_not_comparable(other: PastTest) -> None:
    assert figures_before(known(), [other], {}) == {}


def test_a_bound_is_no_figure_for_later_tests() -> None:
    text = (
        '# soakage = 1\n# class = "apparatus"\n# method = "insulation-resistance"\nresistance [MOhm]\n> 500\n'
    )
    (judged,) = evaluate(read_bytes(text.encode(), "x.csv")).records
    assert figures_now(judged, ["insulation_resistance", "polarization_index"]) == {}
    (plain,) = evaluate(read_bytes(text.replace("> ", "").encode(), "x.csv")).records
    assert figures_now(plain, ["insulation_resistance", "polarization_index"]) == {
        "insulation_resistance": 500e6
    }


# References among records judged together


def lot(*rows: tuple[str, str, str]) -> list[float | None]:
    """The limits of the factory share of transformers judged together."""
    records: list[Record] = []
    for day, cell, purpose in rows:
        text = (
            '# soakage = 1\n# asset = "Set transformer"\n# class = "transformer"\n# filling = "oil"\n# section = "HV"\n'
            f'# rated_voltage = "22 kV"\n# started = {day}\n# method = "insulation-resistance"\n'
            '# test_voltage = "5 kV"\n'
            f'# insulation_temperature = "20 degC"\n{purpose}time [s],resistance [MOhm]\n60,{cell}\n'
        )
        records += read_bytes(text.encode(), f"{day}.csv")
    return [
        next(
            (
                j.limit.lower
                for j in judged.judgements
                if "factory-share" in j.criterion and j.limit is not None
            ),
            None,
        )
        for judged in evaluate(records, SHARE).records
    ]


def test_an_acceptance_test_of_the_same_lot_is_the_factory_value() -> None:
    limits = lot(("2020-03-14", "1000", '# purpose = "acceptance"\n'), ("2026-03-14", "900", ""))
    # at least 70 % of the factory value at the same temperature: GB 50150-2006 (from memory)
    assert limits[0] is None
    assert limits[1] == pytest.approx(0.7 * 1000e6)


def test_a_bound_is_no_factory_value() -> None:
    assert lot(("2020-03-14", "> 1000", '# purpose = "acceptance"\n'), ("2026-03-14", "900", "")) == [
        None,
        None,
    ]


# Calibrations


def entry(number: int, action: str, **body: Any) -> Entry:
    return made_entry(
        store="s", number=number, previous="0" * 64, at=number, person="N. Invented", identity=STATED_IDENTITY,
        kind="instrument", subject="i", action=action, parents=[], reason="", body=body,
    )  # fmt: skip


def due(entries: Sequence[Entry]) -> str | None:
    return due_of(fold(entries), entries)


def test_the_latest_calibration_in_any_order() -> None:
    made = [
        entry(1, "stated", set={"instrument_serial": "4711"}),
        entry(2, "calibrated", due="2026-03-01"),
        entry(3, "calibrated", due="2028-03-01"),
        entry(4, "calibrated", due="2027-03-01"),
    ]
    assert {due(order) for order in permutations(made)} == {"2028-03-01"}
    assert due(made[:1]) is None


def test_an_edit_wins_over_what_was_noted_before_it() -> None:
    made = [
        entry(1, "calibrated", due="2072-03-01"),
        entry(2, "stated", set={"calibration_due": "2027-03-01"}),
        entry(3, "calibrated", due="2026-03-01"),
    ]
    assert {due(order) for order in permutations(made)} == {"2027-03-01"}
    later = [*made, entry(4, "calibrated", due="2029-03-01")]
    assert {due(order) for order in permutations(later)} == {"2029-03-01"}
    assert date.fromisoformat(due(later) or "") == date(2029, 3, 1)


def test_a_purged_calibration_says_nothing() -> None:
    from dataclasses import replace

    gone = replace(entry(1, "calibrated", due="2072-03-01"), body=None)
    assert due([gone, entry(2, "calibrated", due="2026-03-01")]) == "2026-03-01"
