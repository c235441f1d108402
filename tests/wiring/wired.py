"""Files of an invented works, and a store they are taken into, as the doors do it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from soakage.app.intake import Intake
from soakage.app.ports import KnownTest
from soakage.app.rules import default_rules
from soakage.store.memory import StoreMemory
from soakage.wiring.memory import memory
from soakage.wiring.taking import files_in, import_files

HEAD = """\
# soakage = 1
# site = "{site}"
# asset = "{asset}"
# class = "{kind}"
# rated_voltage = "6.6 kV"
# section = "{section}"
# method = "insulation-resistance"
# test_voltage = "5 kV"
# started = {day}
# winding_temperature = "40 degC"
# instrument = "Invented tester"
# instrument_serial = "T-1"
time [s],voltage [V],current [uA]
15,5000,{more}
60,5000,{current}
"""


def text(
    asset: str = "Pump 1",
    section: str = "phase U",
    day: str = "2026-03-14",
    *,
    site: str = "Works",
    kind: str = "rotating-machine",
    current: float = 10.0,
) -> str:
    """One record file."""
    return HEAD.format(
        site=site, asset=asset, section=section, day=day, kind=kind, current=current, more=2 * current
    )


def write(folder: Path, files: dict[str, str]) -> Path:
    """Write files by their paths below a folder."""
    for name, content in files.items():
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(content, encoding="utf-8")
    return folder


@contextmanager
def hands(folder: Path, name: str = "store.sqlite", person: str = "N. Invented") -> Iterator[StoreMemory]:
    """A store in the hands of a person."""
    held = memory(str(folder / name), person)
    with held.store:
        yield held


def take(held: StoreMemory, folder: Path, files: dict[str, str]) -> Intake:
    """Take files in."""
    write(folder, files)
    return import_files(held, files_in([folder / name for name in files]), default_rules())


def only(held: StoreMemory, name: str) -> KnownTest:
    """The test of this id."""
    (found,) = held.tests(ids=[name])
    return found
