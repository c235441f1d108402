"""The tests of the store stand on ground of their own: fresh, on both engines, gone afterwards."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import psycopg
import pytest

from engines import NewAddress

SEEN: dict[str, str] = {}


def plain(address: str) -> str:
    return address.replace("+psycopg", "", 1)


def write_and_count(address: str) -> int:
    """Make a table, where it is not there yet, and put one row into it; return how many there are."""
    making = "CREATE TABLE IF NOT EXISTS t (k integer)"
    if address.startswith("postgresql"):
        with closing(psycopg.connect(plain(address))) as server:
            server.execute(making)
            server.execute("INSERT INTO t VALUES (1)")
            server.commit()
            row = server.execute("SELECT count(*) FROM t").fetchone()
    else:
        with closing(sqlite3.connect(address)) as file:
            file.execute(making)
            file.execute("INSERT INTO t VALUES (1)")
            file.commit()
            row = file.execute("SELECT count(*) FROM t").fetchone()
    assert row is not None
    return int(row[0])


@pytest.mark.parametrize("again", (False, True))
def test_every_test_finds_its_store_empty(store_address: str, again: bool) -> None:
    assert write_and_count(store_address) == 1
    assert SEEN.setdefault(store_address, f"{again}") == f"{again}"


def test_the_address_is_of_the_engine(engine: str, store_address: str) -> None:
    assert store_address.startswith("postgresql+psycopg://") == (engine == "postgresql")
    assert (engine == "sqlite") == store_address.endswith(".sqlite")


def test_several_stores_are_apart(new_address: NewAddress) -> None:
    first, second = new_address(), new_address()
    assert first != second
    assert write_and_count(first) == 1
    assert write_and_count(first) == 2
    assert write_and_count(second) == 1


@pytest.fixture
def left_open(postgres_server: str) -> Iterator[list[psycopg.Connection]]:
    """Connections that a test leaves open; looked at after the test's own ground is cleared."""
    connections: list[psycopg.Connection] = []
    yield connections
    names = {connection.info.dbname for connection in connections}
    with closing(psycopg.connect(plain(postgres_server))) as server:
        there = {str(row[0]) for row in server.execute("SELECT datname FROM pg_database").fetchall()}
    for connection in connections:
        connection.close()
    assert names & there == set()


# `left_open` is asked for first, so it looks last
def test_a_database_goes_even_while_someone_is_connected(
    left_open: list[psycopg.Connection], engine: str, new_address: NewAddress
) -> None:
    address = new_address()
    if engine == "postgresql":
        left_open.append(psycopg.connect(plain(address)))
        assert left_open[0].execute("SELECT 1").fetchone() == (1,)
    assert len(left_open) == (engine == "postgresql")


def test_a_server_of_ours_gives_up_nothing_for_speed(postgres_server: str) -> None:
    with closing(psycopg.connect(plain(postgres_server))) as server:
        for setting in ("fsync", "synchronous_commit", "full_page_writes"):
            row = server.execute("SELECT current_setting(%s)", [setting]).fetchone()
            assert row == ("on",), setting
