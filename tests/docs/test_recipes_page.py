"""The page of recipes does what it says, and lists every setting there is."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from docblocks import DOCS, ROOT, files, follow
from soakage.importers.recipe import CellRule, ColumnRule, Dates, Empty, Kind, Layout, Recipe
from soakage.importers.recipe_file import read_recipe, recipe_text

PAGE = "recipes.md"
TEXT = (DOCS / PAGE).read_text(encoding="utf-8")
TABLES = {"columns": "[[column]]", "cells": "[[cell]]", "constants": "[constants]"}


def test_everything_comes_out_as_the_page_says(tmp_path: Path) -> None:
    assert list(follow(PAGE, tmp_path, ROOT / "src")) == []
    assert "Which voltage" not in (tmp_path / "motors.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", (Recipe, ColumnRule, CellRule))
def test_every_setting_is_listed(kind: type) -> None:
    wanting = [part.name for part in fields(kind) if f"`{TABLES.get(part.name, part.name)}" not in TEXT]
    assert wanting == []


@pytest.mark.parametrize("words", (Kind, Layout, Dates))
def test_every_word_is_listed(words: type[Kind | Layout | Dates]) -> None:
    assert [word for word in words if f"`{word}`" not in TEXT] == []
    assert all(f"`{word}`" in TEXT for word in Empty)


def test_the_recipe_shown_is_written_as_the_house_writes_it() -> None:
    shown = files(PAGE)["long.toml"]
    assert "invented" in shown
    assert (
        recipe_text(read_recipe(shown.encode())).split() == re.sub('header_row = "find"\n', "", shown).split()
    )


def test_it_warns_before_the_first_command() -> None:
    assert TEXT.index("Local codes") < TEXT.index("soakage recipe guess")
