"""A PostgreSQL server for the tests: the one that is given, or one of our own that is gone afterwards."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tools.steps import StepFailedError

# What go.py hands the tests: an address as SQLAlchemy takes it, of a server where databases may be made.
VARIABLE = "SOAKAGE_TEST_POSTGRES"
# Debian keeps the programs of each version here, off the path.
DEBIAN = Path("/usr/lib/postgresql")
PROGRAMS = ("initdb", "postgres")
ACCOUNT = "postgres"
_SUPERUSER = "soakage"
_PATIENCE = 60  # seconds a start or a stop may take on a busy machine
_LONGEST_SOCKET = 100  # bytes; the system's limit for the name of a socket is 107 on Linux, 103 on macOS
_SETTINGS = """
listen_addresses = ''
unix_socket_directories = '{socket}'
fsync = on
synchronous_commit = on
full_page_writes = on
max_connections = 50
shared_buffers = 32MB
timezone = 'UTC'
"""


class NoServerError(StepFailedError):
    """No PostgreSQL can be had here; the text says why and what to do."""


def programs() -> Path | None:
    """Return the folder of PostgreSQL's programs, Debian's newest before what is on the path.

    Returns
    -------
    Path or None
        One that holds all of `PROGRAMS`; None where there is none.
    """
    debian = [(_version(folder.parent.name), folder) for folder in DEBIAN.glob("*/bin")]
    folders = [folder for _, folder in sorted(debian, reverse=True)]
    if found := shutil.which("initdb"):
        folders.append(Path(found).resolve().parent)
    return next((folder for folder in folders if all(_program(folder, name) for name in PROGRAMS)), None)


def _version(name: str) -> tuple[int, ...]:
    return tuple(int(part) for part in name.split(".") if part.isdigit())


def _program(folder: Path, name: str) -> str | None:
    return shutil.which(name, path=str(folder))


@dataclass(slots=True)
class Cluster:
    """A server of our own: a folder with its data and its socket; no port is opened.

    Parameters
    ----------
    folder : Path
        Holds everything of it.
    programs : Path
        Folder of PostgreSQL's programs.
    account : str or None
        Whose server it is; None for the account that runs us. PostgreSQL does not run as root.
    """

    folder: Path
    programs: Path
    account: str | None = None
    _server: subprocess.Popen[bytes] | None = None

    @property
    def data(self) -> Path:
        """Folder of its data."""
        return self.folder / "data"

    @property
    def address(self) -> str:
        """Address as SQLAlchemy takes it."""
        return f"postgresql+psycopg://{_SUPERUSER}@/postgres?host={self.folder}"

    def make(self) -> None:
        """Make its data, durable against a kill: nothing is switched off for speed.

        Raises
        ------
        NoServerError
            When initdb fails; with what it said.
        """
        if self.account is not None:
            shutil.chown(self.folder, self.account)
        options = ["--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync", "--no-instructions"]
        making = self._begin("initdb", "-U", _SUPERUSER, *options)
        try:
            status = making.wait(_PATIENCE)
        except subprocess.TimeoutExpired:
            making.kill()
            status = making.wait()
        if status != 0:
            raise NoServerError(
                f"PostgreSQL: exit status {status} from initdb.\n{self._said('initdb')}".rstrip()
            )
        with (self.data / "postgresql.conf").open("a", encoding="utf-8") as settings:
            settings.write(_SETTINGS.format(socket=self.folder))

    def start(self) -> None:
        """Start it and wait until it answers; after a kill this is its recovery.

        Raises
        ------
        NoServerError
            When it does not start; with what it said.
        """
        self._server = self._begin("postgres")
        give_up = time.monotonic() + _PATIENCE
        while not self._ready(self._server.pid):
            if self._server.poll() is not None or time.monotonic() > give_up:
                self.stop()
                raise NoServerError(f"PostgreSQL did not start.\n{self._said('postgres')}".rstrip())
            time.sleep(0.01)

    def stop(self) -> None:
        """Stop it, whoever is still connected; a server that is not running is stopped already."""
        if self._server is None:
            return
        # "fast", "immediate" and no choice, as PostgreSQL's manual has its signals
        for number in (signal.SIGINT, signal.SIGQUIT, signal.SIGKILL):
            self._server.send_signal(number)
            try:
                self._server.wait(_PATIENCE)
            except subprocess.TimeoutExpired:
                continue
            break
        self._server = None

    def kill(self) -> None:
        """End it at once, as a fault does: none of its processes gets to write anything more."""
        if self._server is None:
            return
        helpers = [process for process, (parent, _) in _processes().items() if parent == self._server.pid]
        self._server.kill()
        for process in helpers:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        self._server.wait()
        self._server = None
        give_up = time.monotonic() + _PATIENCE
        while any(process in helpers for process in _processes()) and time.monotonic() < give_up:
            time.sleep(0.01)

    def _ready(self, process: int) -> bool:
        try:
            lines = (self.data / "postmaster.pid").read_text(encoding="utf-8").splitlines()
        except OSError:
            return False
        return len(lines) > 7 and lines[0] == str(process) and lines[7].strip() == "ready"

    def _begin(self, program: str, *arguments: str) -> subprocess.Popen[bytes]:
        # What is set for other servers (PGDATA, PGHOST, PGOPTIONS) must not reach ours.
        variables = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
        try:
            with (self.folder / f"{program}.log").open("ab") as log:
                return subprocess.Popen(
                    [str(self.programs / program), "-D", str(self.data), *arguments],
                    cwd=self.folder,
                    env=variables | {"LC_ALL": "C"},
                    user=self.account,
                    # of its own, so that Ctrl-C ends the tests first and the server after them
                    start_new_session=True,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=subprocess.STDOUT,
                )
        except (OSError, subprocess.SubprocessError) as error:
            raise NoServerError(f"PostgreSQL: {program} could not be run: {error}") from error

    def _said(self, program: str) -> str:
        return (self.folder / f"{program}.log").read_text(encoding="utf-8", errors="replace")[-2000:]


def _processes() -> dict[int, tuple[int, str]]:
    """Return parent and state of every process that has not ended."""
    listed = subprocess.run(
        ["ps", "-A", "-o", "pid=,ppid=,stat="], check=True, capture_output=True, text=True
    )
    rows = (line.split() for line in listed.stdout.splitlines())
    return {int(row[0]): (int(row[1]), row[2]) for row in rows if not row[2].startswith("Z")}


@contextmanager
def cluster() -> Iterator[Cluster]:
    """Start a server of our own; it and its folder are gone at the end, also after a failure.

    Yields
    ------
    Cluster
        Running.

    Raises
    ------
    NoServerError
        When there are no programs, or nobody whom it can run as, or it does not start.
    """
    if sys.platform == "win32":
        raise NoServerError(f"PostgreSQL: on Windows set DATABASE_URL to a server of yours. {_HINT}")
    found = programs()
    if found is None:
        raise NoServerError(f"PostgreSQL: its programs ({', '.join(PROGRAMS)}) are not here. {_HINT}")
    with tempfile.TemporaryDirectory(prefix="soakage-pg-", dir=_short(), ignore_cleanup_errors=True) as name:
        server = Cluster(Path(name), found, _account())
        try:
            server.make()
            server.start()
            yield server
        finally:
            server.stop()


_HINT = "On Debian and Ubuntu: apt-get install postgresql. Or set DATABASE_URL to a server for tests."


def _short() -> str | None:
    """Return a folder for the socket where the usual one has too long a name."""
    usual = tempfile.gettempdir()
    longest = len(os.fsencode(usual)) + len("/soakage-pg-xxxxxxxx/.s.PGSQL.5432")
    return "/tmp" if longest > _LONGEST_SOCKET else None  # noqa: S108 - a fresh folder is made in it


def _account() -> str | None:
    if os.geteuid() != 0:
        return None
    import pwd

    try:
        pwd.getpwnam(ACCOUNT)
    except KeyError:
        raise NoServerError(
            f"PostgreSQL does not run as root, and there is no account {ACCOUNT} here. {_HINT}"
        ) from None
    return ACCOUNT


@contextmanager
def address() -> Iterator[str]:
    """Give the address of a server for tests: that of DATABASE_URL, else of one of our own.

    Yields
    ------
    str
        As SQLAlchemy takes it, ``postgresql+psycopg://...``; databases may be made there.

    Raises
    ------
    NoServerError
        When none can be had.
    """
    given = os.environ.get("DATABASE_URL")
    if given:
        yield as_sqlalchemy(given)
        return
    with cluster() as server:
        yield server.address


def as_sqlalchemy(url: str) -> str:
    """Return a PostgreSQL address in the form that names our driver.

    Parameters
    ----------
    url : str
        ``postgres://...``, ``postgresql://...``, with or without a driver.

    Returns
    -------
    str
        ``postgresql+psycopg://...``.

    Raises
    ------
    NoServerError
        When it is the address of something else; it is not repeated, since it may hold a password.
    """
    scheme, mark, rest = url.partition("://")
    if not mark or scheme.partition("+")[0] not in ("postgres", "postgresql"):
        raise NoServerError(
            "DATABASE_URL is no PostgreSQL address. Allowed: postgresql://user@host/database. Change or unset it."
        )
    return f"postgresql+psycopg://{rest}"
