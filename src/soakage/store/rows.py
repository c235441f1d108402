"""What the searchable tables hold of one subject, as a pure function of its entries.

A kind of subject is added here, in one place: a function from its folded entries to rows.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from soakage.app.calibration import KEY, due_of
from soakage.app.folding import Folded, body_of, fold
from soakage.app.journal import Entry
from soakage.model.stated import canonical

Row = dict[str, Any]
Rows = dict[str, list[Row]]
RECEIVED = ("received", "revised")
REMARKS = ("noted", "attached", "happened", "calibrated", "reviewed", "signed")
REVIEWS = {"reviewed": 1, "signed": 2}


def rows_of(kind: str, subject: str, entries: Iterable[Entry]) -> Rows:
    """Return the rows of one subject, by table.

    Parameters
    ----------
    kind : str
        Kind of the subject.
    subject : str
        Its id.
    entries : iterable of Entry
        All entries on it, in any order.

    Returns
    -------
    dict
        Rows by the name of their table, parents before children; of a purged subject only that it was purged.
    """
    known = sorted(entries, key=lambda entry: (entry.at, entry.hash))
    purge = next((entry for entry in known if entry.action == "purged"), None)
    if purge is not None:
        return {"purged": [{"kind": kind, "subject": subject, "entry": purge.hash}]}
    folded = fold(known)
    rows: Rows = {}
    if folded.first is not None:
        rows |= _ROWS[kind](subject, folded, known)
    rows["remark"] = [_remark(kind, subject, entry) for entry in known if entry.action in REMARKS]
    rows["conflict"] = [
        {
            "kind": kind,
            "subject": subject,
            "field": name,
            "claims": canonical(
                [
                    {"value": claim.value, "person": claim.person, "at": claim.at, "entry": claim.entry}
                    for claim in claims
                ]
            ),
        }
        for name, claims in folded.conflicts.items()
    ]
    return {table: found for table, found in rows.items() if found}


def _remark(kind: str, subject: str, entry: Entry) -> Row:
    return {
        "entry": entry.hash,
        "kind": kind,
        "subject": subject,
        "action": entry.action,
        "person": entry.person,
        "at": entry.at,
        "fields": canonical(body_of(entry)),
    }


def _site(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    values = folded.values
    if not values.get("name"):
        return {}  # renamed: it goes on under the id of its new name
    return {"site": [{"id": subject, "name": values["name"], "fields": canonical(dict(values))}]}


def _asset(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    values = folded.values
    plate = ("site", "tag", "serial", "class", "rated_voltage", "insulation", "year")
    row: Row = {"id": subject, "name": values.get("asset"), **{name: values.get(name) for name in plate}}
    row |= {"retired": bool(values.get("retired")), "fields": canonical(dict(values))}
    return {"asset": [row]}


def _instrument(subject: str, folded: Folded, known: Sequence[Entry]) -> Rows:
    values = dict(folded.values)
    if (due := due_of(folded, known)) is not None:
        values[KEY] = due
    row = {
        "id": subject,
        "name": values.get("instrument"),
        "serial": values.get("instrument_serial"),
        "calibration_due": values.get(KEY),
        "fields": canonical(values),
    }
    return {"instrument": [row]}


def _person(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    return {
        "person": [
            {"id": subject, "name": folded.values.get("name", ""), "fields": canonical(dict(folded.values))}
        ]
    }


def _recipe(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    values = folded.values
    return {"recipe": [{"id": subject, "name": values.get("name", ""), "text": values.get("text", "")}]}


def _setting(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    if "value" not in folded.values:
        return {}
    return {"setting": [{"id": subject, "value": canonical(folded.values["value"])}]}


def _visit(subject: str, folded: Folded, _known: Sequence[Entry]) -> Rows:
    values = folded.values
    row = {
        "id": subject,
        "asset": values.get("asset", ""),
        "name": values.get("name", ""),
        "day": values.get("day"),
    }
    return {"visit": [row]}


def _test(subject: str, folded: Folded, known: Sequence[Entry]) -> Rows:
    bodies = {entry.hash: body_of(entry) for entry in known}
    versions = [entry for entry in known if entry.action in RECEIVED and "record" in bodies[entry.hash]]
    if not versions:
        return {}  # what is known of it came without the record itself
    content = folded.values["content"]
    held = next(entry for entry in reversed(versions) if bodies[entry.hash]["set"]["content"] == content)
    record, of = bodies[held.hash]["record"], bodies[held.hash]["of"]
    verdicts = [entry for entry in known if entry.action == "judged" and bodies[entry.hash]]
    stands = next((entry for entry in reversed(verdicts) if bodies[entry.hash]["content"] == content), None)
    given = bodies[stands.hash] if stands else {}
    review = None if "content" in folded.conflicts else _review(known, bodies, content)
    row: Row = {
        "id": subject,
        "asset": folded.values.get("asset"),
        **{name: of.get(name) for name in ("visit", "instrument", "test_voltage", "day", "started")},
        "section": of["section"],
        "method": of["method"],
        "content": content,
        "revision": len(versions),
        "received": held.hash,
        "readings": record["readings"],
        "file": record["file"],
        "file_sha256": record.get("file_sha256"),
        "row": record.get("row"),
        "state": "withdrawn" if folded.values.get("withdrawn") else "current",
        "status": given.get("status"),
        "sentence": given.get("sentence"),
        "verdict": stands.hash if stands else None,
        "review": "draft" if review is None else review.action,
        "reviewer": None if review is None else review.person,
        "reviewed_at": None if review is None else review.at,
    }
    return {
        "test": [row],
        "revision": [
            {
                "entry": entry.hash,
                "test": subject,
                "number": number,
                "content": bodies[entry.hash]["set"]["content"],
                "reason": entry.reason,
                "person": entry.person,
                "at": entry.at,
            }
            for number, entry in enumerate(versions, start=1)
        ],
        "verdict": [_verdict(subject, entry, bodies[entry.hash]) for entry in verdicts],
        "figure": [{"test": subject, **figure} for figure in given.get("figures", ())],
        "finding": [
            {"test": subject, "place": place, **found}
            for place, found in enumerate(given.get("findings", ()))
        ],
    }


def _verdict(subject: str, entry: Entry, body: Row) -> Row:
    names = (
        "content",
        "profile",
        "profile_sha256",
        "criteria_sha256",
        "version",
        "status",
        "sentence",
        "result",
    )
    row = {name: body[name] for name in names}
    return row | {
        "entry": entry.hash,
        "test": subject,
        "at": entry.at,
        "person": entry.person,
        "reason": entry.reason,
    }


def _review(known: Sequence[Entry], bodies: dict[str, Row], content: str) -> Entry | None:
    given = [
        entry for entry in known if entry.action in REVIEWS and bodies[entry.hash].get("content") == content
    ]
    return max(given, key=lambda entry: (REVIEWS[entry.action], entry.at, entry.hash), default=None)


_ROWS: dict[str, Callable[[str, Folded, Sequence[Entry]], Rows]] = {
    "site": _site,
    "asset": _asset,
    "instrument": _instrument,
    "person": _person,
    "recipe": _recipe,
    "setting": _setting,
    "visit": _visit,
    "test": _test,
}
KINDS = tuple(_ROWS)


def fields_of(row: Row) -> Row:
    """Return the JSON column ``fields`` of a row as a dict."""
    found = json.loads(row["fields"])
    return found if isinstance(found, dict) else {}
