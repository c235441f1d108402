"""``soakage restore``: a backup back into a store."""

from __future__ import annotations

import json
from pathlib import Path

import click

from soakage.cli.options import store_options


@click.command(name="restore")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--force", is_flag=True, help="Replace a store that holds something; it is backed up first.")
@click.option(
    "--keep", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", default=None,
    help="Name of that backup; beside the store, with the time, unless given.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    file: Path,
    force: bool,  # noqa: FBT001
    keep: Path | None,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Bring a backup back: into an empty store, or with --force in place of what is there.

    The backup is checked before anything is replaced. The store then writes a chain of its own, so that it and the
    one that was backed up can both be used and merged.
    """
    from soakage import __version__
    from soakage.app.contract_json import CONTRACT
    from soakage.store.restoring import restore
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        done = restore(file, hands.store, hands.person, identity=hands.identity, force=force, keep=keep)
    if as_json:
        told = {
            "soakage": __version__,
            "contract": CONTRACT,
            "store": done.store,
            "was": done.was,
            "rows": done.counts,
            "kept": None if done.kept is None else str(done.kept),
            "rebuilt": done.rebuilt,
        }
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1))
        return
    click.echo(f"{hands.store.where}: {done.counts['test']} tests, {done.counts['entry']} entries are back.")
    if done.rebuilt:
        click.echo("Its searchable tables were damaged and were made anew from the journal.")
    if done.kept is not None:
        click.echo(f"What was there before is in {done.kept}.")
