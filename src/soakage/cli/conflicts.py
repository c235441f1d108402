"""``soakage conflicts``: what two people changed without seeing each other."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="conflicts")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """List the conflicts nobody settled yet: field, both values, who set them and when.

    Until one is settled, the value set last is used.
    """
    from soakage.app.exchange_json import conflicts_json
    from soakage.cli.exchange_text import conflicts_text
    from soakage.wiring.exchanging import conflicts_of
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        found = conflicts_of(hands)
    if as_json:
        click.echo(json.dumps(conflicts_json(found), ensure_ascii=False, allow_nan=False, indent=1))
        return
    if not found:
        click.echo("Nothing is in conflict.")
    for line in conflicts_text(found):
        click.echo(line)
