"""What the tests of recipes share: workbooks made here, guesses answered, records in short."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from soakage.errors import Fault, InputError
from soakage.importers.recipe import ColumnRule, Guess, Kind, Layout, Recipe
from soakage.importers.recipe_answers import answered
from soakage.importers.recipe_guess import guess
from soakage.importers.recipe_read import read_with
from soakage.model.record import Record

SAMPLES = Path(__file__).parent / "recipe_samples"
MACHINE = {"class": "rotating-machine"}

MARKS = Recipe(
    "marks",
    Kind.CSV,
    Layout.ROW,
    columns=(
        ColumnRule("Date", key="started"),
        ColumnRule("Asset", key="asset"),
        ColumnRule("R60s (MΩ)", reading="resistance", at="60 s"),
        ColumnRule("R10min (MΩ)", reading="resistance", at="10 min", optional=True),
        ColumnRule("Temp (°C)", key="winding_temperature", optional=True),
        ColumnRule("PI", ratio="600 s/60 s", optional=True),
    ),
    constants=MACHINE,
    header_row=1,
)


def book(sheets: Mapping[str, Sequence[Sequence[object]]], formats: Mapping[str, str] | None = None) -> bytes:
    """Return a workbook of sheets of rows; number formats by cell of every sheet."""
    made = openpyxl.Workbook()
    del made[made.sheetnames[0]]
    for title, rows in sheets.items():
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
        for cell, shape in (formats or {}).items():
            sheet[cell].number_format = shape
    target = io.BytesIO()
    made.save(target)
    return target.getvalue()


def sample(name: str) -> bytes:
    return (SAMPLES / name).read_bytes()


def settled(data: bytes | str, name: str = "table.csv", **answers: str) -> Recipe:
    """Return the recipe guessed, answered; every required question must be among the answers."""
    made = guessed(data, name)
    given = {key.replace("__", "."): text for key, text in answers.items()}
    left = {question.setting for question in made.questions if question.required} - set(given)
    assert left == set()
    return answered(made.recipe, given)


def guessed(data: bytes | str, name: str = "table.csv") -> Guess:
    return guess(data.encode() if isinstance(data, str) else data, name)


def asked(made: Guess) -> set[str]:
    """Return the settings that a guess says must be answered."""
    return {question.setting for question in made.questions if question.required}


def read(recipe: Recipe, data: bytes | str, name: str = "table.csv", **options: str) -> tuple[Record, ...]:
    return read_with(recipe, data.encode() if isinstance(data, str) else data, name, options)


def refused(recipe: Recipe, data: bytes | str, name: str = "table.csv", **options: str) -> tuple[Fault, ...]:
    """Return the faults of what must not be readable; each says what to do."""
    with pytest.raises(InputError) as caught:
        read(recipe, data, name, **options)
    assert all(fault.problem and fault.remedy for fault in caught.value.faults)
    return caught.value.faults


def resistances(record: Record) -> dict[float | None, float]:
    """Return resistance by time, None for a spot reading."""
    pairs = zip(record.readings.time.tolist(), record.readings.resistance.tolist(), strict=True)
    return {None if math.isnan(time) else time: value for time, value in pairs}


def facts(records: Iterable[Record]) -> list[tuple[Any, ...]]:
    """Return asset, section, day, method, and line of each record."""
    return [(r.asset.name, r.asset.section, str(r.day), r.test.method, r.origin.row) for r in records]
