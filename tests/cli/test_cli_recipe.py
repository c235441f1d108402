"""``soakage recipe``: guess, show, preview; what they print, write and end with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from soakage.cli.recipe import command
from soakage.errors import InputError, UsageError
from soakage.importers.recipe_file import read_recipe

TABLE = "Date,Asset,R60s (MΩ),R10min (MΩ)\n03/04/2021,Pump 1,> 500,\n05/06/2021,Pump 1,100,250\n"
ANSWERS = ("--set", "dates=day-month-year", "--set", "constants.class=rotating-machine")


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "table.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def run(*words: str | Path) -> Result:
    done = CliRunner().invoke(command, [str(word) for word in words])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def made(table: Path) -> Path:
    recipe = table.with_name("recipe.toml")
    assert run("guess", table, "-o", recipe, *ANSWERS).exit_code == 0
    return recipe


def test_what_is_open_is_asked_with_the_answers_to_give(table: Path) -> None:
    done = run("guess", table)
    assert done.exit_code == 1
    assert "--set dates=day-month-year" in done.output
    assert "--set constants.class=cable" in done.output
    assert not table.with_name("recipe.toml").exists()


def test_a_recipe_with_open_choices_says_so_in_its_first_lines(table: Path) -> None:
    recipe = table.with_name("open.toml")
    assert run("guess", table, "-o", recipe).exit_code == 1
    text = recipe.read_text(encoding="utf-8")
    assert text.startswith("# Open: ")
    assert read_recipe(text.encode()).dates is None


def test_answered_it_is_written_and_shown(table: Path) -> None:
    recipe = made(table)
    assert (
        run("show", recipe).output
        == "\n".join(
            line for line in recipe.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
        )
        + "\n"
    )
    assert json.loads(run("show", recipe, "--json").output)["dates"] == "day-month-year"
    other = recipe.with_name("other.toml")
    assert run("show", recipe, "--set", "constants.site=North", "-o", other).exit_code == 0
    assert read_recipe(other.read_bytes()).constants["site"] == "North"


def test_json_of_a_guess(table: Path) -> None:
    shown = json.loads(run("guess", table, "--json").output)
    assert {question["setting"] for question in shown["questions"] if question["required"]} == {
        "dates",
        "constants.class",
    }
    assert [column["confidence"] for column in shown["columns"]] == ["certain"] * 4


def test_a_preview_says_records_and_findings(table: Path) -> None:
    done = run("preview", table, "--recipe", made(table))
    assert done.exit_code == 0
    assert "Records: 2. Faults: 0." in done.output
    assert "2021-04-03" in done.output
    assert ">\N{NO-BREAK SPACE}500" in done.output


def test_a_preview_takes_options_and_gives_json(table: Path) -> None:
    done = run("preview", table, "--recipe", made(table), "--json", "--most", "1", "--test-voltage", "1 kV")
    shown = json.loads(done.output)
    assert (shown["count"], len(shown["records"])) == (2, 1)
    assert shown["records"][0]["keys"]["test_voltage"] == "1 kV"
    assert shown["records"][0]["readings"][0]["bound"] == "lower"


def test_a_preview_with_faults_ends_with_two(table: Path) -> None:
    recipe = made(table)
    table.write_text(TABLE.replace("100", "many"), encoding="utf-8")
    done = run("preview", table, "--recipe", recipe)
    assert done.exit_code == 2
    assert "table.csv:3: R60s (MΩ)" in done.stderr
    assert json.loads(run("preview", table, "--recipe", recipe, "--json").stdout)["faults"][0]["row"] == 3


@pytest.mark.parametrize(
    ("words", "error"),
    (
        (("--set", "dates"), UsageError), (("--set", "colour=red"), InputError),
        (("--set", "column.9.unit=V"), UsageError), (("-o", "no/such/folder/r.toml"), UsageError),
    ),
)  # fmt: skip
def test_what_cannot_be_is_refused(table: Path, words: tuple[str, ...], error: type[Exception]) -> None:
    with pytest.raises(error):
        run("guess", table, *words)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="Give a file"):
        run("show", tmp_path / "none.toml")
