"""``soakage recipe save``, ``list`` and ``write``: recipes kept in the store, by name."""

from __future__ import annotations

import json
from pathlib import Path

import click

from soakage import __version__
from soakage.cli.options import store_options


@click.command(name="save")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--name", default=None, metavar="NAME", help="What to keep it under; its own name unless given."
)
@store_options
def save_command(file: Path, name: str | None, store: str | None, person: str | None) -> None:
    """Keep a recipe in the store, for 'soakage import --recipe NAME'."""
    from soakage.wiring.memory import memory
    from soakage.wiring.recipes import keep_recipe

    hands = memory(store, person)
    with hands.store:
        kept, changed = keep_recipe(hands, file, name)
    click.echo(f"{'Kept' if changed else 'Already kept'}: {kept}")
    click.echo(f"Next: soakage import --recipe '{kept}' PATH")


@click.command(name="list")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@store_options
def list_command(as_json: bool, store: str | None, person: str | None) -> None:  # noqa: FBT001
    """List the recipes kept in the store."""
    from soakage.app.contract_json import CONTRACT
    from soakage.wiring.memory import memory
    from soakage.wiring.recipes import kept_recipes

    hands = memory(store, person)
    with hands.store:
        found = kept_recipes(hands)
    if as_json:
        shape = {"soakage": __version__, "contract": CONTRACT, "recipes": found}
        click.echo(json.dumps(shape, ensure_ascii=False, indent=1))
        return
    for row in found:
        click.echo(row["name"])
    if not found:
        click.echo(
            "No recipe is kept. Guess one with 'soakage recipe guess FILE', keep it with 'soakage recipe save'."
        )


@click.command(name="write")
@click.argument("name")
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help="File to write.")
@store_options
def write_command(name: str, output: Path, store: str | None, person: str | None) -> None:
    """Write a kept recipe to a file, to correct or to share it."""
    from soakage.wiring import write_whole
    from soakage.wiring.memory import memory
    from soakage.wiring.recipes import kept_text

    hands = memory(store, person)
    with hands.store:
        text = kept_text(hands, name)
    write_whole(output, text.encode())
    click.echo(f"Written: {output}")
