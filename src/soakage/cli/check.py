"""``soakage check``: every entry, every content and every row of a store, looked at."""

from __future__ import annotations

import json
import sys

import click

from soakage.cli.options import store_options

FOUND = 1


@click.command(name="check")
@click.option(
    "--repair", "wanted", is_flag=True,
    help="Make the searchable tables anew from the journal. The journal itself is never touched.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(wanted: bool, as_json: bool, store: str | None, person: str | None) -> None:  # noqa: FBT001
    """Look for anything damaged, missing or left over in the store.

    The chains of the journal are verified, every content is hashed, and every table is made anew from the journal
    and compared row by row. A store that does not exist yet is whole. Exit status: 0 whole, 1 something was found.
    """
    from soakage import __version__
    from soakage.app.contract_json import CONTRACT
    from soakage.cli.check_text import checkup_text
    from soakage.store.checking import checked, repaired
    from soakage.store.checkup import checkup_json
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        missing = hands.store.where.missing
        checkup = checked(hands.store)
        made = None
        if wanted and not missing:
            made = repaired(hands.store, checkup, hands.person, hands.identity)
            checkup = checked(hands.store)
    if as_json:
        told = {"soakage": __version__, "contract": CONTRACT} | checkup_json(checkup) | {"repaired": made}
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1))
    else:
        if made is not None:
            click.echo(f"The tables of {made} things were made anew from the journal.")
        for line in checkup_text(checkup, str(hands.store.where), missing=missing):
            click.echo(line)
    sys.exit(0 if checkup.whole else FOUND)
