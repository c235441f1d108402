"""``soakage show``: one asset or one test of a store."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="show")
@click.argument("what", metavar="ASSET|TEST")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(what: str, site: str | None, as_json: bool, store: str | None, person: str | None) -> None:  # noqa: FBT001
    """Show an asset by its exact name, tag, serial number or id; or a test by its id or the beginning of it.

    Eight signs of a test's id are enough where no other test begins so.
    """
    from soakage.cli.show_asset import asset_text
    from soakage.cli.show_test import test_text
    from soakage.wiring.memory import memory
    from soakage.wiring.showing import shown

    hands = memory(store, person)
    with hands.store:
        page = shown(hands, what, site)
    if as_json:
        click.echo(json.dumps(page, ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in asset_text(page) if page["kind"] == "asset" else test_text(page):
        click.echo(line)
