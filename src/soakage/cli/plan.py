"""``soakage plan``: what to test, how, with what voltage, and the card to take along."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from soakage.cli.options import nameplate_options, stated

REFUSED = 2


@click.command(name="plan")
@click.argument("asset_file", required=False, type=click.Path(path_type=str))
@click.option(
    "-o", "--output", "outputs", multiple=True, type=click.Path(path_type=Path),
    help="card.pdf: the card to take along. sheet.csv: the record file to fill in, one for each connection.",
)  # fmt: skip
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Paper of the card.")
@click.option(
    "--test",
    "tests",
    multiple=True,
    metavar="METHOD",
    help="Test to plan, in the order given; may be repeated.",
)
@click.option(
    "--relative-permittivity",
    type=float,
    default=None,
    help="Of the cable's insulation: its capacitance then follows from its geometry.",
)
@click.option(
    "--absorption-exponent",
    type=float,
    default=None,
    help="From an earlier test: the earthing time then covers the residual current too, and graded times follow it.",
)
@click.option(
    "--graded", type=click.Choice(["10", "20"]), is_flag=False, flag_value="20", default=None,
    help="Grade the times of a step test: each step this many per cent of the first (20 unless given).",
)  # fmt: skip
@click.option(
    "--first-hold", metavar="RECORD", type=click.Path(path_type=str), default=None,
    help="Record of the first hold of a graded step test: the rest is planned anew by its fitted exponent.",
)  # fmt: skip
@click.option("--profile", "profile_name", metavar="NAME|FILE", default=None, help="Rule set to plan by.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON in the shape of the contract.")
@nameplate_options
def command(
    asset_file: str | None,
    outputs: tuple[Path, ...],
    paper: str,
    tests: tuple[str, ...],
    relative_permittivity: float | None,
    absorption_exponent: float | None,
    graded: str | None,
    first_hold: str | None,
    profile_name: str | None,
    as_json: bool,  # noqa: FBT001
    **options: Any,  # noqa: ANN401
) -> None:
    """Plan a test from nameplate options, or from the header of a record file, or both.

    For example: soakage plan --class rotating-machine --winding form-wound --rated-voltage "6.6 kV"
    --insulation thermosetting --thermal-class F --year 2004 -o card.pdf -o sheet.csv

    Nothing is planned in a hazardous area without a gas-free certificate. Exit status 2 where nothing is
    planned.
    """
    from soakage.app.plan_json import plan_json
    from soakage.cli.plan_text import plan_text
    from soakage.wiring import plan_files, planned

    result = planned(
        stated(options), asset_file, profile_name, tests=tests,
        relative_permittivity=relative_permittivity, absorption_exponent=absorption_exponent,
        graded=graded, first_hold_file=first_hold,
    )  # fmt: skip
    # files first: a reader that stops listening to the text must not cost the card
    written = (
        [] if result.refusal else [path for output in outputs for path in plan_files(result, output, paper)]
    )
    if as_json:
        click.echo(json.dumps(plan_json(result), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in plan_text(result):
            click.echo(line)
    for path in written:
        click.echo(f"Written: {path}", err=as_json)
    if result.refusal:
        sys.exit(REFUSED)
