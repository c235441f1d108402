"""Many records in one JSON file, with the names of the record file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from soakage.importers.base import Importer
from soakage.importers.exchange import Plain, records_of
from soakage.importers.nameplate import VERSION
from soakage.importers.text import LARGEST, refuse
from soakage.model.record import Record

_MARK = b"\xef\xbb\xbf"
VERSION_KEY, RECORDS, READINGS = "soakage", "records", "readings"
_SHAPE = '{"soakage": 1, "records": [{"class": ..., "method": ..., "readings": {"time [s]": [...], ...}}]}'


def recognises(head: bytes, name: str) -> int:
    """Return 60 where the name says JSON: it is said what is wrong with it; else 60 for what begins as JSON does."""
    return 60 if Path(name).suffix.lower() == ".json" or head.removeprefix(_MARK).lstrip()[:1] == b"{" else 0


def read(data: bytes, name: str, overrides: Mapping[str, str]) -> tuple[Record, ...]:
    """Read records from JSON; see :class:`soakage.importers.base.Importer`."""
    whole = _loaded(_decoded(data, name), name)
    if not isinstance(whole, dict) or VERSION_KEY not in whole:
        raise refuse(
            name,
            None,
            _kind(whole),
            "This JSON holds no records of ours.",
            _SHAPE,
            "Look at how it was made.",
        )
    if whole[VERSION_KEY] != int(VERSION) or isinstance(whole[VERSION_KEY], bool):
        raise refuse(
            name, None, f"soakage: {whole[VERSION_KEY]!r}", "This version of the record file is not known.",
            f"soakage: {VERSION}", "Read it with the release of Soakage that wrote it, or a later one.",
        )  # fmt: skip
    records = whole.get(RECORDS)
    if not isinstance(records, list):
        raise refuse(
            name, None, _kind(records), "The list of records is missing.", _SHAPE, "Look at how it was made."
        )
    wrong = [at for at, one in enumerate(records, 1) if not _is_record(one)]
    if wrong:
        raise refuse(
            f"{name} [record {wrong[0]}]", None, _kind(records[wrong[0] - 1]),
            f"This is no record with its readings; {len(wrong)} are not.", _SHAPE, "Look at how it was made.",
        )  # fmt: skip
    return records_of(
        (_plain(one) for one in records), name, overrides, sha256(data).hexdigest(), count=len(records)
    )


def _is_record(one: object) -> bool:
    return isinstance(one, dict) and isinstance(one.get(READINGS), dict)


def _plain(one: Mapping[str, Any]) -> Plain:
    # the version of the whole file is that of each record
    return Plain({VERSION_KEY: int(VERSION)} | {k: v for k, v in one.items() if k != READINGS}, one[READINGS])


def _kind(value: object) -> str:
    if isinstance(value, dict):
        return "an object with " + (", ".join(map(str, value))[:60] or "nothing in it")
    return f"{type(value).__name__}: {value}"[:80] if value is not None else "nothing"


def _decoded(data: bytes, name: str) -> str:
    if len(data) > LARGEST:
        given = f"{len(data) / 2**20:.0f} MiB"
        raise refuse(
            name, None, given, "The file is too large.", f"at most {LARGEST // 2**20} MiB", "Split it."
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(
            name, data.count(b"\n", 0, error.start) + 1, f"byte {data[error.start]:#04x}",
            "This is no UTF-8, which JSON is always in.", "UTF-8", "Save it in UTF-8.",
        ) from None  # fmt: skip


def _loaded(text: str, name: str) -> object:
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        given = text.split("\n")[error.lineno - 1][:80]
        raise refuse(
            name,
            error.lineno,
            given,
            f"This is no JSON: {error.msg}.",
            _SHAPE,
            "Copy or write the file again.",
        ) from None
    except (ValueError, RecursionError) as error:
        raise refuse(
            name, None, "", f"This JSON cannot be read: {str(error)[:200]}.", _SHAPE, "Write the file again."
        ) from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the key {twice[:60]!r} is there twice in one object")
    return made


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no figure; null stands where nothing was read")


IMPORTER = Importer("json", "Records as JSON", (".json",), recognises, read)
