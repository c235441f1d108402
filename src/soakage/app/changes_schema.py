"""JSON Schemas of the commands that change the register; keys may be added, ids do not change."""

from __future__ import annotations

from soakage.app.contract_json import CONTRACT
from soakage.app.schema_parts import (
    COUNT,
    FLAG,
    NAMES,
    SHA256,
    STATUSES,
    TEXT,
    Schema,
    described,
    list_of,
    or_null,
    shape,
    whole,
)

_HEAD: Schema = {"soakage": TEXT, "contract": {"const": CONTRACT}}
_STATUS: Schema = {"enum": list(STATUSES)}
_STATUS_OR_NULL: Schema = {"enum": [None, *STATUSES]}
_ANY: Schema = {}


def _changes() -> Schema:
    return list_of(
        shape({"field": TEXT, "before": _ANY, "after": _ANY}),
        "Fields that differ, values in SI; null where nothing was or is stated.",
    )


def register_schema() -> Schema:
    """Return the JSON Schema of ``register ... --json``."""
    return whole(
        "An edit of the register",
        shape(
            {
                **_HEAD,
                "kind": {"enum": ["asset", "section", "site", "instrument", "person"]},
                "id": described("Of a section: that of its asset.", TEXT),
                "title": TEXT,
                "added": FLAG,
                "changed": _changes(),
                "judged_before": described(
                    "Tests whose verdict was given with a nameplate value that is another one now.", NAMES
                ),
            }
        ),
    )


def revision_schema() -> Schema:
    """Return the JSON Schema of ``amend --json`` and ``withdraw --json``."""
    sister = shape({"test": TEXT, "section": TEXT, "before": _STATUS_OR_NULL, "after": _STATUS_OR_NULL})
    return whole(
        "A revision or withdrawal of a test",
        shape(
            {
                **_HEAD,
                "test": TEXT,
                "reason": TEXT,
                "before": _STATUS_OR_NULL,
                "after": _STATUS_OR_NULL,
                "sentence": TEXT,
                "changed": _changes(),
                "readings_changed": FLAG,
                "was_signed": described("The sign-off does not go over to the revision.", FLAG),
                "sisters": list_of(sister, "Sister sections of the visit that were judged again."),
                "left": described(
                    "Sister sections that were judged by other rules; left as they are.", NAMES
                ),
            }
        ),
    )


def remark_schema() -> Schema:
    """Return the JSON Schema of ``note --json``, ``attach --json`` and ``event --json``."""
    return whole(
        "A remark on an asset or a test",
        shape(
            {
                **_HEAD,
                "kind": {"enum": ["asset", "test"]},
                "subject": TEXT,
                "title": TEXT,
                "action": {"enum": ["noted", "attached", "happened"]},
                "fields": {"type": "object"},
            }
        ),
    )


def sign_schema() -> Schema:
    """Return the JSON Schema of ``sign --json``."""
    test = shape(
        {
            "test": TEXT,
            "title": TEXT,
            "action": {"enum": ["reviewed", "signed"]},
            "status": described("What the person stands for.", _STATUS),
            "tool_status": described("What was found.", _STATUS),
            "text": TEXT,
        }
    )
    return whole(
        "A review or sign-off", shape({**_HEAD, "person": TEXT, "statement": TEXT, "tests": list_of(test)})
    )


def purge_schema() -> Schema:
    """Return the JSON Schema of ``purge --json``."""
    export = shape({"file": TEXT, "sha256": SHA256, "entries": COUNT, "blobs": COUNT})
    return whole("A purge of a test", shape({**_HEAD, "test": TEXT, "reason": TEXT, "export": export}))


def rejudge_schema() -> Schema:
    """Return the JSON Schema of ``rejudge --json``."""
    standing = shape(
        {
            "status": _STATUS,
            "sentence": TEXT,
            "profile": TEXT,
            "profile_sha256": SHA256,
            "criteria_sha256": SHA256,
            "version": TEXT,
        }
    )
    test = shape(
        {
            "test": TEXT,
            "asset": TEXT,
            "section": TEXT,
            "day": or_null({"type": "string", "format": "date"}),
            "review": {"enum": ["draft", "reviewed", "signed"]},
            "before": or_null(standing),
            "after": standing,
            "why": described("What led to another result.", NAMES),
        }
    )
    return whole(
        "Tests judged again",
        shape(
            {
                **_HEAD,
                "dry_run": FLAG,
                "judged": COUNT,
                "changed": COUNT,
                "tests": list_of(test, "Those whose result differs."),
            }
        ),
    )
