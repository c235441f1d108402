"""``soakage settle``: one value of a conflict stands; all of them stay in the trail."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="settle")
@click.argument("subject", metavar="ASSET|TEST")
@click.argument("field", metavar="FIELD")
@click.argument("value", required=False, default=None, metavar="[VALUE]")
@click.option(
    "--take",
    type=int,
    default=None,
    metavar="N",
    help="Let the value of this number stand, as they are listed.",
)
@click.option("--reason", default="", metavar="TEXT", help="Why, for the trail.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    subject: str,
    field: str,
    value: str | None,
    take: int | None,
    reason: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Settle a conflict that 'soakage conflicts' lists: choose one of the values, or give the right one.

    Of two revisions of a test, or of a revision and a sign-off made apart, one is chosen with --take.
    """
    from soakage.app.exchange_json import settled_json
    from soakage.cli.exchange_text import settled_text
    from soakage.wiring.exchanging import settled
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        done = settled(hands, subject, field, value=value, take=take, reason=reason)
    if as_json:
        click.echo(json.dumps(settled_json(done), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in settled_text(done):
        click.echo(line)
