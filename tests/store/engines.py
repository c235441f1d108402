"""Both engines for every test of the store: a fresh file, a fresh database; nothing is left behind.

A test that takes ``store_address`` runs twice. One that needs several stores takes ``new_address`` and calls it
once for each.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from sqlalchemy import make_url

from tools import postgres

ENGINES = ("sqlite", "postgresql")
NewAddress = Callable[[], str]


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
        return make_url(server).set(database=made[-1]).render_as_string(hide_password=False)

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
    yield [make_url(server).set(database=name).render_as_string(hide_password=False) for name in names]
    for name in names:
        _command(server, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture
def store_address(new_address: NewAddress) -> str:
    """Address of a store that does not exist yet: a path, or an empty database."""
    return new_address()


def _name() -> str:
    # of no worker's number: two runs may share one server
    return f"test_{uuid4().hex}"


def _command(server: str, statement: str) -> None:
    plain = server.replace("+psycopg", "", 1)
    with closing(psycopg.connect(plain, autocommit=True)) as connection:
        connection.execute(statement.encode())
