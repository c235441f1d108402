"""Invented tests of one motor, taken into a store, for what is changed there afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from keeping import opened
from soakage.app.intake import Incoming, take_in
from soakage.app.ports import KnownAsset, KnownTest
from soakage.app.rules import default_rules
from soakage.importers.reading import read_bytes
from soakage.store.memory import StoreMemory

PLATE = """\
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# winding = "form-wound"
# insulation = "thermosetting"
# thermal_class = "F"
# year = 2004
"""
HEAD = """\
# soakage = 1
# site = "Invented works"
# asset = "Pump 3 motor"
# method = "polarization-index"
# test_voltage = "5 kV"
# winding_temperature = "40 degC"
# relative_humidity = "40 %"
"""
SOUND = (30.0, 20.0, 10.0, 4.0)  # 500 MOhm at 60 s, index 2.5
WEAK = (12.0, 11.0, 10.0, 9.0)  # index 1.1
UNFIT = (300.0, 200.0, 100.0, 40.0)  # 50 MOhm
MARKS = (15, 30, 60, 600)


@pytest.fixture
def where(tmp_path: Path) -> str:
    """A store of the quick engine, where the engine is not what is tested."""
    return str(tmp_path / "store.sqlite")


def text(
    currents: Sequence[float] = SOUND, day: str = "2026-03-14", section: str = "phase U", plate: str = PLATE,
    more: str = "",
) -> str:  # fmt: skip
    rows = "".join(f"{mark},5000,{current}\n" for mark, current in zip(MARKS, currents, strict=True))
    return f'{HEAD}# started = {day}\n# section = "{section}"\n{plate}{more}time [s],voltage [V],current [uA]\n{rows}'


def take(memory: StoreMemory, *texts: str, again: bool = False) -> list[str]:
    """Take records in; return the ids of their tests."""
    from soakage.app.intake import Intake

    files = [
        Incoming(f"{place}.csv", one.encode(), read_bytes(one.encode(), f"{place}.csv"))
        for place, one in enumerate(texts)
    ]
    taken = take_in(memory, files, default_rules(), outcome=Intake(again=again))
    assert taken.count("refused") == 0, [file.faults for file in taken.files]
    return [test.test for file in taken.files for test in file.tests]


def store_with(where: str, *texts: str, person: str = "N. Invented") -> tuple[StoreMemory, list[KnownTest]]:
    memory = opened(where, person)
    ids = take(memory, *(texts or (text(),)))
    return memory, [one(memory, name) for name in ids]


def one(memory: StoreMemory, name: str) -> KnownTest:
    (found,) = memory.tests(ids=[name])
    return found


def the_motor(memory: StoreMemory) -> KnownAsset:
    (found,) = memory.assets_like(["Pump 3 motor"], [], [])
    return found


def entries(memory: StoreMemory, kind: str, subject: str) -> list[tuple[str, str, str]]:
    """Action, person and reason of the entries on a subject, in order of time."""
    from soakage.store.writing import entries_on

    with memory.store.reading() as connection:
        found = entries_on(connection, [(kind, subject)]).get((kind, subject), [])
    return [(entry.action, entry.person, entry.reason) for entry in sorted(found, key=lambda entry: entry.at)]


def whole(memory: StoreMemory) -> None:
    """Hold the journal against its hashes."""
    from soakage.app.journal import trail_faults
    from soakage.store.trail import entries as trail
    from soakage.store.trail import own_chains

    with memory.store.reading() as connection:
        faults, gaps = trail_faults(trail(connection), own_chains(connection))
    assert faults == []
    assert gaps == 0
