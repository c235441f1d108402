"""``soakage judge``: record files in, judgements out."""

from __future__ import annotations

import json
import sys
from typing import Any

import click

from soakage.cli.options import archive_option, marks, nameplate_options, rule_options, stated
from soakage.cli.progress import progress_of


@click.command(name="judge")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=str))
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@archive_option
@rule_options
@nameplate_options
def command(
    files: tuple[str, ...],
    as_json: bool,  # noqa: FBT001
    archive: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
    **options: Any,  # noqa: ANN401
) -> None:
    """Judge one or many record files, or any CSV or XLSX with its nameplate given by options.

    Exit status: 1 if any record is investigate or unfit; else 2 if any is not judged, an invalid test or
    unreadable; else 0.
    """
    from soakage.app.contract_json import evaluation_json, exit_code
    from soakage.cli.text import evaluation_text
    from soakage.wiring import judge_files, rules

    chosen = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    with progress_of(len(files)) as step:
        evaluation = judge_files(files, stated(options), chosen, step, archive)
    if as_json:
        click.echo(json.dumps(evaluation_json(evaluation), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in evaluation_text(evaluation):
            click.echo(line)
        for fault in evaluation.errors:
            click.echo(str(fault), err=True)
    sys.exit(exit_code(evaluation))
