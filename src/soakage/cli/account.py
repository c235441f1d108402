"""``soakage account``: who may log in where the pages are served to others."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from soakage.cli.options import store_options

if TYPE_CHECKING:
    from soakage.web.stored_accounts import StoreAccounts

ROLES = ("read", "test", "review", "administer")


@click.group(name="account")
def command() -> None:
    """Say who may log in where the pages are served to others.

    Roles: read; test, who also takes and brings in readings; review, who also signs; administer. Passwords are kept
    as argon2 hashes, in this store only: no export carries them.
    """


@command.command(name="add")
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What the person may do.")
@click.option("--replace", is_flag=True, help="Give an account that is there a new password and role.")
@store_options
def add(name: str, role: str, replace: bool, store: str | None, person: str | None) -> None:  # noqa: FBT001
    """Add an account; the password is asked for and not shown."""
    from soakage.errors import UsageError
    from soakage.web.accounts import Role, account

    with _accounts(store, person) as kept:
        if kept.get(name.strip()) is not None and not replace:
            raise UsageError(f"There is an account of that name. Given: {name}. Change it with --replace.")
        password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
        kept.keep(account(name, password, Role(role)))
    click.echo(f"{name.strip()} may log in and {role}.")


@command.command(name="close")
@click.argument("name")
@store_options
def close(name: str, store: str | None, person: str | None) -> None:
    """Close an account; what the person did stays under the name."""
    from soakage.errors import UsageError

    with _accounts(store, person) as kept:
        if not kept.close(name.strip()):
            raise UsageError(
                f"There is no open account of that name. Given: {name}. See 'soakage account list'."
            )
    click.echo(f"{name.strip()} may no longer log in.")


@command.command(name="list")
@store_options
def list_accounts(store: str | None, person: str | None) -> None:
    """List the accounts: name, role, and whether it is closed."""
    with _accounts(store, person) as kept:
        found = kept.listed()
    for entry in found:
        click.echo(f"{entry.name}: {entry.role}{', closed' if entry.closed else ''}")
    if not found:
        click.echo("No accounts: the pages are served to this machine only.")


@contextmanager
def _accounts(store: str | None, person: str | None) -> Iterator[StoreAccounts]:
    from soakage.web.stored_accounts import StoreAccounts
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store as opened:
        yield StoreAccounts(opened, hands.person)
