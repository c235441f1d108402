"""``soakage report``: record files in, one report out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from soakage.cli.options import archive_option, marks, nameplate_options, rule_options, stated


@click.command(name="report")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=str))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="Report to write: .pdf, .html or .xlsx.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Paper of the PDF.")
@archive_option
@rule_options
@nameplate_options
def command(
    files: tuple[str, ...],
    output: Path,
    paper: str,
    archive: str | None,
    profile_name: str | None,
    limits: tuple[str, ...],
    temperature_rule: str | None,
    ratios: tuple[str, ...],
    guard_band: bool,  # noqa: FBT001
    **options: Any,  # noqa: ANN401
) -> None:
    """Write the report of record files; a draft until the record states approved_by.

    Exit status as of judge. Files that cannot be read are listed in the report; where none can be read
    nothing is written.
    """
    from soakage.app.contract_json import exit_code
    from soakage.errors import InputError
    from soakage.wiring import judge_files, report_writer, rules, write_whole

    writer = report_writer(output, paper)
    chosen = rules(profile_name, limits, temperature_rule, marks(ratios), guarded=guard_band)
    evaluation = judge_files(files, stated(options), chosen, archive=archive)
    if not evaluation.records:
        raise InputError(evaluation.errors)
    write_whole(output, writer(evaluation))
    for fault in evaluation.errors:
        click.echo(str(fault), err=True)
    click.echo(f"Written: {output}")
    for visit in evaluation.visits:
        click.echo(f"{visit.asset}: {visit.status}. {visit.sentence}")
    sys.exit(exit_code(evaluation))
