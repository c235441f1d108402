"""``soakage note``: a note on an asset or a test."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="note")
@click.argument("what", metavar="ASSET|TEST")
@click.argument("text")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    what: str,
    text: str,
    site: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Add a note to an asset or a test; it stays beside what was stated and changes no verdict."""
    from soakage.app.changes_json import remark_json
    from soakage.app.lookup import asset_or_test
    from soakage.app.remarks import note
    from soakage.cli.changes_text import remark_text
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        remark = note(hands, asset_or_test(hands, what, site), text)
    if as_json:
        click.echo(json.dumps(remark_json(remark), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in remark_text(remark):
        click.echo(line)
