"""Both engines for every test of the store: a fresh file, a fresh database; nothing is left behind.

A test that takes ``store_address`` runs twice. One that needs several stores takes ``new_address`` and calls it
once for each. What they give does not exist yet. Where that is not what is tested ``made_address`` and ``new_made``
give a store that exists and is empty: files are copies of one, databases are emptied and used again, and commit
without waiting for the disk.
"""

from __future__ import annotations

import atexit
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from sqlalchemy import make_url

from soakage.app.journal import HERE, START
from soakage.store import schema
from soakage.store.address import address
from soakage.store.store import Store
from tools import postgres

ENGINES = ("sqlite", "postgresql")
NewAddress = Callable[[], str]
_AT_ONCE = "ALTER DATABASE {} SET synchronous_commit = off"  # where durability is not what is tested
_LET_GO = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{}'"
_EMPTY = 'DELETE FROM "{}"'
_NAMED = "INSERT INTO chain (store, number, head, at) VALUES {}"
_SAME = "SELECT 1 / count(*) FROM alembic_version WHERE version_num = '{}'"  # fails where a step was taken


@pytest.fixture(params=ENGINES)
def engine(request: pytest.FixtureRequest) -> str:
    """The engine a test runs on; a test runs on each."""
    return str(request.param)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Address of a server: the one that go.py started for all, else one for this session alone."""
    given = os.environ.get(postgres.VARIABLE)
    if given:
        yield given
        return
    try:
        with postgres.address() as found:
            yield found
    except postgres.NoServerError as error:
        if os.environ.get("CI") == "true":
            raise
        pytest.skip(str(error))


@pytest.fixture(scope="session")
def spare_databases(postgres_server: str) -> Iterator[list[str]]:
    """Databases with an empty store in each, to be had again."""
    spare: list[str] = []
    yield spare
    for name in spare:
        _command(postgres_server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture
def new_address(engine: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[NewAddress]:
    """What makes a fresh store's address at each call, on the engine of the test."""
    if engine == "sqlite":
        yield lambda: str(tmp_path / f"{_name()}.sqlite")
        return
    server = request.getfixturevalue("postgres_server")
    made: list[str] = []

    def new() -> str:
        made.append(_name())
        _command(server, f"CREATE DATABASE {made[-1]}")
        return _in(server, made[-1])

    yield new
    for name in made:
        # a test that failed may have left a connection open
        _command(server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@contextmanager
def addresses(request: pytest.FixtureRequest, folder: Path, number: int) -> Iterator[list[str]]:
    """Addresses of several stores for a whole module, on the engine that is its parameter."""
    if request.param == "sqlite":
        yield [str(folder / f"{_name()}.sqlite") for _ in range(number)]
        return
    server = request.getfixturevalue("postgres_server")
    names = [_name() for _ in range(number)]
    for name in names:
        _command(server, f"CREATE DATABASE {name}")
        _command(server, _AT_ONCE.format(name))
    yield [_in(server, name) for name in names]
    for name in names:
        _command(server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture
def store_address(new_address: NewAddress) -> str:
    """Address of a store that does not exist yet: a path, or an empty database."""
    return new_address()


@pytest.fixture
def new_made(engine: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[NewAddress]:
    """What gives the address of an empty store at each call, on the engine of the test."""
    if engine == "sqlite":
        yield lambda: str(_copied(tmp_path / f"{_name()}.sqlite"))
        return
    server = request.getfixturevalue("postgres_server")
    spare = request.getfixturevalue("spare_databases")
    taken: list[str] = []

    def new() -> str:
        taken.append(spare.pop() if spare else _made(server))
        return _in(server, taken[-1])

    yield new
    for name in taken:
        if _emptied(server, name):
            spare.append(name)
        else:
            _command(server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture
def made_address(new_made: NewAddress) -> str:
    """Address of a store that exists and is empty."""
    return new_made()


@cache
def _one_made() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="soakage-tests-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    with Store(address(str(folder / "made.sqlite"))) as store, store.writing("nobody"):
        pass
    return folder / "made.sqlite"


def _copied(place: Path) -> Path:
    """Make a store of its own name from the one that was made."""
    shutil.copy(_one_made(), place)
    with closing(sqlite3.connect(place)) as file:
        file.execute("DELETE FROM chain")
        file.executemany(
            "INSERT INTO chain (store, number, head, at) VALUES (?, 0, ?, 0)",
            [(own, bytes.fromhex(START)) for own in _chains()],
        )
        file.commit()
    return place


def _made(server: str) -> str:
    name = _name()
    _command(server, f"CREATE DATABASE {name}")
    _command(server, _AT_ONCE.format(name))
    with Store(address(_in(server, name))) as store, store.writing("nobody"):
        pass
    return name


def _emptied(server: str, name: str) -> bool:
    """Empty the store of a database; False where it is not what it was."""
    # a test that failed may have left a connection open
    _command(server, _LET_GO.format(name))
    rows = ", ".join(f"('{own}', 0, decode('{START}', 'hex'), 0)" for own in _chains())
    emptying = [_EMPTY.format(table.name) for table in reversed(schema.metadata.sorted_tables)]
    try:
        _command(_in(server, name), "; ".join((*emptying, _NAMED.format(rows), _SAME.format(schema.VERSION))))
    except psycopg.Error:
        return False
    return True


def _chains() -> tuple[str, str]:
    name = uuid4().hex
    return name, name + HERE


def _in(server: str, name: str) -> str:
    return make_url(server).set(database=name).render_as_string(hide_password=False)


def _name() -> str:
    # of no worker's number: two runs may share one server
    return f"test_{uuid4().hex}"


def _command(server: str, statement: str) -> None:
    plain = server.replace("+psycopg", "", 1)
    with closing(psycopg.connect(plain, autocommit=True)) as connection:
        connection.execute(statement.encode())
