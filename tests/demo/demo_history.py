"""The invented history, made and evaluated once for all tests of a process."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluated
from soakage.demo.history import history_records, history_truth
from soakage.demo.history_truth import YEAR, AssetTruth
from soakage.model.record import Record
from soakage.physics.arrays import Floats


@cache
def records() -> tuple[Record, ...]:
    return history_records()


@cache
def truths() -> dict[str, AssetTruth]:
    return {truth.asset: truth for truth in history_truth()}


@cache
def evaluated() -> tuple[Evaluated, ...]:
    return evaluate(records()).records


def section_of(record: Record) -> str:
    asset = record.asset
    return asset.section or f"{asset.circuit}, {asset.between}"


@cache
def of(asset: str, section: str = "") -> tuple[Evaluated, ...]:
    """Everything evaluated of one asset, or of one of its sections, by time."""
    return tuple(
        entry
        for entry in evaluated()
        if entry.record.asset.name == asset and section in ("", section_of(entry.record))
    )


def line(truth: AssetTruth, entries: Sequence[Evaluated]) -> tuple[Floats, Floats]:
    """Years since the origin and ln of the quantity the truth speaks of."""
    days = [(entry.record.day - truth.origin).days for entry in entries if entry.record.day is not None]
    values = [entry.quantities[truth.quantity].value for entry in entries]
    return np.array(days) / YEAR, np.log(np.array(values))
