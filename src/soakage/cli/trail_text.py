"""Entries of the journal as text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from soakage.cli.wrapping import wrapped

_SIGNS = 12  # of an id or a hash; whole in --json
_HASH = re.compile(r"\b[0-9a-f]{64}\b")


def entry_text(entry: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of one entry, as `entry_json` gives it."""
    time = str(entry["at"]).replace("T", " ").replace("Z", " UTC")
    subject = f"{entry['kind']} {str(entry['subject'])[:_SIGNS]}"
    yield wrapped(
        f"{time}  {entry['person']} ({entry['identity']})  {entry['action']}  {subject}",
        indent="    ",
        first="",
    )
    if entry["purged"]:
        yield "    what it brought was removed for good"
    before, after = entry["before"], entry["after"]
    for name in after:
        if name in before:
            yield wrapped(f"{name}: {_plain(before[name])} -> {_plain(after[name])}", "      ", "    ")
        else:
            yield wrapped(f"{name}: {_plain(after[name])}", "      ", "    ")
    for name, value in entry["about"].items():
        yield wrapped(f"{name}: {_plain(value)}", "      ", "    ")
    if entry["reason"]:
        yield wrapped(f"reason: {entry['reason']}", "      ", "    ")


def verified_text(found: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines that tell whether the chains hold, as `verified_json` gives it."""
    if found["whole"]:
        yield f"The trail holds: {found['entries']} entries, each as it was written, none missing from a chain of ours."
    else:
        yield f"The trail does not hold: {len(found['faults'])} faults in {found['entries']} entries."
    for fault in found["faults"]:
        yield wrapped(f"{fault['store'][:_SIGNS]} {fault['number']}: {fault['problem']}", "    ", "  - ")
    if found["gaps"]:
        yield wrapped(
            f"Of other stores' chains only a part was brought along: {found['gaps']} entries whose predecessor is "
            "not here."
        )


def _plain(value: object) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return _HASH.sub(lambda found: found[0][:_SIGNS], text)
