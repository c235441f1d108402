"""Recipes in a store: kept under a name, changed, found again; a file of that name wins."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import select

from soakage.errors import InputError, UsageError
from soakage.importers.recipe_file import read_recipe, recipe_text
from soakage.store import schema
from soakage.wiring.recipes import keep_recipe, kept_recipes, kept_text, recipe_named
from test_files_taken import RECIPE
from wired import hands, write


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(
        tmp_path,
        {"own.toml": RECIPE.format(name="own"), "plain.toml": RECIPE.format(name="")},
    )


@pytest.mark.parametrize(
    ("file", "given", "kept"),
    (
        ("own.toml", None, "own"), ("own.toml", "other", "other"), ("own.toml", "  two   words ", "two words"),
        ("plain.toml", None, "plain"), ("plain.toml", "named", "named"),
    ),
)  # fmt: skip
def test_a_recipe_is_kept_under_a_name(folder: Path, file: str, given: str | None, kept: str) -> None:
    with hands(folder) as held:
        assert keep_recipe(held, folder / file, given) == (kept, True)
        assert keep_recipe(held, folder / file, given) == (kept, False)
        assert [row["name"] for row in kept_recipes(held)] == [kept]
        wanted = read_recipe((folder / file).read_bytes(), file)
        assert recipe_named(held, kept).columns == wanted.columns
        assert kept_text(held, kept) == recipe_text(wanted)


def test_a_recipe_that_is_changed_keeps_its_history(folder: Path) -> None:
    with hands(folder) as held:
        keep_recipe(held, folder / "own.toml")
        changed = (folder / "own.toml").read_text(encoding="utf-8").replace("MOhm", "GOhm")
        (folder / "own.toml").write_text(changed, encoding="utf-8")
        assert keep_recipe(held, folder / "own.toml") == ("own", True)
        (row,) = kept_recipes(held)
        assert "GOhm" in row["text"]
        with held.store.reading() as connection:
            entries = connection.execute(
                select(schema.entry.c.body)
                .where(schema.entry.c.kind == "recipe")
                .order_by(schema.entry.c.number)
            ).scalars()
            bodies = list(entries)
        assert len(bodies) == 2
        assert "MOhm" in bodies[0]


def test_a_file_of_the_name_wins(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    with hands(folder) as held:
        keep_recipe(held, folder / "own.toml", "mine")
        write(folder, {"mine": RECIPE.format(name="of the file").replace("MOhm", "GOhm")})
        assert recipe_named(held, "mine").name == "of the file"
        (folder / "mine").unlink()
        assert recipe_named(held, "mine").name == "own"


def test_recipes_are_listed_by_name(folder: Path) -> None:
    with hands(folder) as held:
        for name in ("c", "a", "b"):
            keep_recipe(held, folder / "own.toml", name)
        assert [row["name"] for row in kept_recipes(held)] == ["a", "b", "c"]
        with pytest.raises(UsageError, match="Kept: a, b, c"):
            kept_text(held, "A")


@pytest.mark.parametrize(("name", "error", "words"), (
    ("gone.toml", UsageError, "No such file"), ("no name", UsageError, "no recipe of this name"),
    ("broken.toml", InputError, "broken.toml"),
))  # fmt: skip
def test_what_is_no_recipe_is_said(folder: Path, name: str, error: type[Exception], words: str) -> None:
    write(folder, {"broken.toml": "soakage-recipe = [\n"})
    text = str(folder / name) if name.endswith(".toml") else name
    with hands(folder) as held:
        with pytest.raises(error, match=words):
            recipe_named(held, text)
        if name.endswith(".toml"):
            with pytest.raises(error, match=words):
                keep_recipe(held, Path(text))
        assert kept_recipes(held) == []
        assert not (folder / "store.sqlite").exists()
