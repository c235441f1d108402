"""Two stores with a server each, for the tests of what goes over the network."""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from soakage.store.memory import StoreMemory
from soakage.web.accounts import Role, account
from soakage.web.run import Running
from soakage.web.settings import Settings
from soakage.web.stored_accounts import StoreAccounts
from soakage.wiring.memory import memory

if TYPE_CHECKING:
    from soakage.app.intake import Intake

PASSWORD = "four lapped layers of paper"  # noqa: S105 - of invented people


def filled(store: Path, names: tuple[str, ...], person: str = "T. Ester") -> StoreMemory:
    """Return a store with files of the scenario in it."""
    hands = memory(str(store), person)
    taken(hands, names, store.parent)
    return hands


def taken(hands: StoreMemory, names: tuple[str, ...], folder: Path) -> Intake:
    """Take files of the scenario in."""
    from soakage.demo.make import demo_files
    from soakage.wiring import rules
    from soakage.wiring.taking import import_files

    paths = []
    for name, text in demo_files().items():
        if name.startswith(names):
            (folder / name).write_text(text, encoding="utf-8")
            paths.append(str(folder / name))
    return import_files(hands, paths, rules())


def subjects(hands: StoreMemory) -> set[tuple[str, str]]:
    """Return what a store holds that is shared: kind and hash of each entry."""
    from sqlalchemy import select

    from soakage.store import schema

    entry = schema.entry
    with hands.store.reading() as connection:
        query = select(entry.c.kind, entry.c.hash).where(entry.c.store.not_like("%.here"))
        return {(row.kind, row.hash) for row in connection.execute(query)}


@contextmanager
def serving(store: Path, *accounts: tuple[str, Role], **more: Any) -> Iterator[Running]:
    """Serve a store on the loopback address; with accounts whoever asks has to log in."""
    kept = memory(str(store), "R. Amsel")
    for name, role in accounts:
        StoreAccounts(kept.store).keep(account(name, PASSWORD, role))
    kept.store.close()
    with Running(Settings(port=0, store=str(store), stated_name="R. Amsel", **more)) as running:
        yield running


@dataclass(frozen=True)
class Authority:
    """An authority of one's own, and a certificate it signed for this machine."""

    certificate: Path
    server: Path
    key: Path


@pytest.fixture(scope="session")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """Make an authority and a certificate for 127.0.0.1, of this run only."""
    import shutil
    import subprocess

    folder = tmp_path_factory.mktemp("authority")
    openssl = shutil.which("openssl")
    assert openssl is not None

    def run(*words: str) -> None:
        subprocess.run([openssl, *words], cwd=folder, check=True, capture_output=True)

    begun = (
        "req",
        "-x509",
        "-newkey",
        "ec",
        "-pkeyopt",
        "ec_paramgen_curve:prime256v1",
        "-nodes",
        "-days",
        "2",
    )
    run(*begun, "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=An invented authority",
        "-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign")  # fmt: skip
    run(*begun, "-keyout", "key.pem", "-out", "server.pem", "-subj", "/CN=127.0.0.1", "-CA", "ca.pem", "-CAkey",
        "ca.key", "-addext", f"subjectAltName=IP:{ipaddress.ip_address('127.0.0.1')}",
        "-addext", "basicConstraints=critical,CA:FALSE")  # fmt: skip
    return Authority(folder / "ca.pem", folder / "server.pem", folder / "key.pem")


def today() -> str:
    """Return this month as the log-ins are kept by."""
    return dt.datetime.now(dt.UTC).strftime("%Y-%m")
