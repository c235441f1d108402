"""``soakage import``: record files and folders of them into a store."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from soakage.cli.options import marks, nameplate_options, rule_options, stated, store_options

REFUSED = 2


@click.command(name="import")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=str))
@click.option(
    "--recipe", "recipe", metavar="FILE|NAME", default=None,
    help="Read the files with this recipe: a file, or the name of one kept with 'soakage recipe save'.",
)  # fmt: skip
@click.option("--again", is_flag=True, help="Take in what was purged, too; it is another test then.")
@click.option("--dry-run", is_flag=True, help="Show what would come of it; keep nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@store_options
@rule_options
@nameplate_options
def command(
    paths: tuple[str, ...],
    recipe: str | None,
    again: bool,  # noqa: FBT001
    dry_run: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    store: str | None,
    person: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
    **options: Any,  # noqa: ANN401
) -> None:
    """Take record files into the store: unknown assets are added, tests judged and kept, known ones passed over.

    A folder is taken with all below it; hidden files and those that nothing reads are passed over. A file is
    kept whole or refused whole, with every reason. A folder that 'soakage export' wrote brings its register
    and its tests with their revisions. Ctrl-C keeps what was read so far.

    Exit status: 0 if every file was taken or was known, else 2. Whether a test is good is said in the table.
    """
    from soakage.app.intake import Intake
    from soakage.app.intake_json import intake_json
    from soakage.cli.import_text import intake_text
    from soakage.cli.progress import Stopping, intake_progress
    from soakage.wiring import rules
    from soakage.wiring.export_back import ExportRead, import_export, is_export
    from soakage.wiring.memory import memory
    from soakage.wiring.taking import files_in, import_files, recipe_reader

    chosen = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    taken = Intake(dry_run=dry_run, again=again)
    hands = memory(store, person)
    read, endings = recipe_reader(hands, recipe, stated(options))
    exports = [Path(path) for path in paths if is_export(path)]
    files = files_in([path for path in paths if Path(path) not in exports], endings)
    expected = len(files) + sum(ExportRead(folder).tests for folder in exports)
    differing: list[str] = []
    with hands.store, Stopping() as stopping, intake_progress(expected) as shown:
        for folder in exports:
            differing += import_export(
                hands, folder, chosen, taken, kept=shown.kept, stopped=lambda: stopping.asked
            )
        before = len(taken.files)
        import_files(
            hands,
            files,
            chosen,
            read=read,
            dry_run=dry_run,
            seen=lambda number: shown.read(before + number),
            kept=shown.kept,
            stopped=lambda: stopping.asked,
            outcome=taken,
        )
    left = max(expected - len(taken.files), 0)
    if as_json:
        shape = intake_json(taken) | ({"register_differs": differing} if exports else {})
        click.echo(json.dumps(shape, ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in intake_text(taken, left, differing):
            click.echo(line)
    if left:
        click.echo(f"Stopped: {len(taken.files)} of {expected} were taken in.", err=True)
    sys.exit(REFUSED if left or taken.count("refused") else 0)
