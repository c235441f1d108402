"""Trends as people read them in a terminal: nothing that a line can not know is said."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from soakage.app.due import due_tests
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.peers import Kin, Peer, Peers
from soakage.app.trend import trends
from soakage.app.trend_result import TrendLimit
from soakage.cli.trend_text import trend_text, work_list_text
from soakage.standards.library import library
from soakage.units import Bound

QUANTITY = "insulation_resistance_60s_corrected"
LIBRARY = library()
KIN = Kin("rotating-machine", 6600.0)
LIMITS = {("U", QUANTITY): (TrendLimit("house.minimum", 1e8, None, "an invented house rule"),)}


def point(year: int, value: float, section: str = "U", bound: Bound | None = None) -> HistoryPoint:
    return HistoryPoint(
        f"{section}{year}", date(year, 5, 1), section, QUANTITY, value, bound, rule="halving-10k",
        base_temperature=313.15, method="polarization-index", test_voltage=5000.0, tested=("U1",),
        earthed=("frame",), guarded=("G",), attached=("cable",), neutral="open", status="sound",
    )  # fmt: skip


FALLING = [point(2010 + k, 2e9 * 0.82**k) for k in range(12)]


def text(points: list[HistoryPoint], events: tuple[AssetEvent, ...] = (), peers: Peers | None = None) -> str:
    found = trends(points, events, LIMITS, peers, library=LIBRARY, today=date(2025, 1, 1))
    lines = "\n".join(trend_text("Pump 3", found, due_tests("Pump 3", found, LIBRARY)))
    return re.sub(r"\s+", " ", lines.replace("\N{NO-BREAK SPACE}", " "))


def test_a_falling_line_with_its_date_and_the_guidance() -> None:
    said = text(FALLING)
    assert said.startswith(
        "Trends: Pump 3 U: Corrected insulation resistance at 60 s polarization-index; 5 kV; "
    )
    assert "rule halving-10k at 40 °C; tested U1; earthed frame; guarded G; with cable; neutral open" in said
    assert "2010-05-01 2.00 GΩ sound" in said
    assert "Slope: \N{MINUS SIGN}18.0 % a year" in said
    assert "Mann-Kendall: score -66, p below 0.001." in said
    assert "18 % below the last (2020-05-01); 89 % below the first (2010-05-01)." in said
    assert "If the line went on it would reach 100 MΩ (house.minimum) on 2025-" in said
    assert "That is the date of a criterion, not of a failure." in said
    assert (
        "can not predict time to failure. IEC 60034-27-4:2018, introduction. As reported by others, not read."
        in said
    )
    assert "Next tests" in said


@pytest.mark.parametrize(
    "word", (r"\bsafe\b", r"may be energi[sz]ed", r"\bdischarged\b", r"\bclear\b", r"will fail")
)
def test_it_states_nothing_that_a_line_can_not_know(word: str) -> None:
    assert not re.search(word, text(FALLING), re.IGNORECASE)


def test_few_readings_say_so_and_no_date_is_given() -> None:
    said = text(FALLING[:3])
    assert "Slope: Not enough readings: 3, at least 5 values are needed." in said
    assert "No date: Not enough readings" in said
    assert "would reach" not in said


def test_an_earlier_series_is_named_and_not_joined() -> None:
    said = text(FALLING, (AssetEvent(date(2015, 1, 1), Happening.REWIND, "new coils"),))
    assert "Before it 5 tests, 2010-05-01 to 2014-05-01, not joined: rewind on 2015-01-01: new coils." in said


def test_sisters_and_peers_stand_beside() -> None:
    others = Peers(KIN, tuple(Peer(f"a{k}", KIN, point(2020, 1e7 * (k + 1))) for k in range(12)))
    said = text([*FALLING, point(2021, 1e9, "V"), point(2021, 2e9, "W")], peers=others)
    assert "Sister sections of that visit (V 1.00 GΩ, W 2.00 GΩ): 0.15 of their median." in said
    assert "Percentile among 12 peers (rotating-machine, 3.3 kV to 13.2 kV): 100." in said
    few = text(FALLING, peers=Peers(KIN, others.others[:3]))
    assert "Peers (rotating-machine, 3.3 kV to 13.2 kV): 3 peers; a percentile is given from 10 on." in few


def test_bounds_keep_their_signs() -> None:
    over = [replace(p, bound=Bound.LOWER) if p.value > 1.5e9 else p for p in FALLING]
    said = text(over)
    assert "> 2 GΩ sound" in said
    assert "> 89 % below the first" in said
    assert "2 of 12 readings are bounds" in said
    low = text([*FALLING[:-1], replace(FALLING[-1], value=5e9, bound=Bound.LOWER)])
    assert "> 150 % above the first" in low


def test_a_doubted_value_is_marked_where_it_stands() -> None:
    slipped = [replace(p, value=p.value * 1000) if k == 4 else p for k, p in enumerate(FALLING)]
    assert "2014-05-01 904 GΩ sound doubted" in text(slipped)


def test_peers_over_range_give_a_span() -> None:
    others = Peers(KIN, tuple(Peer(f"a{k}", KIN, point(2020, 1e8, bound=Bound.LOWER)) for k in range(12)))
    assert "0 to 100." in text(FALLING, peers=others)


def test_a_plain_quantity_keeps_its_unit() -> None:
    points = [replace(p, quantity="voltage_dependence", value=0.01 * k) for k, p in enumerate(FALLING)]
    assert "Slope: +0.01 1 a year" in text(points)


def test_nothing_known_is_said() -> None:
    assert text([]) == "Trends: Pump 3 No test with a day is known."
    assert list(work_list_text([])) == []


def test_lines_fit_a_terminal() -> None:
    found = trends(FALLING, (), LIMITS, library=LIBRARY, today=date(2025, 1, 1))
    whole = "\n".join(trend_text("Pump 3", found, due_tests("Pump 3", found, LIBRARY)))
    assert max(map(len, whole.splitlines())) <= 110


def test_a_work_list_keeps_its_order() -> None:
    found = trends(FALLING, library=LIBRARY, today=date(2025, 1, 1))
    (item,) = due_tests("Pump 3", found, LIBRARY)
    later = replace(item, asset="Fan 1", due=item.due + timedelta(days=9), section="")
    said = list(work_list_text([later, item]))
    assert said[1] == "Next tests"
    assert "Fan 1: SOUND on 2021-05-01." in said[2]
    assert "Pump 3, U: SOUND" in said[3]
