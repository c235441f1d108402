"""``soakage trend``: how an asset has changed, section by section."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="trend")
@click.argument("asset")
@click.option(
    "--site", metavar="NAME", default=None, help="Where several assets are called alike: the site meant."
)
@click.option("--section", metavar="NAME", default=None, help="Only this section.")
@click.option(
    "--quantity", "quantities", metavar="ID", multiple=True, help="Only this quantity; may be repeated."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    asset: str,
    site: str | None,
    section: str | None,
    quantities: tuple[str, ...],
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Show how ASSET has changed: the line of each section and quantity, what it is compared with, what it reaches.

    ASSET is its whole name, tag or serial number, or its id.
    """
    from soakage.app.trend_json import trend_json
    from soakage.cli.trend_text import trend_text
    from soakage.wiring.memory import memory
    from soakage.wiring.trending import trends_of

    found = trends_of(memory(store, person), asset, site, section=section, quantities=quantities)
    values = found.asset.values
    if as_json:
        named = {"id": found.asset.id} | {
            key: values.get(key) for key in ("site", "asset", "tag", "serial", "class")
        }
        click.echo(
            json.dumps(
                trend_json(named, found.trends, found.due), ensure_ascii=False, allow_nan=False, indent=1
            )
        )
        return
    for line in trend_text(str(values.get("asset") or asset), found.trends, found.due):
        click.echo(line)
