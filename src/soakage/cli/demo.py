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
@click.option(
    "--history", "with_history", is_flag=True,
    help="Also write ten years of invented history for forty assets, under FOLDER/history.",
)  # fmt: skip
@click.pass_context
def command(context: click.Context, folder: Path, *, with_history: bool) -> None:
    """Write the invented scenario, judge it, and write its report; with --history its past too.

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
    if with_history:
        _history(folder, context)


def _history(folder: Path, context: click.Context) -> None:
    """Write the history and say what can be done with it."""
    from soakage.cli.progress import progress_of
    from soakage.demo.history import EDITION_PROFILE, edition_profile, history_files, history_truth
    from soakage.errors import UsageError
    from soakage.wiring import write_whole

    records = history_files()
    place = folder / "history"
    with progress_of(len(records), "Writing") as step:
        for done, (name, text) in enumerate(records.items(), start=1):
            path = place / name
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as problem:
                raise UsageError(
                    f"{path.parent}: {problem.strerror or problem}. Choose another --folder."
                ) from None
            write_whole(path, text.encode())
            if step is not None:
                step(done, len(records))
    write_whole(folder / EDITION_PROFILE, edition_profile().encode())
    assets = history_truth()
    sites = len({truth.site for truth in assets})
    click.echo("")
    click.echo(f"History:      {place}")
    click.echo(
        f"              {len(records)} invented records of {len(assets)} assets at {sites} sites, ten years"
    )
    click.echo(f"Rules before: {folder / EDITION_PROFILE}")
    falling = next(truth for truth in assets if any(event.kind == "change" for event in truth.events))
    group = context.parent.command if context.parent is not None else None
    known = group.list_commands(context) if isinstance(group, click.Group) else []
    lines = {"import": str(place), "trend": f'"{falling.asset}"'}
    for word in (word for word in lines if word in known):
        click.echo(f"Try next:     {_called()} {word} {lines[word]}")


def _called() -> str:
    """Return how this command can be called again: by name where it is found, else by its place."""
    if shutil.which("soakage"):
        return "soakage"
    called = Path(sys.argv[0])
    if called.name.startswith("__main__"):
        return f"{Path(sys.executable).name} -m soakage"
    return os.path.relpath(called) if called.is_absolute() else str(called)
