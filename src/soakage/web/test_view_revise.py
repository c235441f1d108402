"""The form a test is revised with: every key as it would be typed, every reading as a cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from soakage.app.ports import KnownTest
from soakage.importers.write_record import header_line, header_values, record_text
from soakage.model.keys import KEYS, Kind
from soakage.web.test_actions import Correction
from soakage.web.test_view_record import label

MOST_CELLS = 60  # rows of readings that are shown as cells; more are corrected with a file
NEW_ROWS = 2
_GROUPS = {
    "conditions": "Conditions", "test": "Test", "asset": "Nameplate", "instrument": "Instrument", "paper": "Papers",
}  # fmt: skip
_PLAIN = frozenset((Kind.LIST,))


def typed_values(test: KnownTest) -> dict[str, str]:
    """Return every key a record states, each as a person would type it."""
    values = {name: value for name, value in header_values(test.record).items() if name != "soakage"}
    return {name: _typed(name, value) for name, value in values.items()}


def _typed(name: str, value: Any) -> str:  # noqa: ANN401 - a text, a list or a table of texts
    if isinstance(value, str | int):
        return str(value)
    if KEYS[name].kind in _PLAIN and not any(set(item) & set(",;[]{}=\"'") for item in value):
        return ", ".join(value)
    return header_line(name, value).partition(" = ")[2]


def cells(test: KnownTest) -> tuple[list[str], list[list[str]]]:
    """Return headings and cells of the readings, as a record file has them."""
    lines = record_text(test.record).splitlines()
    table = list(csv.reader(line for line in lines if not line.startswith("#")))
    return table[0], table[1:]


def form(test: KnownTest, given: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return the form as it is shown: as the record stands, or as it was sent.

    Parameters
    ----------
    test : KnownTest
        The test as it stands.
    given : mapping or None
        What was sent and refused.
    """
    typed, sent = typed_values(test), dict(given or {})
    heads, rows = cells(test)
    few = len(rows) <= MOST_CELLS
    shown = [*rows, *([""] * len(heads) for _ in range(NEW_ROWS))] if few else []
    return {
        "content": test.content,
        "reason": sent.get("reason", ""),
        "groups": [
            {
                "name": name,
                "keys": [
                    {
                        "key": key,
                        "label": label(key),
                        "value": sent.get(f"key-{key}", typed[key]),
                        "words": KEYS[key].words,
                    }
                    | {"meaning": KEYS[key].meaning, "multiline": KEYS[key].kind is Kind.ACCURACY}
                    for key in KEYS
                    if key in typed and KEYS[key].part == part
                ],
            }
            for part, name in _GROUPS.items()
        ],
        "heads": heads,
        "rows": [
            [sent.get(f"cell-{number}-{place}", cell) for place, cell in enumerate(row)]
            for number, row in enumerate(shown)
        ],
        "readings": len(rows),
        "absent": [{"key": key, "label": label(key)} for key in KEYS if key not in typed],
        "add": (sent.get("add-key", ""), sent.get("add-value", "")),
    }


def correction(test: KnownTest, sent: Mapping[str, str], file: tuple[str, bytes] | None) -> Correction:
    """Return what a form corrects: only what differs from the record as it stands.

    Parameters
    ----------
    test : KnownTest
        The test as it stands.
    sent : mapping
        Fields of the form.
    file : tuple of (str, bytes) or None
        A corrected file.
    """
    typed = typed_values(test)
    values: dict[str, str] = {}
    clear: list[str] = []
    for key, before in typed.items():
        now = " ".join(sent.get(f"key-{key}", before).split())
        if not now:
            clear.append(key)
        elif now != " ".join(before.split()):
            values[key] = now
    added, value = sent.get("add-key", "").strip(), sent.get("add-value", "").strip()
    if added and value:
        values[added] = value
    return Correction(
        sent.get("reason", ""),
        values,
        clear,
        None if file else _table(test, sent),
        file,
        sent.get("content", ""),
    )


def _table(test: KnownTest, sent: Mapping[str, str]) -> str | None:
    """Return the readings as typed with their headings; None where no cell differs."""
    heads, rows = cells(test)
    if not any(name.startswith("cell-") for name in sent):
        return None
    count = 1 + max(
        int(name.split("-")[1]) for name in sent if name.startswith("cell-") and name.split("-")[1].isdigit()
    )
    typed = [
        [sent.get(f"cell-{number}-{place}", "").strip() for place in range(len(heads))]
        for number in range(min(count, 5000))
    ]
    typed = [row for row in typed if any(row)]
    if typed == [[cell.strip() for cell in row] for row in rows]:
        return None
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([heads, *typed])
    return out.getvalue()
