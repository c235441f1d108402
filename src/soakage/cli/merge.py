"""``soakage merge``: what bundles of other stores hold, taken into this one."""

from __future__ import annotations

import json

import click

from soakage.cli.options import store_options


@click.command(name="merge")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=str))
@click.option("--dry-run", is_flag=True, help="Say what would come of each file by itself; keep nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    files: tuple[str, ...],
    dry_run: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Take bundles into the store, in any order and as often as you like: what is there already is passed over.

    Nothing here is lost or overwritten. Where two people changed one thing without seeing each other, both values
    are kept until somebody settles it. A damaged bundle changes nothing; a merge that is broken off is finished by
    giving the command again. Exit status 0 where all files were taken.
    """
    from soakage.app.exchange_json import merge_json
    from soakage.cli.exchange_text import merged_text
    from soakage.wiring.exchanging import merged
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    done = []
    with hands.store:
        for file, head, one in merged(hands, files, dry_run=dry_run):
            done.append((file, one))
            if not as_json:
                for line in merged_text(file, head.store, head.person, head.made, one):
                    click.echo(line)
    if as_json:
        click.echo(
            json.dumps(merge_json(done, dry_run=dry_run), ensure_ascii=False, allow_nan=False, indent=1)
        )
