"""``soakage backup``: the store as one file, while others work."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from soakage.cli.options import store_options

FOUND = 1


@click.command(name="backup")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--force", is_flag=True, help="Replace a file of that name, once the new one is verified.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(file: Path, force: bool, as_json: bool, store: str | None, person: str | None) -> None:  # noqa: FBT001
    """Write the store into one file, as it is at one moment; others may work on meanwhile.

    The file is the same for both engines, and is checked like the store itself before it gets its name. It holds
    the accounts of this place too, so keep it as you keep the store. Exit status: 0 written and whole, 1 written,
    but the store itself is damaged, 2 not written.
    """
    from soakage import __version__
    from soakage.app.contract_json import CONTRACT
    from soakage.store.backup import back_up
    from soakage.store.checkup import checkup_json
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        made = back_up(hands.store, file, hands.person, identity=hands.identity, force=force)
    if as_json:
        told: dict[str, Any] = {
            "soakage": __version__,
            "contract": CONTRACT,
            "file": str(made.path),
            "size": made.size,
            "rows": made.counts,
            "noted": made.noted,
            "check": checkup_json(made.checkup),
        }
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1))
    else:
        state = (
            "verified"
            if made.checkup.whole
            else "written, but the store itself is damaged: run 'soakage check'"
        )
        tests, entries = made.counts["test"], made.counts["entry"]
        click.echo(f"{made.path}: {tests} tests, {entries} entries, {made.size} bytes; {state}.")
        if not made.noted:
            click.echo("The store may only be read, so it does not note that it was backed up.")
    sys.exit(0 if made.checkup.whole else FOUND)
