"""Starting and stopping: the command, the port, an end without hanging."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from soakage.cli.serve import command
from soakage.errors import UsageError
from soakage.web.run import Running, address, listening, serve
from soakage.web.settings import Settings

SRC = Path(__file__).resolve().parents[2] / "src"


@pytest.fixture
def started(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    env = {**os.environ, "PYTHONPATH": str(SRC), "XDG_CACHE_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    start = [
        sys.executable,
        "-m",
        "soakage",
        "serve",
        "--port",
        "0",
        "--no-browser",
        "--store",
        str(tmp_path / "s.sqlite"),
    ]
    running = subprocess.Popen(start, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    yield running
    if running.poll() is None:
        running.kill()
    running.communicate()


def told_address(running: subprocess.Popen[str]) -> str:
    assert running.stdout is not None
    line = running.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+/", line)
    assert found, line
    return found[0]


def get(where: str) -> bytes:
    with urllib.request.urlopen(where, timeout=10) as answer:  # noqa: S310 - our own server
        return bytes(answer.read())


def test_the_command_prints_its_address_and_answers_there(started: subprocess.Popen[str]) -> None:
    where = told_address(started)
    assert b"<title>Start" in get(where)
    assert json.loads(get(f"{where}health"))["status"] == "up"


@pytest.mark.parametrize("how", (signal.SIGINT, signal.SIGTERM))
def test_it_ends_at_once_when_told_to(started: subprocess.Popen[str], how: signal.Signals) -> None:
    where = told_address(started)
    # A browser keeps its connection open; that must not hold the end.
    host, port = re.findall(r"//(.+):(\d+)", where)[0]
    with socket.create_connection((host, int(port)), timeout=5) as kept:
        kept.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert b"200 OK" in kept.recv(4096)
        began = time.monotonic()
        started.send_signal(how)
        started.wait(10)
        assert time.monotonic() - began < 5
    _, errors = started.communicate()
    assert "Traceback" not in errors


def test_a_taken_port_is_said(tmp_path: Path) -> None:
    with Running(Settings(port=0, store=str(tmp_path / "s.sqlite"))) as running:
        with pytest.raises(UsageError, match="Another program may be there"):
            listening(Settings(port=running.settings.port))
        assert json.loads(get(f"{running.address}health"))["status"] == "up"
    with listening(Settings(port=running.settings.port)):  # free again
        pass


def test_an_address_of_another_machine_is_said() -> None:
    with pytest.raises(UsageError, match="Cannot listen"):
        listening(Settings(host="192.0.2.7", port=0))


def test_serving_open_is_refused_before_anything_answers() -> None:
    told: list[str] = []
    with pytest.raises(UsageError, match="needs an account"):
        serve(Settings(host="0.0.0.0", port=0), ready=told.append)  # noqa: S104
    assert told == []


def test_addresses_are_written_as_a_browser_takes_them() -> None:
    assert address(Settings(port=80)) == "http://127.0.0.1:80/"
    assert address(Settings(host="::1", port=81)) == "http://[::1]:81/"
    files = {"certificate": Path("c"), "key": Path("k")}
    assert address(Settings(host="soakage.test", port=82, **files)) == "https://soakage.test:82/"  # type: ignore[arg-type]


def test_the_command_says_what_it_needs() -> None:
    done = CliRunner().invoke(command, ["--help"])
    assert done.exit_code == 0
    assert "refuses to start without accounts and TLS" in done.output
    refused = CliRunner().invoke(command, ["--host", "0.0.0.0", "--port", "0", "--no-browser"])  # noqa: S104
    assert isinstance(refused.exception, UsageError)
    assert "an account" in str(refused.exception)


def test_the_command_opens_a_browser_unless_told_not_to(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)

    def at_once(settings: Settings, ready: object) -> None:
        assert settings.on_loopback
        ready("http://127.0.0.1:1/")  # type: ignore[operator]

    monkeypatch.setattr("soakage.web.run.serve", at_once)
    assert CliRunner().invoke(command, []).exit_code == 0
    assert CliRunner().invoke(command, ["--no-browser"]).exit_code == 0
    assert opened == ["http://127.0.0.1:1/"]
