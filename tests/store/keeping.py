"""Fills a store for a test: the demo's invented history, or some of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

import pytest

from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.rules import default_rules
from soakage.demo.history import history_files
from soakage.importers.reading import read_bytes
from soakage.store.address import address
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
    memory = opened(where, person)
    return memory, take_in(memory, incoming(files_of(*assets)), default_rules())
