"""What the pages of Settings show of a store: rules, instruments, people, backups, exchanges."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select

from soakage.app.register import INSTRUMENT
from soakage.app.trail_json import when
from soakage.errors import SoakageError
from soakage.standards.library import library
from soakage.store import schema
from soakage.store.asking import rows
from soakage.store.memory import StoreMemory
from soakage.web.plate_view import typed_text
from soakage.wiring.house_rules import HouseRules, house_rules, rules_by
from soakage.wiring.trending import today

PLATE = tuple(key for key in INSTRUMENT if key not in ("instrument_serial", "calibration_due", "accuracy"))


@dataclass(frozen=True, slots=True)
class Kept:
    """An instrument as it is listed; its values as they can be typed, what has no such form left out."""

    id: str
    serial: str
    name: str
    due: str
    overdue: bool
    values: dict[str, str]


def instruments(memory: StoreMemory) -> list[Kept]:
    """Return the instruments of a store, those whose calibration ran out first."""
    table = schema.instrument
    with memory.store.reading() as connection:
        found = list(rows(connection, select(table).order_by(table.c.name, table.c.serial)))
    kept = [
        Kept(
            row["id"],
            row["serial"] or "",
            row["name"] or row["serial"] or "",
            row["calibration_due"] or "",
            bool(row["calibration_due"]) and date.fromisoformat(row["calibration_due"]) < today(),
            _typed(json.loads(row["fields"])),
        )
        for row in found
    ]
    return sorted(kept, key=lambda one: not one.overdue)


def _typed(fields: dict[str, Any]) -> dict[str, str]:
    return {key: typed_text(key, fields[key]) for key in PLATE if fields.get(key) is not None}


def people(memory: StoreMemory) -> list[dict[str, Any]]:
    """Return the people of a store by name."""
    table = schema.person
    with memory.store.reading() as connection:
        return [
            {"id": row["id"], "name": row["name"], **_of(json.loads(row["fields"]))}
            for row in rows(connection, select(table).order_by(table.c.name))
        ]


def _of(fields: dict[str, Any]) -> dict[str, str]:
    return {name: str(fields.get(name) or "") for name in ("licence_number", "text")}


def last_noted(memory: StoreMemory, action: str) -> dict[str, Any] | None:
    """Return who did something to the store last, and when; None where nobody did.

    Parameters
    ----------
    memory : StoreMemory
        The store.
    action : str
        ``backed_up`` or ``merged``.
    """
    entry = schema.entry
    query = (
        select(entry.c.person, entry.c.at, entry.c.body)
        .where(entry.c.kind == "setting", entry.c.action == action)
        .order_by(entry.c.at.desc())
        .limit(1)
    )
    with memory.store.reading() as connection:
        row = next(rows(connection, query), None)
    if row is None:
        return None
    return {"person": row["person"], "at": when(row["at"]), "body": json.loads(row["body"] or "{}")}


def rules_told(memory: StoreMemory) -> dict[str, Any]:
    """Return what judges: settings, the profile they mean, the temperature rules there are, and what is wrong."""
    kept = house_rules(memory)
    problem = ""
    try:
        found = rules_by(kept)
    except SoakageError as raised:
        found, problem = rules_by(HouseRules()), str(raised)
    return {
        "kept": kept,
        "profile": found.profile,
        "wording": {name: kept.report.get(name, "") for name in ("company", "heading", "note")},
        "rules": {rule.id: rule.name for rule in library().temperature_rules.values()},
        "problem": problem,
    }


def settings_json(memory: StoreMemory) -> dict[str, Any]:
    """Return the settings of a store as the API tells them."""
    told = rules_told(memory)
    kept: HouseRules = told["kept"]
    profile = told["profile"]
    return {
        "store": str(memory.store.where),
        "profile": {
            "id": profile.id,
            "title": profile.title,
            "sha256": profile.sha256,
            "own": bool(kept.text),
        },
        "temperature_rule": kept.temperature_rule or None,
        "report": told["wording"],
        "problem": told["problem"],
        "backup": last_noted(memory, "backed_up"),
        "merged": last_noted(memory, "merged"),
    }
