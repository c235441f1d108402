"""The server of the tests: found, started, killed, started again, and gone with all its files."""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from tools import commands, postgres
from tools.environment import PYTHON
from tools.postgres import Cluster, NoServerError
from tools.steps import StepFailedError


@pytest.fixture
def no_programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without PostgreSQL."""
    monkeypatch.delenv("DATABASE_URL", raising=False)
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path / "none")
    monkeypatch.setenv("PATH", str(tmp_path))


def installed(folder: Path, *names: str) -> Path:
    """Put programs that do nothing into a folder."""
    folder.mkdir(parents=True)
    for name in names:
        (folder / name).write_text("#!/bin/sh\nexit 3\n", encoding="utf-8")
        (folder / name).chmod(0o755)
    return folder


@pytest.fixture(scope="module")
def running() -> Iterator[Cluster | None]:
    """A server of this module's own, since it is killed; None where the machine has no programs for one."""
    if postgres.programs() is None:
        yield None
        return
    with postgres.cluster() as server:
        yield server


@pytest.fixture
def server(running: Cluster | None) -> Cluster:
    if running is None:
        reason = str(NoServerError("PostgreSQL is not on this machine"))
        assert os.environ.get("CI") != "true", reason
        pytest.skip(reason)
    return running


def ask(address: str, question: str) -> str:
    with closing(psycopg.connect(address.replace("+psycopg", ""), autocommit=True)) as connection:
        row = connection.execute(question.encode()).fetchone()
    assert row is not None
    return str(row[0])


def do(address: str, statement: str) -> None:
    with closing(psycopg.connect(address.replace("+psycopg", ""), autocommit=True)) as connection:
        connection.execute(statement.encode())


def test_the_newest_of_debian_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    for version in ("9.6", "15", "14"):
        installed(tmp_path / version / "bin", *postgres.PROGRAMS)
    installed(tmp_path / "17" / "bin", "psql")  # the client alone is no server
    assert postgres.programs() == tmp_path / "15" / "bin"


def test_elsewhere_it_is_found_on_the_path(no_programs: None, tmp_path: Path) -> None:
    del no_programs
    assert postgres.programs() is None
    folder = installed(tmp_path / "opt", *postgres.PROGRAMS)
    (tmp_path / "initdb").symlink_to(folder / "initdb")
    assert postgres.programs() == folder.resolve()


def test_without_programs_the_remedy_is_said(no_programs: None) -> None:
    del no_programs
    with pytest.raises(NoServerError, match="apt-get install postgresql"), postgres.address():
        pass


@pytest.mark.parametrize(
    "given",
    ("postgres://u:p@h:5433/d", "postgresql://u:p@h:5433/d", "postgresql+psycopg://u:p@h:5433/d"),
)
def test_a_given_server_is_used(given: str, no_programs: None, monkeypatch: pytest.MonkeyPatch) -> None:
    del no_programs
    monkeypatch.setenv("DATABASE_URL", given)
    with postgres.address() as found:
        assert found == "postgresql+psycopg://u:p@h:5433/d"


@pytest.mark.parametrize(
    "given", ("mysql://u:hidden@h/d", "u:hidden@h", "sqlite:///hidden.db", "host=hidden")
)
def test_an_address_of_something_else_is_refused_and_not_repeated(
    given: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", given)
    with pytest.raises(NoServerError, match="DATABASE_URL") as caught, postgres.address():
        pass
    assert "hidden" not in str(caught.value)


def test_a_server_that_will_not_be_made_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = installed(tmp_path / "15" / "bin", *postgres.PROGRAMS)
    (folder / "initdb").write_text("#!/bin/sh\necho no room on the disk\nexit 3\n", encoding="utf-8")
    monkeypatch.setattr(postgres, "DEBIAN", tmp_path)
    monkeypatch.setattr(postgres, "_account", lambda: None)
    with pytest.raises(NoServerError, match=r"(?s)exit status 3 from initdb.*no room"), postgres.cluster():
        pass


def test_a_server_that_ends_at_once_says_why(tmp_path: Path) -> None:
    folder = installed(tmp_path / "bin", *postgres.PROGRAMS)
    (folder / "postgres").write_text("#!/bin/sh\necho wrong version\nexit 1\n", encoding="utf-8")
    with pytest.raises(NoServerError, match=r"(?s)did not start.*wrong version"):
        Cluster(tmp_path, folder).start()


def test_a_program_that_is_none_is_a_reason(tmp_path: Path) -> None:
    with pytest.raises(NoServerError, match="initdb could not be run"):
        Cluster(tmp_path, tmp_path / "nowhere").make()


def test_root_without_the_account_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(postgres, "ACCOUNT", "nobody-of-this-name")
    with pytest.raises(NoServerError, match="does not run as root"):
        postgres._account()


def test_whoever_is_not_root_runs_it_himself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert postgres._account() is None


def test_on_windows_a_server_has_to_be_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    with pytest.raises(NoServerError, match="DATABASE_URL"), postgres.cluster():
        pass


def test_a_long_name_of_the_temporary_folder_leaves_room_for_the_socket(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tempfile.gettempdir", lambda: "/x" * 40)
    assert postgres._short() == "/tmp"  # noqa: S108 - the name, nothing is written
    monkeypatch.setattr("tempfile.gettempdir", lambda: "/var/tmp")  # noqa: S108
    assert postgres._short() is None


def test_nothing_listens_but_the_socket_in_a_folder_that_is_closed_to_others(server: Cluster) -> None:
    assert ask(server.address, "SHOW listen_addresses") == ""
    assert ask(server.address, "SHOW unix_socket_directories") == str(server.folder)
    assert stat.S_IMODE(server.folder.stat().st_mode) == 0o700


def test_what_was_committed_outlives_a_kill(server: Cluster) -> None:
    do(server.address, "CREATE TABLE IF NOT EXISTS kept (k integer)")
    for k in range(3):
        do(server.address, "INSERT INTO kept VALUES (1)")
        server.kill()
        with pytest.raises(psycopg.OperationalError):
            ask(server.address, "SELECT 1")
        server.start()
        assert ask(server.address, "SELECT count(*) FROM kept") == f"{k + 1}"


def test_stopped_and_killed_twice_is_no_fault(server: Cluster) -> None:
    for end in (server.stop, server.kill):
        end()
        server.stop()
        server.kill()
        server.start()
        assert ask(server.address, "SELECT 1") == "1"


def test_settings_for_other_servers_do_not_reach_it(server: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PGDATA", "/elsewhere")
    monkeypatch.setenv("PGPORT", "6000")
    server.stop()
    server.start()
    assert ask(f"{server.address}&port=5432", "SHOW data_directory") == str(server.data)


def test_it_is_gone_after_a_failure_too(server: Cluster) -> None:
    del server  # asked for only because without programs there is nothing to see
    left: list[Cluster] = []

    def fail() -> None:
        with postgres.cluster() as other:
            left.append(other)
            raise RuntimeError("a test failed")

    with pytest.raises(RuntimeError, match="a test failed"):
        fail()
    assert not left[0].folder.exists()
    with pytest.raises(psycopg.OperationalError):
        ask(left[0].address, "SELECT 1")


def test_a_server_that_hangs_is_stopped_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = installed(tmp_path / "bin", *postgres.PROGRAMS)
    # hears none of the gentler signals, and says when it has begun to be deaf to them
    deaf = "#!/bin/sh\ntrap '' INT QUIT\ntouch deaf\nwhile :; do sleep 0.05; done\n"
    (folder / "postgres").write_text(deaf, encoding="utf-8")
    monkeypatch.setattr(postgres, "_PATIENCE", 0.5)
    hanging = Cluster(tmp_path, folder)
    with pytest.raises(NoServerError, match="did not start"):
        hanging.start()
    assert (tmp_path / "deaf").exists()
    assert hanging._server is None


class Steps:
    """What the gate's step of tests ran, and with which variables."""

    def __init__(self, *, fails: bool = False) -> None:
        self.seen: list[tuple[list[str], Mapping[str, str]]] = []
        self.fails = fails

    def run(self, name: str, command: list[str], *, env: Mapping[str, str]) -> None:
        self.seen.append((command, env))
        if self.fails:
            raise StepFailedError(f"{name}: exit status 1")


def test_the_gate_hands_the_tests_their_server(monkeypatch: pytest.MonkeyPatch) -> None:
    steps, ended = Steps(), []

    @contextlib.contextmanager
    def address() -> Iterator[str]:
        yield "postgresql+psycopg://here"
        ended.append(True)

    monkeypatch.setattr(postgres, "address", address)
    monkeypatch.setattr(commands, "run", steps.run)
    commands._tests()
    ((command, variables),) = steps.seen
    assert command[:3] == [str(PYTHON), "-m", "pytest"]
    assert variables[postgres.VARIABLE] == "postgresql+psycopg://here"
    assert ended == [True]


def test_tests_that_fail_are_not_run_again_without_a_server(monkeypatch: pytest.MonkeyPatch) -> None:
    steps = Steps(fails=True)
    monkeypatch.setenv("DATABASE_URL", "postgresql://u@h/d")
    monkeypatch.setattr(commands, "run", steps.run)
    with pytest.raises(StepFailedError, match="exit status 1"):
        commands._tests()
    assert len(steps.seen) == 1


def test_without_a_server_the_gate_fails_where_it_counts(
    no_programs: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    del no_programs
    steps = Steps()
    monkeypatch.setattr(commands, "run", steps.run)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(StepFailedError, match="apt-get install postgresql"):
        commands._tests()
    assert steps.seen == []


def test_elsewhere_the_tests_go_on_and_the_reason_is_said(
    no_programs: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    del no_programs
    steps = Steps()
    monkeypatch.setattr(commands, "run", steps.run)
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.delenv(postgres.VARIABLE, raising=False)
    commands._tests()
    ((_, variables),) = steps.seen
    assert postgres.VARIABLE not in variables
    assert "skipped with that reason" in capsys.readouterr().out
