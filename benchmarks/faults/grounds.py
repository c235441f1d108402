"""Where works go on: a folder with a file of SQLite, or with a database of a server that may be killed."""

from __future__ import annotations

import os
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from sqlalchemy import make_url

from tools.postgres import Cluster, cluster

PROCESS, BACKEND, SERVER = "process", "server process of the connection", "whole server"
_PATIENCE = 60.0


@dataclass(frozen=True, slots=True)
class Ground:
    """A folder for files, and the address of a store."""

    folder: Path
    address: str


class Grounds(Protocol):
    """Makes grounds of one engine."""

    engine: str
    ways: tuple[tuple[str, float], ...]  # what is killed, and in which share

    def new(self, like: Ground | None = None) -> Ground:
        """Return a ground with an empty folder and no store, or a copy of another that nobody uses."""

    def remove(self, ground: Ground) -> None:
        """Take it away."""

    def kill(self, way: str, ground: Ground) -> None:
        """Kill what serves a ground."""

    def back(self) -> None:
        """Have it answer again, as an operator would; nothing is repaired."""


class Files:
    """SQLite: the worker itself is killed, there is nothing else.

    Parameters
    ----------
    root : Path
        Holds all grounds.
    """

    engine = "sqlite"
    ways: tuple[tuple[str, float], ...] = ((PROCESS, 1.0),)

    def __init__(self, root: Path) -> None:
        self._root, self._count = root, 0

    def new(self, like: Ground | None = None) -> Ground:
        """Return a ground."""
        self._count += 1
        folder = self._root / f"{self.engine}-{self._count}"
        if like is None:
            folder.mkdir()
        else:
            shutil.copytree(like.folder, folder)
        return Ground(folder, str(folder / "store.sqlite"))

    def remove(self, ground: Ground) -> None:
        """Take it away."""
        shutil.rmtree(ground.folder)

    def kill(self, way: str, ground: Ground) -> None:
        """Do nothing: a file has no server."""

    def back(self) -> None:
        """Do nothing: a file is always there."""


class Databases:
    """PostgreSQL: besides the worker, the process that serves it is killed, or the whole server.

    Parameters
    ----------
    root : Path
        Holds the folders of all grounds.
    server : Cluster
        Of this campaign alone.
    """

    engine = "postgresql"
    ways: tuple[tuple[str, float], ...] = ((PROCESS, 0.7), (BACKEND, 0.25), (SERVER, 0.05))

    def __init__(self, root: Path, server: Cluster) -> None:
        self._root, self._count, self._server, self._down = root, 0, server, False

    def new(self, like: Ground | None = None) -> Ground:
        """Return a ground."""
        self._count += 1
        name = f"{self.engine}_{self._count}"
        folder = self._root / name
        if like is None:
            folder.mkdir()
            self._command(f"CREATE DATABASE {name}")
        else:
            shutil.copytree(like.folder, folder)
            self._command(f"CREATE DATABASE {name} TEMPLATE {like.folder.name}")
        url = make_url(self._server.address).set(database=name)
        return Ground(folder, url.render_as_string(hide_password=False))

    def remove(self, ground: Ground) -> None:
        """Take it away."""
        self._command(f"DROP DATABASE {ground.folder.name} WITH (FORCE)")
        shutil.rmtree(ground.folder)

    def kill(self, way: str, ground: Ground) -> None:
        """Kill the processes that serve a ground, or all of the server."""
        if way == SERVER:
            self._server.kill()
            self._down = True
        elif way == BACKEND:
            for process in _serving(ground.folder.name):
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)

    def back(self) -> None:
        """Start the server if it is gone, and wait until it takes connections again."""
        if self._down:
            self._server.start()
            self._down = False
        self._command("SELECT 1")

    def _command(self, statement: str) -> None:
        import psycopg

        plain = self._server.address.replace("+psycopg", "", 1)
        give_up = time.monotonic() + _PATIENCE
        while True:
            try:
                with closing(psycopg.connect(plain, autocommit=True)) as connection:
                    connection.execute(statement.encode())
            except psycopg.OperationalError:  # it recovers by itself after one of its processes was killed
                if time.monotonic() > give_up:
                    raise
                time.sleep(0.02)
            else:
                return


def _serving(database: str) -> Iterator[int]:
    """Yield the processes of PostgreSQL that serve a database: each says so in its title."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                title = (entry / "cmdline").read_bytes()
            except OSError:
                continue
            if title.startswith(b"postgres: ") and database.encode() in title.split():
                yield int(entry.name)


@contextmanager
def grounds(engine: str, root: Path) -> Iterator[Grounds]:
    """Give what makes grounds of an engine; a server is started for it and gone at the end.

    Parameters
    ----------
    engine : str
        sqlite or postgresql.
    root : Path
        An empty folder.
    """
    if engine == "sqlite":
        yield Files(root)
        return
    with cluster() as server:
        yield Databases(root, server)
