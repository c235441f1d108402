"""What ``push`` and ``pull`` have in common: where the other store is, who asks, how far it is."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from soakage.cli.options import store_options

if TYPE_CHECKING:
    from soakage.store.memory import StoreMemory
    from soakage.wiring.remote import Remote

F = TypeVar("F", bound=Callable[..., None])
PASSWORD = "SOAKAGE_PASSWORD"  # noqa: S105 - the name of a variable


def far_options(function: F) -> F:
    """Add what both commands take."""
    function = click.option(
        "--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract."
    )(function)
    function = click.option(
        "--dry-run", is_flag=True, help="Say what would come of it; keep nothing on either side."
    )(function)
    function = click.option(
        "--certificate", type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help="Certificate of your own authority (PEM), where the server's is signed by none that this machine knows.",
    )(function)  # fmt: skip
    function = click.option(
        "--account", metavar="NAME", default=None, help="Account there; your own name unless given."
    )(function)
    return click.argument("address")(store_options(function))


@contextmanager
def far(
    address: str, certificate: Path | None, account: str | None, store: str | None, person: str | None
) -> Iterator[tuple[StoreMemory, Remote]]:
    """Give this store and a session with the other; the password is asked for, or stands in SOAKAGE_PASSWORD.

    Parameters
    ----------
    address, certificate, account, store, person
        As given.
    """
    from soakage.wiring.memory import memory
    from soakage.wiring.remote import Remote, place_of

    place = place_of(address)
    hands = memory(store, person)
    name = account or hands.person

    def password() -> str:
        kept = os.environ.get(PASSWORD)
        return kept or str(click.prompt(f"Password of {name} at {place.host}", hide_input=True, err=True))

    with hands.store, Remote(place, certificate) as remote:
        remote.log_in(name, password)
        yield hands, remote


def told(sentence: str, done: int, of: int) -> None:
    """Say how far it is, on a terminal only."""
    if sys.stderr.isatty():
        part = f" ({done / of:.0%} of this piece)" if of else ""
        click.echo(f"\r{sentence}{part}   ", err=True, nl=False)
