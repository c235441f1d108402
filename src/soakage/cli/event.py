"""``soakage event``: what happened to an asset between its tests."""

from __future__ import annotations

import json
from datetime import datetime

import click

from soakage.cli.options import store_options

EVENTS = ("rewind", "refill", "repair", "cleaning", "drying", "other")


@click.command(name="event")
@click.argument("asset", metavar="ASSET")
@click.argument("event", type=click.Choice(EVENTS))
@click.option(
    "--on", "day", required=True, metavar="DAY", type=click.DateTime(["%Y-%m-%d"]), help="Day, as 2026-03-14."
)
@click.option("--text", default="", metavar="TEXT", help="What was done, by whom.")
@click.option("--site", default=None, metavar="NAME", help="The site, where several assets are called so.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    asset: str,
    event: str,
    day: datetime,
    text: str,
    site: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Note a rewind, refill, repair, cleaning, drying or other event in the life of an asset.

    After a rewind, a refill or a repair its trends begin a new series.
    """
    from soakage.app.changes_json import remark_json
    from soakage.app.lookup import the_asset
    from soakage.app.remarks import happened
    from soakage.cli.changes_text import remark_text
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        remark = happened(hands, the_asset(hands, asset, site), event, day.date(), text)
    if as_json:
        click.echo(json.dumps(remark_json(remark), ensure_ascii=False, allow_nan=False, indent=1))
        return
    for line in remark_text(remark):
        click.echo(line)
