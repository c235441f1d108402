"""A record as plain values in SI and back: what the store keeps, and what a record's identity is made of."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from hashlib import sha256
from types import MappingProxyType
from typing import Any

import numpy as np

from soakage.model.asset import Asset
from soakage.model.keys import KEYS, Kind
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.model.test import Accuracy, Conditions, Instrument, Paper, PreviousTest, Step, Test, VoltageFound
from soakage.model.verdict import Finding, Status

Plain = dict[str, Any]
_ROWS = {Kind.STEPS: Step, Kind.ACCURACY: Accuracy}
_TABLES = {Kind.VOLTAGE_FOUND: VoltageFound, Kind.PREVIOUS_TEST: PreviousTest}
_PARTS = {"asset": Asset, "paper": Paper, "conditions": Conditions, "test": Test, "instrument": Instrument}
COLUMNS = ("time", "voltage", "current", "resistance")
FLAGS = ("voltage_assumed", "current_derived", "resistance_given")


def canonical(value: object) -> str:
    """Return JSON that is the same text for the same value: sorted keys, no spaces, no NaN.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest(text: str | bytes) -> str:
    """Return the SHA-256 of a text (as UTF-8) or of bytes, in hexadecimal."""
    return sha256(text.encode() if isinstance(text, str) else text).hexdigest()


def plain_value(name: str, value: Any) -> Any:  # noqa: ANN401 - one value of any kind
    """Return the value of one key as JSON holds it: figures in SI, dates as ISO text."""
    kind = KEYS[name].kind
    if kind in _ROWS:
        return [_table(row) for row in value]
    if kind in _TABLES:
        return _table(value)
    if kind is Kind.NUMBERS:
        return dict(value)
    if kind is Kind.LIST:
        return list(value)
    return value.isoformat() if isinstance(value, date) else value


def _table(row: Any) -> dict[str, float]:  # noqa: ANN401 - any of the small tables of the model
    figures = {part.name: getattr(row, part.name) for part in fields(row)}
    return {name: figure for name, figure in figures.items() if figure is not None}


def value_of(name: str, value: Any) -> Any:  # noqa: ANN401 - one value of any kind
    """Return what the model holds for one key from its plain value; the inverse of `plain_value`."""
    kind = KEYS[name].kind
    if kind in _ROWS:
        return tuple(_ROWS[kind](**row) for row in value)
    if kind in _TABLES:
        return _TABLES[kind](**value)
    if kind is Kind.NUMBERS:
        return MappingProxyType(dict(value))
    if kind is Kind.LIST:
        return tuple(value)
    if kind is Kind.DATE:
        return date.fromisoformat(value)
    if kind is Kind.WHEN:
        return datetime.fromisoformat(value) if "T" in value else date.fromisoformat(value)
    return value


def stated_plain(record: Record) -> Plain:
    """Return every stated key of a record with its plain value."""
    return {name: plain_value(name, value) for name, value in record.stated().items()}


def record_of(
    stated: Mapping[str, Any],
    readings: Readings,
    *,
    extra: Mapping[str, str] | None = None,
    findings: Sequence[Finding] = (),
    origin: Origin | None = None,
) -> Record:
    """Return the record of plain values; the inverse of `stated_plain`.

    Parameters
    ----------
    stated : mapping
        Plain value by key.
    readings : Readings
        Its readings.
    extra : mapping of str to str, optional
        Keys the reader did not know.
    findings : sequence of Finding
        Those made while it was read.
    origin : Origin, optional
        Where it came from.

    Returns
    -------
    Record

    Raises
    ------
    KeyError
        If a key is not one of the record file.
    """
    parts: dict[str, dict[str, Any]] = {name: {} for name in _PARTS}
    for name, value in stated.items():
        key = KEYS[name]
        parts[key.part][key.field] = value_of(name, value)
    made = {name: kind(**parts[name]) for name, kind in _PARTS.items()}
    return Record(
        **made,
        readings=readings,
        origin=origin or Origin(),
        extra=MappingProxyType(dict(extra or {})),
        findings=tuple(findings),
    )


def findings_plain(findings: Iterable[Finding]) -> list[Plain]:
    """Return findings as plain values."""
    return [
        {
            "code": finding.code,
            "sentence": finding.sentence,
            "status": str(finding.status) if finding.status else None,
            "remedy": finding.remedy,
            "turns": finding.turns,
        }
        for finding in findings
    ]


def findings_of(rows: Iterable[Mapping[str, Any]]) -> tuple[Finding, ...]:
    """Return findings from plain values; the inverse of `findings_plain`."""
    return tuple(
        Finding(
            row["code"],
            row["sentence"],
            Status(row["status"]) if row["status"] else None,
            row["remedy"],
            row["turns"],
        )
        for row in rows
    )


def readings_digest(readings: Readings) -> str:
    """Return the hash of readings: little-endian float64 columns, bounds as int8, then the three marks."""
    hashed = sha256()
    for name in COLUMNS:
        column = np.asarray(getattr(readings, name), dtype="<f8")
        # every NaN is nothing read, whichever bits it has
        hashed.update(np.where(np.isnan(column), np.nan, column).astype("<f8").tobytes())
    hashed.update(np.asarray(readings.bound, dtype=np.int8).tobytes())
    hashed.update(bytes(getattr(readings, flag) for flag in FLAGS))
    return hashed.hexdigest()


def content_id(record: Record) -> str:
    """Return what tells one test from every other: the hash of what was stated and read.

    Parameters
    ----------
    record : Record
        Any record; its origin and the findings of its reading do not count, so the same test read from a
        CSV file and from a workbook is the same test.

    Returns
    -------
    str
        SHA-256 in hexadecimal.
    """
    content = [stated_plain(record), dict(record.extra), readings_digest(record.readings)]
    return digest(canonical(content))
