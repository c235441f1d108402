"""A recipe's file: written and read back without loss; what is wrong with one is said with its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes import MARKS
from soakage.errors import InputError, UsageError
from soakage.importers.recipe import CellRule, ColumnRule, Dates, Empty, Kind, Layout, Recipe
from soakage.importers.recipe_answers import answered
from soakage.importers.recipe_file import read_parts, read_recipe, recipe_parts, recipe_text

LEAST = """\
soakage-recipe = 1
name = "x"
kind = "csv"
layout = "row"
[[column]]
heading = "R"
reading = "resistance"
"""
TEXT = st.text(st.characters(codec="utf-8"), max_size=30)
FILLED = st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=20)


def said(text: str) -> str:
    with pytest.raises(InputError) as caught:
        read_recipe(text.encode(), "r.toml")
    assert all(fault.file == "r.toml" and fault.remedy for fault in caught.value.faults)
    return "\n".join(map(str, caught.value.faults))


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    heads = draw(st.lists(FILLED, min_size=4, max_size=4, unique_by=lambda head: head.lower()))
    kind = draw(st.sampled_from(Kind))
    return Recipe(
        draw(TEXT),
        kind,
        Layout.ROW,
        columns=(
            ColumnRule(heads[0], key="started", fill_down=draw(st.booleans())),
            ColumnRule(
                heads[1], reading="resistance", at=draw(st.sampled_from(("60 s", "1 min"))), unit="MOhm"
            ),
            ColumnRule(heads[2], draw(st.integers(1, 256)), ratio="600 s/60 s", optional=True),
            ColumnRule(heads[3], ignore=True),
        ),
        cells=draw(st.sampled_from(((), (CellRule("B2", "asset"), CellRule("C3", "rated_voltage", "kV"))))),
        constants=draw(st.dictionaries(st.sampled_from(("class", "site", "notes", "a b")), TEXT)),
        sheets=tuple(draw(st.lists(FILLED, max_size=2))) if kind is Kind.XLSX else (),
        header_row=draw(st.one_of(st.sampled_from((1, 7)), st.just("find"))),
        pass_over=tuple(draw(st.lists(FILLED, max_size=2))),
        without_reading=draw(st.sampled_from(Empty)),
        delimiter=draw(st.sampled_from((",", ";", "\t"))),
        decimal=draw(st.sampled_from(("", ".", ","))),
        dates=draw(st.sampled_from((None, *Dates))),
        first_year=draw(st.sampled_from((None, 1970))),
        note=draw(TEXT),
    )


@given(recipes())
def test_any_recipe_comes_back_the_same(recipe: Recipe) -> None:
    assert read_recipe(recipe_text(recipe).encode()) == recipe
    assert read_parts(recipe_parts(recipe)) == recipe


@given(st.text(max_size=200))
def test_any_text_is_a_recipe_or_said_to_be_none(text: str) -> None:
    try:
        found = bool(read_recipe(text.encode("utf-8", "surrogatepass")).columns)
    except InputError as error:
        found = bool(error.faults)
    assert found


def test_the_least_recipe_and_its_size() -> None:
    assert read_recipe(LEAST.encode()).columns == (ColumnRule("R", reading="resistance"),)
    assert len(recipe_text(MARKS)) < 1000


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    (
        ("soakage-recipe = 1\n", "", "does not say that it is a recipe"),
        ("= 1\n", "= 2\n", "later one"),
        ('kind = "csv"', 'kind = "ods"', "csv, xlsx"),
        ('kind = "csv"\n', "", "kind: This setting is missing"),
        ('layout = "row"', 'layuot = "row"', "Did you mean layout?"),
        ('reading = "resistance"', 'reading = "resistanse"', "time, voltage, current, resistance"),
        ('reading = "resistance"', "", "one of key, reading, ratio, ignore"),
        ('reading = "resistance"', 'reading = "resistance"\nkey = "asset"', "needs one use"),
        ('reading = "resistance"', 'reading = "resistance"\nat = "soon"', "column 1 (R)"),
        ('reading = "resistance"', 'reading = "resistance"\nunit = "kV"', "measures voltage, not resistance"),
        ('reading = "resistance"', 'key = "asset"', "No column holds a current or a resistance"),
        ('reading = "resistance"', 'ratio = "60 s/600 s"', "the later first"),
        ('heading = "R"\n', "", "The column is not named"),
        ('heading = "R"\n', "place = 0\n", "No such place"),
        ('heading = "R"\n', "place = true\n", "a whole number"),
        ('layout = "row"', 'layout = "group"', "Nothing tells the records apart"),
        ('layout = "row"', 'layout = "row"\ngroup_by = ["asset"]', "Only a long table is grouped"),
        ('layout = "row"', 'layout = "sheet"', "has no sheets"),
        ('layout = "row"', 'layout = "row"\ndelimiter = "|"', "comma, semicolon or tab"),
        ('layout = "row"', 'layout = "row"\nheader_row = "none"', "told by its place"),
        ('layout = "row"', 'layout = "row"\nheader_row = 4\nfirst_row = 3', "5 or below it"),
        ('layout = "row"', 'layout = "row"\nfirst_year = 20', "1850 to 2100"),
        ('layout = "row"', 'layout = "row"\npass_over = [" "]', "every row"),
        ('layout = "row"', 'layout = "row"\nconstants = {year = 3}', "texts in quotes"),
        ('name = "x"', 'name = "x', "r.toml:2"),
        ("[[column]]", "[column]", "[[column]] tables"),
    ),
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_place(old: str, new: str, expected: str) -> None:
    assert old in LEAST
    assert expected in said(LEAST.replace(old, new, 1))


def test_every_fault_is_said_at_once() -> None:
    text = LEAST.replace('"csv"', '"ods"').replace('"row"', '"rows"')
    assert said(text).count("wrong kind") == 2


def test_two_columns_of_one_mark_are_refused() -> None:
    twice = LEAST + '[[column]]\nheading = "Q"\nreading = "resistance"\n'
    assert "This reading is there twice" in said(twice)
    assert "This column is there twice" in said(LEAST + LEAST[LEAST.index("[[column]]") :])


def test_a_recipe_that_does_not_fit_is_not_written() -> None:
    with pytest.raises(UsageError, match="No column holds"):
        recipe_text(Recipe("x", Kind.CSV, Layout.ROW))


def test_answers_set_correct_and_take_back() -> None:
    made = answered(MARKS, {"dates": "day-month-year", "column.3.unit": "MOhm", "constants.site": "North"})
    assert (made.dates, made.columns[2].unit, made.constants["site"]) == (Dates.DAY_FIRST, "MOhm", "North")
    assert answered(made, {"dates": "", "column.3.unit": "", "constants.site": ""}) == MARKS
    ignored = answered(MARKS, {"column.4.ignore": "true"})
    assert ignored.columns[3] == ColumnRule("R10min (MΩ)", ignore=True, optional=True)
    assert answered(MARKS, {"pass_over": '["Sum"]', "header_row": "find"}).pass_over == ("Sum",)


@pytest.mark.parametrize(
    ("setting", "text", "error"),
    (
        ("column.9.unit", "MOhm", UsageError), ("colour", "red", InputError), ("dates", "sometimes", InputError),
        ("column.3.unit", "kV", InputError), ("header_row", "[1]", InputError),
    ),
)  # fmt: skip
def test_answers_that_cannot_be(setting: str, text: str, error: type[Exception]) -> None:
    with pytest.raises(error):
        answered(MARKS, {setting: text})
