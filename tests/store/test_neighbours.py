"""Which tests a test is compared with, and when it was withdrawn: on both engines."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from soakage.demo.make import demo_files
from soakage.store.memory import StoreMemory
from soakage.store.neighbours import MOST_EARLIER, neighbours, withdrawals
from soakage.wiring import rules
from soakage.wiring.memory import memory
from soakage.wiring.taking import import_files

FILES = (
    "drain-pump-3-u.csv",
    "drain-pump-3-v.csv",
    "drain-pump-3-w.csv",
    "drain-pump-4.csv",
    "workshop-panel.csv",
)


@pytest.fixture
def hands(store_address: str, tmp_path: Path) -> Any:
    """Yield a store with some of the scenario, and phase U tested in ten earlier years too."""
    texts = {name: text for name, text in demo_files().items() if name in FILES}
    first = texts["drain-pump-3-u.csv"]
    for year in range(2010, 2020):
        texts[f"u-{year}.csv"] = first.replace("2026-", f"{year}-").replace("spring 2026", f"spring {year}")
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    opened = memory(store_address, "R. Amsel")
    with opened.store:
        import_files(opened, [str(tmp_path / name) for name in texts], rules())
        yield opened


def ids(hands: StoreMemory, section: str, day: str = "2026") -> list[str]:
    from soakage.store.schema import test

    with hands.store.reading() as connection:
        found = connection.execute(
            test.select().where(test.c.section == section).order_by(test.c.day)
        ).mappings()
        return [row["id"] for row in found if str(row["day"]).startswith(day)]


def near(hands: StoreMemory, test: str) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    with hands.store.reading() as connection:
        return neighbours(connection, test)


def test_sisters_are_of_the_same_visit_and_earlier_ones_of_the_same_section(hands: StoreMemory) -> None:
    (newest,) = ids(hands, "phase U")
    sisters, earlier = near(hands, newest)
    assert [row["section"] for row in sisters] == ["phase V", "phase W"]
    assert len(earlier) == MOST_EARLIER
    days = [row["day"] for row in earlier]
    assert days == sorted(days, reverse=True)
    assert days[0].startswith("2019")
    assert {row["section"] for row in earlier} == {"phase U"}


def test_each_brings_the_figures_of_its_verdict(hands: StoreMemory) -> None:
    (newest,) = ids(hands, "phase U")
    for row in (found for group in near(hands, newest) for found in group):
        figure = row["figures"]["insulation_resistance_60s"]
        assert figure["value"] > 0
        assert {"value", "bound", "uncertainty", "rule", "base_temperature"} == figure.keys()


def test_what_is_withdrawn_is_compared_with_nothing(hands: StoreMemory) -> None:
    from soakage.app.revising import withdraw

    (newest,) = ids(hands, "phase U")
    (sister,) = ids(hands, "phase W")
    withdraw(hands, hands.tests(ids=[sister])[0], rules(), "Wrong terminals.")
    assert [row["section"] for row in near(hands, newest)[0]] == ["phase V"]


def test_the_oldest_has_none_before_it_and_one_alone_none_at_all(hands: StoreMemory) -> None:
    (oldest,) = ids(hands, "phase U", "2010")
    assert near(hands, oldest) == ([], [])


def test_withdrawals_are_told_in_order_with_who_and_why(hands: StoreMemory) -> None:
    from soakage.app.revising import withdraw
    from soakage.app.signing import sign_off

    (test,) = ids(hands, "phase V")

    def told() -> list[tuple[bool, str]]:
        with hands.store.reading() as connection:
            found = withdrawals(connection, test)
        assert {row["person"] for row in found} <= {"R. Amsel"}
        assert [row["at"] for row in found] == sorted(row["at"] for row in found)
        return [(row["back"], row["reason"]) for row in found]

    assert told() == []
    withdraw(hands, hands.tests(ids=[test])[0], rules(), "Wrong.")
    withdraw(hands, hands.tests(ids=[test])[0], rules(), "Right.", back=True)
    sign_off(hands, hands.tests(ids=[test]), signed=True)
    withdraw(hands, hands.tests(ids=[test])[0], rules(), "Signed too early.")
    assert told() == [(False, "Wrong."), (True, "Right."), (False, "Signed too early.")]
