"""``soakage bundle``: what a store holds, or a part of it, in one file for another store."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from soakage.cli.options import store_options


@click.command(name="bundle")
@click.option("-o", "--output", "out", required=True, metavar="FILE", help="The file to be written.")
@click.option(
    "--site", metavar="NAME", default=None, help="Only the assets of this site, exactly as written."
)
@click.option(
    "--asset", "assets", multiple=True, metavar="ASSET", help="Only this asset; may be given again."
)
@click.option(
    "--since", metavar="BUNDLE|DAY", default=None,
    help="Only what was not in the store that made this bundle, or what came since this day.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    out: str,
    site: str | None,
    assets: tuple[str, ...],
    since: str | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Write a bundle: assets with their sites, visits, tests, instruments, people, recipes, verdicts, notes and files.

    Written whole or not at all. Settings, accounts and the log of exchanges stay here. The file is not encrypted:
    whoever has it can read it.
    """
    from soakage.app.exchange_json import bundle_json
    from soakage.cli.wrapping import wrapped
    from soakage.wiring.exchanging import bundled
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        part, counts = bundled(hands, out, site=site, assets=assets, since=since)
    if as_json:
        shown = {name: number for name, number in asdict(counts).items() if name != "parcels"}
        click.echo(json.dumps(bundle_json(out, part, shown), ensure_ascii=False, allow_nan=False, indent=1))
        return
    click.echo(
        wrapped(
            f"{out}: {part or 'the whole store'}. Tests: {counts.tests}, entries of the journal: {counts.entries}, "
            f"contents: {counts.blobs}. Take it in elsewhere with: soakage merge {out}"
        )
    )
