"""Accounts in the store, and the command that keeps them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient

from soakage.cli.account import command
from soakage.errors import UsageError
from soakage.store.address import address
from soakage.store.store import Store
from soakage.web.accounts import Role, account, checked
from soakage.web.server import create_app
from soakage.web.settings import Settings
from soakage.web.stored_accounts import FRESH, StoreAccounts
from web_help import OUTSIDE, PASSWORD, log_in


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def place(tmp_path: Path) -> str:
    return str(tmp_path / "accounts.sqlite")


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    with Store(address(place)) as opened:
        yield opened


def run(place: str, *words: str, typed: str = "") -> tuple[int, str]:
    done = CliRunner().invoke(command, [*words, "--store", place], input=typed)
    if isinstance(done.exception, UsageError):
        return 2, str(done.exception)
    return done.exit_code, done.output


def test_an_account_is_kept_changed_and_closed(store: Store) -> None:
    kept = StoreAccounts(store)
    assert not kept.any()
    kept.keep(account("R. Amsel", PASSWORD, Role.READ))
    assert kept.any()
    assert checked(kept, "R. Amsel", PASSWORD) is not None
    kept.keep(account("R. Amsel", "another sentence", Role.REVIEW))
    assert checked(kept, "R. Amsel", PASSWORD) is None
    found = checked(kept, "R. Amsel", "another sentence")
    assert found is not None
    assert found.role is Role.REVIEW
    assert kept.close("R. Amsel")
    assert not kept.close("R. Amsel")
    assert not kept.any()
    assert kept.get("R. Amsel") is None
    assert [(entry.name, entry.closed) for entry in kept.listed()] == [("R. Amsel", True)]


def test_asking_makes_no_store(store: Store) -> None:
    kept = StoreAccounts(store)
    assert (kept.any(), kept.get("R. Amsel"), kept.listed()) == (False, None, [])
    assert store.where.missing


def test_what_another_program_closed_is_seen_soon(place: str, store: Store) -> None:
    clock = Clock()
    kept = StoreAccounts(store, clock=clock)
    kept.keep(account("R. Amsel", PASSWORD, Role.READ))
    assert kept.get("R. Amsel") is not None
    with Store(address(place)) as other:
        StoreAccounts(other).close("R. Amsel")
    clock.now += FRESH
    assert kept.get("R. Amsel") is None
    assert not kept.any()


def test_an_account_is_of_this_place_and_in_no_journal(store: Store) -> None:
    from sqlalchemy import select

    from soakage.store import schema

    StoreAccounts(store).keep(account("R. Amsel", PASSWORD, Role.READ))
    with store.reading() as connection:
        entries = connection.execute(select(schema.entry)).all()
    assert "argon2" not in repr(entries)


def test_a_closed_account_is_out_at_once_although_it_had_logged_in(place: str, store: Store) -> None:
    kept = StoreAccounts(store)
    kept.keep(account("R. Amsel", PASSWORD, Role.READ))
    kept.keep(account("T. Brook", PASSWORD, Role.ADMINISTER))
    settings = Settings(host="0.0.0.0", behind_proxy=True, names=("soakage.test",), store=place)  # noqa: S104
    app = create_app(settings, kept)
    client = TestClient(app, base_url=OUTSIDE)
    assert log_in(client) == 200
    assert client.get("/metrics").status_code == 200
    kept.keep(account("R. Amsel", PASSWORD, Role.REVIEW))
    assert client.get("/api/session").json()["role"] == "review"
    kept.close("R. Amsel")
    assert client.get("/metrics").status_code == 401
    app.state.store.close()


def test_the_command_lets_a_server_start_for_others(place: str) -> None:
    settings = Settings(host="0.0.0.0", behind_proxy=True, names=("soakage.test",), store=place)  # noqa: S104
    with pytest.raises(UsageError, match="soakage account add NAME"):
        create_app(settings)
    status, said = run(place, "add", "R. Amsel", "--role", "administer", typed=f"{PASSWORD}\n{PASSWORD}\n")
    assert (status, said.splitlines()[-1]) == (0, "R. Amsel may log in and administer.")
    assert PASSWORD not in said
    app = create_app(settings)
    assert log_in(TestClient(app, base_url=OUTSIDE)) == 200
    app.state.store.close()


def test_the_command_lists_and_closes(place: str) -> None:
    typed = f"{PASSWORD}\n{PASSWORD}\n"
    assert run(place, "list")[1].startswith("No accounts")
    run(place, "add", "T. Brook", "--role", "test", typed=typed)
    run(place, "add", "R. Amsel", "--role", "read", typed=typed)
    assert run(place, "close", "R. Amsel") == (0, "R. Amsel may no longer log in.\n")
    assert run(place, "list") == (0, "R. Amsel: read, closed\nT. Brook: test\n")


def test_the_command_refuses_in_words(place: str) -> None:
    typed = f"{PASSWORD}\n{PASSWORD}\n"
    run(place, "add", "R. Amsel", "--role", "read", typed=typed)
    again = run(place, "add", "R. Amsel", "--role", "test", typed=typed)
    assert again[0] == 2
    assert "--replace" in again[1]
    assert run(place, "add", "R. Amsel", "--role", "test", "--replace", typed=typed)[0] == 0
    assert run(place, "add", "T. Brook", "--role", "chief", typed=typed)[0] == 2
    short = run(place, "add", "T. Brook", "--role", "read", typed="short\nshort\n")
    assert short[0] == 2
    assert "12 to 256" in short[1]
    nobody = run(place, "close", "Nobody")
    assert nobody[0] == 2
    assert "soakage account list" in nobody[1]
