"""Fills a store for a test: the demo's invented history, or some of it; each part of it is taken in once."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from copy import deepcopy
from functools import cache
from pathlib import Path

import pytest

from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.rules import default_rules
from soakage.demo.history import history_files
from soakage.importers.reading import read_bytes
from soakage.store import schema
from soakage.store.address import address
from soakage.store.copying import copy_tables
from soakage.store.engine import resting_engine
from soakage.store.memory import StoreMemory
from soakage.store.store import Store


@cache
def all_files() -> dict[str, str]:
    return history_files()


def incoming(files: dict[str, str]) -> Iterator[Incoming]:
    for name, text in files.items():
        yield Incoming(name, text.encode(), read_bytes(text.encode(), name))


def files_of(*assets: str) -> dict[str, str]:
    """The files of assets, each named like its folder."""
    return {
        name: text
        for name, text in all_files().items()
        if any(f"/{asset}/" in f"/{name}" for asset in assets)
    }


_OPENED: list[Store] = []


@pytest.fixture(autouse=True)
def stores_closed() -> Iterator[None]:
    """Every store a test opened is let go at its end."""
    yield
    while _OPENED:
        _OPENED.pop().close()


def opened(where: str, person: str = "N. Invented") -> StoreMemory:
    store = Store(address(where))
    _OPENED.append(store)
    return StoreMemory(store, person)


def filled(where: str, assets: Iterable[str], person: str = "N. Invented") -> tuple[StoreMemory, Intake]:
    """A store with the history of these assets; two of the same are copies, with one name."""
    path, taken = _ready(tuple(assets), person)
    lay_down(path, where)
    return opened(where, person), deepcopy(taken)


@cache
def _ready(assets: tuple[str, ...], person: str) -> tuple[Path, Intake]:
    path = own_folder() / "ready.sqlite"
    with Store(address(str(path))) as store:
        return path, take_in(StoreMemory(store, person), incoming(files_of(*assets)), default_rules())


def own_folder() -> Path:
    """A folder that is gone with the process."""
    folder = Path(tempfile.mkdtemp(prefix="soakage-tests-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def lay_down(path: Path, where: str) -> None:
    """Make the store at an address, empty or not there yet, a copy of a file that rests."""
    place = address(where)
    if place.path is not None:
        shutil.copy(path, place.path)
        return
    engine = resting_engine(path)
    with Store(place) as store, engine.connect() as source, source.begin(), store.writing("nobody") as writer:
        writer.connection.execute(schema.chain.delete())
        copy_tables(source, writer.connection)
    engine.dispose()
