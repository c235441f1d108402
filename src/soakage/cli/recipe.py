"""``soakage recipe``: guess how somebody's own table becomes records, correct it, try it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from soakage.cli import recipe_kept
from soakage.cli.options import nameplate_options, stated
from soakage.errors import UsageError

if TYPE_CHECKING:
    from soakage.importers.recipe import Guess, Question

_FILE = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
_SET = click.option(
    "--set", "settings", multiple=True, metavar="SETTING=VALUE",
    help="Answer a question or correct a setting, for example dates=day-month-year, constants.class=cable.",
)  # fmt: skip


@click.group(name="recipe")
def command() -> None:
    """Column recipes: how a table of your own becomes records, made once and kept.

    Guess one from a file, answer what the file leaves open, try it, then read files with it.
    """


for _kept in (recipe_kept.save_command, recipe_kept.list_command, recipe_kept.write_command):
    command.add_command(_kept)


@command.command(name="guess")
@_FILE
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Recipe to write, such as recipe.toml.")
@click.option(
    "--delimiter", metavar="MARK", default=None, help="Delimiter of a text file, where it is known."
)
@_SET
@_JSON
def guess_command(
    file: Path,
    output: Path | None,
    delimiter: str | None,
    settings: tuple[str, ...],
    as_json: bool,  # noqa: FBT001
) -> None:
    """Guess a recipe from a CSV or XLSX file.

    Exit status: 1 if a choice is open without which nothing can be read, else 0.
    """
    from dataclasses import replace

    from soakage.importers.recipe_answers import answered
    from soakage.importers.recipe_file import recipe_text
    from soakage.importers.recipe_guess import guess
    from soakage.importers.recipe_preview import guess_json
    from soakage.wiring import write_whole

    answers = _answers(settings)
    made = guess(_content(file), str(file), delimiter)
    left = tuple(question for question in made.questions if question.setting not in answers)
    made = replace(made, recipe=answered(made.recipe, answers), questions=left)
    remarks = [f"Open: {said}" for question in left for said in _question(question)]
    if output is not None:
        write_whole(output, recipe_text(made.recipe, remarks).encode())
    if as_json:
        click.echo(json.dumps(guess_json(made), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in _guess_lines(made):
            click.echo(line)
        if output is not None:
            click.echo(f"Written: {output}")
    sys.exit(1 if any(question.required for question in left) else 0)


def _guess_lines(made: Guess) -> Iterable[str]:
    yield from made.remarks
    for place, note in enumerate(made.notes, 1):
        yield f"{place}. {note.title} ({note.confidence}): {note.reason}"
    for question in made.questions:
        yield from _question(question)


def _question(question: Question) -> Iterable[str]:
    yield f"{question.sentence}{'' if question.required else ' (may stay open)'}"
    for value, meaning in question.choices:
        yield f"  --set {question.setting}={value}" + (f"   {meaning}" if meaning != value else "")
    if not question.choices:
        yield f"  --set {question.setting}=..."


def _answers(settings: tuple[str, ...]) -> Mapping[str, str]:
    answers = {}
    for text in settings:
        name, equals, value = text.partition("=")
        if not equals or not name.strip():
            raise UsageError(f"--set {text!r}: write a setting and its value, for example decimal=,")
        answers[name.strip()] = value
    return answers


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as problem:
        raise UsageError(f"{file}: {problem.strerror or problem}. Give a file that can be read.") from None


@command.command(name="show")
@click.argument("recipe", type=click.Path(path_type=Path, dir_okay=False))
@_SET
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write it here, corrected.")
@_JSON
def show_command(recipe: Path, settings: tuple[str, ...], output: Path | None, as_json: bool) -> None:  # noqa: FBT001
    """Show a recipe, correct it, or say what is wrong with it."""
    from soakage.importers.recipe_answers import answered
    from soakage.importers.recipe_file import read_recipe, recipe_parts, recipe_text
    from soakage.wiring import write_whole

    read = answered(read_recipe(_content(recipe), str(recipe)), _answers(settings))
    if output is not None:
        write_whole(output, recipe_text(read).encode())
    if as_json:
        click.echo(json.dumps(recipe_parts(read), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        click.echo(recipe_text(read), nl=False)


@command.command(name="preview")
@_FILE
@click.option(
    "--recipe", "recipe", required=True, type=click.Path(path_type=Path, dir_okay=False), help="The recipe."
)
@click.option("--most", type=click.IntRange(1), default=20, show_default=True, help="Records shown.")
@_JSON
@nameplate_options
def preview_command(file: Path, recipe: Path, most: int, as_json: bool, **options: Any) -> None:  # noqa: ANN401, FBT001
    """Try a recipe on a file: records, faults, lines passed over. Nothing is kept.

    Exit status: 2 if anything cannot be read, else 0.
    """
    from soakage.importers.recipe_file import read_recipe
    from soakage.importers.recipe_preview import preview

    shown = preview(
        read_recipe(_content(recipe), str(recipe)), _content(file), str(file), stated(options), most
    )
    if as_json:
        click.echo(json.dumps(shown, ensure_ascii=False, allow_nan=False, indent=1))
    else:
        for line in _preview_lines(shown):
            click.echo(line)
        for fault in _faults(shown):
            click.echo(fault, err=True)
    sys.exit(2 if shown["faults"] else 0)


def _preview_lines(shown: Mapping[str, Any]) -> Iterable[str]:
    from soakage.units import Bound, Measured, format_quantity

    yield f"Records: {shown['count']}. Faults: {len(shown['faults'])}."
    for record in shown["records"]:
        keys = record["keys"]
        said = [record["title"] or "no asset", keys.get("started"), keys.get("method"), keys.get("test_voltage"),
                keys.get("winding_temperature")]  # fmt: skip
        place = record["file"] if record["row"] is None else f"{record['file']}:{record['row']}"
        yield f"{place}: {', '.join(filter(None, said))}"
        figures = []
        for reading in record["readings"]:
            if reading["resistance"] is None:
                continue
            bound = Bound(reading["bound"]) if reading["bound"] else None
            text = format_quantity(Measured(reading["resistance"], bound), "resistance")
            when = "" if reading["time"] is None else f"{format_quantity(reading['time'], 'time')}: "
            figures.append(when + text)
        if figures:
            yield f"  {', '.join(figures)}"
        for finding in record["findings"]:
            yield f"  {finding['sentence']}"
    for line in shown["passed_over"]:
        yield f"{line['file']}:{line['row']}: passed over, {line['reason']}"


def _faults(shown: Mapping[str, Any]) -> Iterable[str]:
    from soakage.errors import Fault

    for fault in shown["faults"]:
        yield str(Fault(**fault))
