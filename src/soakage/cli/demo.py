"""``soakage demo``: the invented scenario, written and judged; ends with a report and the next command."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import click


@click.command(name="demo")
@click.option(
    "--folder", default="soakage-demo", type=click.Path(path_type=Path, file_okay=False),
    help="Where the record files and the report are written.",
)  # fmt: skip
def command(folder: Path) -> None:
    """Write the invented scenario, judge it, and write its report.

    Every plant, person and reading in it is invented. Exit status 0 where the demo itself worked, whatever
    the verdicts.
    """
    from soakage.cli.wrapping import wrapped
    from soakage.demo.make import demo_files
    from soakage.errors import UsageError
    from soakage.wiring import judge_files, report_writer, rules, write_whole

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise UsageError(f"{folder}: {problem.strerror or problem}. Choose another --folder.") from None
    paths = []
    for name, text in demo_files().items():
        write_whole(folder / name, text.encode())
        paths.append(folder / name)
    evaluation = judge_files(paths, {}, rules())
    click.echo("An invented site: no real plant, person or reading is in it.")
    click.echo("")
    for visit in evaluation.visits:
        click.echo(f"{visit.asset}: {str(visit.status).upper()}")
        for place in visit.members:
            evaluated = evaluation.records[place]
            click.echo(
                wrapped(f"{evaluated.verdict.status}: {evaluated.verdict.sentence}", "      ", "    - ")
            )
        click.echo("")
    report = folder / "report.pdf"
    first = evaluation.visits[0].members
    shown = judge_files([paths[place] for place in first], {}, rules())
    write_whole(report, report_writer(report, "a4")(shown))
    click.echo(f"Record files: {folder}")
    click.echo(f"Report:       {report} (of {evaluation.visits[0].asset})")
    click.echo(
        wrapped(
            "Local codes and licensed practice come first. Isolate, prove dead, keep clear, discharge, earth, wait."
        )
    )
    click.echo(f"Try next:     {_called()} judge {paths[0]}")


def _called() -> str:
    """Return how this command can be called again: by name where it is found, else by its place."""
    if shutil.which("soakage"):
        return "soakage"
    called = Path(sys.argv[0])
    if called.name.startswith("__main__"):
        return f"{Path(sys.executable).name} -m soakage"
    return os.path.relpath(called) if called.is_absolute() else str(called)
