"""A dry run: what a recipe would make of a file, its first records, every fault, as plain values."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from soakage.importers.recipe import Guess, Recipe
from soakage.importers.recipe_file import recipe_parts
from soakage.importers.recipe_read import attempt
from soakage.importers.write_record import header_values
from soakage.model.record import Record

MOST_RECORDS = 20
_BOUNDS = {0: None, 1: "lower", -1: "upper"}


def preview(
    recipe: Recipe,
    data: bytes,
    name: str,
    overrides: Mapping[str, str] | None = None,
    most: int = MOST_RECORDS,
) -> dict[str, Any]:
    """Return what reading a file with a recipe would give; nothing is kept.

    Parameters
    ----------
    recipe, data, name, overrides
        As for :func:`soakage.importers.recipe_read.read_with`.
    most : int
        Records shown.

    Returns
    -------
    dict
        ``count`` of records, the first ``records`` (``file``, ``row``, ``title``, ``keys``, ``readings``,
        ``findings``), all ``faults``, and the lines ``passed_over``; fit for JSON.
    """
    done = attempt(recipe, data, name, overrides)
    return {
        "count": len(done.records),
        "records": [record_json(record) for record in done.records[:most]],
        "faults": [asdict(fault) for fault in done.faults],
        "passed_over": [
            {"file": file, "row": line, "reason": reason} for file, line, reason in done.passed_over
        ],
    }


def record_json(record: Record) -> dict[str, Any]:
    """Return the key facts of a record as plain values: readings in SI, null for no reading."""
    readings = record.readings
    columns = zip(
        readings.time.tolist(), readings.voltage.tolist(), readings.current.tolist(),
        readings.resistance.tolist(), readings.bound.tolist(), strict=True,
    )  # fmt: skip
    return {
        "file": record.origin.file,
        "row": record.origin.row,
        "title": record.title,
        "keys": header_values(record),
        "readings": [
            {
                "time": _number(time),
                "voltage": _number(voltage),
                "current": _number(current),
                "resistance": _number(resistance),
                "bound": _BOUNDS[bound],
            }
            for time, voltage, current, resistance, bound in columns
        ],
        "findings": [{"code": finding.code, "sentence": finding.sentence} for finding in record.findings],
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def guess_json(guess: Guess) -> dict[str, Any]:
    """Return a guess as plain values: ``recipe``, ``columns``, ``remarks``, ``questions``, ``rows``."""
    return {
        "recipe": recipe_parts(guess.recipe),
        "columns": [asdict(note) for note in guess.notes],
        "remarks": list(guess.remarks),
        "questions": [
            {
                "setting": question.setting,
                "sentence": question.sentence,
                "choices": [{"value": str(value), "meaning": meaning} for value, meaning in question.choices],
                "required": question.required,
            }
            for question in guess.questions
        ],
        "rows": [{"row": line, "cells": [str(cell) for cell in cells]} for line, cells in guess.rows],
    }
