"""``soakage export``: a store as open files."""

from __future__ import annotations

import json
from pathlib import Path

import click

from soakage import __version__
from soakage.cli.options import store_options
from soakage.cli.wrapping import counted, wrapped


@click.command(name="export")
@click.option("--to", "folder", required=True, type=click.Path(path_type=Path, file_okay=False), metavar="FOLDER",
              help="Where to: an empty folder, or one that is not there yet.")  # fmt: skip
@click.option("--site", default=None, metavar="NAME", help="Only assets of this site, exactly as written.")
@click.option(
    "--asset", default=None, metavar="ASSET", help="Only this asset: name, tag, serial number or id."
)
@click.option("--since", default=None, metavar="DAY", help="Only tests from this day on, as 2026-03-14.")
@click.option("--format", "form", type=click.Choice(["record", "parquet", "xlsx", "json"]), default="record",
              show_default=True, help="How the records are written: a file each, or many in one.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
def command(
    folder: Path,
    site: str | None,
    asset: str | None,
    since: str | None,
    form: str,
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
) -> None:
    """Write the store as open files: records, register, verdicts, attachments, the files as they came.

    What was written is read again and compared. 'soakage import FOLDER' takes it back; sign-offs and the
    trail of changes travel with 'soakage bundle'.
    """
    from soakage.app.contract_json import CONTRACT
    from soakage.wiring.exporting import chosen_of, export
    from soakage.wiring.looking import day_given
    from soakage.wiring.memory import memory

    hands = memory(store, person)
    with hands.store:
        counts = export(hands, folder, chosen_of(hands, site, asset, day_given("--since", since)), form)
    if as_json:
        shape = {
            "soakage": __version__,
            "contract": CONTRACT,
            "folder": str(folder),
            "format": form,
            **counts,
        }
        click.echo(json.dumps(shape, ensure_ascii=False, indent=1))
        return
    click.echo(
        wrapped(
            f"Written to {folder}: {counted(counts['tests'], 'test')} of {counted(counts['assets'], 'asset')} in "
            f"{counted(counts['files'], 'file')}."
        )
    )
    click.echo(wrapped(f"Take it in elsewhere with: soakage import '{folder}' --store PLACE"))
