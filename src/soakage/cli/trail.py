"""``soakage trail``: who changed what, when and why; and whether nobody changed that."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from typing import Any

import click

from soakage.cli.options import store_options

FOUND = 1


@click.command(name="trail")
@click.argument("subject", required=False, metavar="[ASSET|TEST]")
@click.option("--site", metavar="NAME", default=None, help="Where the asset is, if the name is used twice.")
@click.option("--verify", is_flag=True, help="Verify every chain of the journal by its hashes.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    subject: str | None,
    site: str | None,
    verify: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Show who changed what, when, from what to what, and why, in order.

    Of an asset: with its visits and tests. Without ASSET or TEST: everything; with --verify alone only whether the
    chains hold. A name is as it was stated, not authenticated, unless an account stands behind it. Exit status: 1
    if a chain does not hold.
    """
    from soakage import __version__
    from soakage.app.contract_json import CONTRACT
    from soakage.app.trail_json import entry_json
    from soakage.cli.trail_text import entry_text, verified_text
    from soakage.wiring.memory import memory
    from soakage.wiring.trailing import trail_of, verified

    hands = memory(store, person)
    with hands.store:
        found = verified(hands.store) if verify else None
        shown: Iterator[Any] = iter(()) if verify and subject is None else trail_of(hands, subject, site)
        if as_json:
            click.echo(
                f'{{"soakage": {json.dumps(__version__)}, "contract": {CONTRACT}, "entries": [', nl=False
            )
            for place, entry in enumerate(shown):
                text = json.dumps(entry_json(entry), ensure_ascii=False, allow_nan=False)
                click.echo(f"{',' if place else ''}\n {text}", nl=False)
            click.echo(f'\n], "verified": {json.dumps(found, ensure_ascii=False)}}}')
        else:
            for entry in shown:
                for line in entry_text(entry_json(entry)):
                    click.echo(line)
            for line in verified_text(found) if found is not None else ():
                click.echo(line)
    sys.exit(FOUND if found is not None and not found["whole"] else 0)
