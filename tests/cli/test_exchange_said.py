"""What is said of a merge, of conflicts and of how they were settled, word for word."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from soakage.app.exchange import Conflict, Merged, Together
from soakage.app.folding import Claim
from soakage.app.register import SECTION
from soakage.app.settling import Settled
from soakage.cli.exchange_text import claim_text, conflicts_text, merged_text, settled_text

MADE = 1_773_000_000_000_000  # 2026-03-08T20:00:00Z
FORBIDDEN = ("is safe", "may be energised", "is discharged", "all clear", "\x1b")


def claims(*values: Any) -> tuple[Claim, ...]:
    return tuple(Claim(value, f"P{place}", MADE, "e" * 64) for place, value in enumerate(values, start=1))


def conflict(kind: str = "asset", field: str = "year", *values: Any) -> Conflict:
    return Conflict(kind, "0123456789abcdef", "Pump 3 motor", field, claims(*(values or (2002, 2001))))


def flat(lines: Iterable[str]) -> str:
    text = " ".join(" ".join(lines).replace("\u00a0", " ").split())
    assert not any(word in text.lower() for word in FORBIDDEN)
    return text


def merged(**values: Any) -> str:
    told = Merged(source="s" * 32, entries=4, known=2)
    for name, value in values.items():
        setattr(told, name, value)
    return flat(merged_text("ann.bundle", "0123456789abcdef", "Ann", MADE, told))


def test_who_made_it_where_and_when_comes_first() -> None:
    assert merged().startswith("ann.bundle: from store 0123456789ab, made by Ann, 2026-03-08T20:00:00Z")


def test_where_nothing_is_new_nothing_else_is_said() -> None:
    text = merged(entries=0, known=9, counts={"tests": 3}, conflicts=[conflict()])
    assert text.endswith("Nothing in it is new here.")
    assert "conflict" not in text


@pytest.mark.parametrize("dry", (False, True))
def test_a_dry_run_says_so_before_its_figures(dry: bool) -> None:
    text = merged(dry_run=dry, counts={"tests": 1})
    assert ("A dry run: nothing was kept. It would give: New: tests 1" in text) is dry


def test_counts_stand_in_order_of_their_names() -> None:
    text = merged(counts={"verdicts": 3, "assets": 1, "tests": 2})
    assert "New: assets 1, tests 2, verdicts 3. Known already: 2 entries." in text


@pytest.mark.parametrize(("number", "more"), ((0, 0), (1, 0), (20, 0), (21, 1), (45, 25)))
def test_new_assets_are_named_up_to_a_number(number: int, more: int) -> None:
    text = merged(assets=[(f"i{place}", f"Pump {place}.") for place in range(number)])
    assert text.count("New asset: ") == min(number, 20)
    assert (f"and {more} more assets" in text) is (more > 0)


@pytest.mark.parametrize(("number", "more"), ((0, 0), (1, 0), (20, 0), (23, 3)))
def test_visits_to_judge_again_are_named_with_the_command(number: int, more: int) -> None:
    text = merged(
        together=[
            Together("v", f"asset{place}", f"Pump {place}, 2026-03-08", "2026-03-08")
            for place in range(number)
        ]
    )
    assert text.count("Judge it again: soakage rejudge asset") == min(number, 20)
    assert (f"and {more} more visits: soakage rejudge --all" in text) is (more > 0)
    assert ("that were judged apart" in text) is (number > 0)


def test_conflicts_of_a_merge_stand_with_both_values() -> None:
    text = merged(conflicts=[conflict()])
    assert "In conflict, both values are kept. See 'soakage conflicts':" in text
    assert "1 2002 P1 2026-03-08T20:00:00Z 2 2001 P2 2026-03-08T20:00:00Z" in text


# Conflicts


@pytest.mark.parametrize(
    ("kind", "field", "values", "said"),
    (
        ("asset", "year", (2002, 2001), "year value by when"),
        ("asset", "rated_voltage", (6600.0, None), "1 6.60 kV P1 2026-03-08T20:00:00Z 2 not stated P2"),
        ("asset", "rated_voltage", (6600.0, 3300.0), "settle 0123456789ab rated_voltage --take N or VALUE"),
        ("asset", "retired", (True, False), "1 yes P1"),
        ("asset", "terminals", (["U", "V"], ["U"]), "1 U, V P1"),
        ("asset", f"{SECTION}phase U", ({}, None), "phase U"),
        ("asset", f"{SECTION}phase U", ({}, None), "1 there P1"),
        ("asset", f"{SECTION}phase U", ({}, None), f"'{SECTION}phase U' --take N"),
        ("recipe", "text", ("a", "b"), "--take N or VALUE"),
        ("test", "content", ("c" * 64, "d" * 64), "1 revision cccccccccccc P1"),
        ("test", "withdrawn", (True, False), "1 withdrawn P1 2026-03-08T20:00:00Z 2 not withdrawn P2"),
    ),
)
def test_a_conflict_shows_its_values_and_the_command(
    kind: str, field: str, values: tuple[Any, ...], said: str
) -> None:
    text = flat(conflicts_text([conflict(kind, field, *values)]))
    assert said in text
    assert text.startswith(f"Pump 3 motor ({kind} 0123456789ab): ")
    assert f"soakage settle 0123456789ab {'' if ' ' in field else field}".strip() in text


def test_of_a_test_no_other_value_can_be_given() -> None:
    text = flat(conflicts_text([conflict("test", "content", "c" * 64, "d" * 64)]))
    assert text.endswith("soakage settle 0123456789ab content --take N")


def test_claims_are_numbered_from_one_as_they_are_taken() -> None:
    lines = list(conflicts_text([conflict("asset", "tag", "x", "y", "z")]))
    numbered = [line.split()[:2] for line in lines if line.strip()[:1].isdigit()]
    assert numbered == [["1", "x"], ["2", "y"], ["3", "z"]]
    assert list(conflicts_text([])) == []


@pytest.mark.parametrize(
    ("kind", "field", "value", "said"),
    (
        ("asset", "year", None, "not stated"), ("test", "content", None, "not stated"),
        ("test", "content", "abcdef0123456789", "revision abcdef012345"), ("test", "withdrawn", True, "withdrawn"),
        ("test", "withdrawn", False, "not withdrawn"), ("asset", "content", "abc", "abc"),
        ("asset", "withdrawn", True, "yes"), ("asset", "x", {}, "there"), ("asset", "x", [], ""),
        ("asset", "winding_voltages", {"hv": 1e4}, "hv 10000"),
        ("instrument", "calibration_due", "2027-01-01", "2027-01-01"),
    ),
)  # fmt: skip
def test_a_value_in_words(kind: str, field: str, value: Any, said: str) -> None:
    assert claim_text(conflict(kind, field), value).replace("\u00a0", " ") == said


# Settled


@pytest.mark.parametrize(
    "kind", ("asset", "instrument", "test", "recipe", "site", "person", "setting", "visit")
)
def test_what_stands_and_what_stays_is_said(kind: str) -> None:
    text = flat(settled_text(Settled(conflict(kind, "name", "a", "b"), "b")))
    assert text.startswith("Pump 3 motor: name is b now. The other values stay in the trail.")
    judged = kind in ("asset", "instrument", "test")
    assert ("until the tests are judged again with 'soakage rejudge'" in text) is judged


@pytest.mark.parametrize(
    ("field", "value", "said"),
    (
        ("rated_voltage", 6600.0, "rated_voltage is 6.60 kV now"), ("year", None, "year is not stated now"),
        ("retired", False, "retired is no now"),
    ),
)  # fmt: skip
def test_a_settled_value_has_its_unit(field: str, value: Any, said: str) -> None:
    assert said in flat(settled_text(Settled(conflict("asset", field, value, 1), value)))
