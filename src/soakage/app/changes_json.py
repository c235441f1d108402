"""Changes of the register as JSON: edits, revisions, remarks, sign-offs, purges, tests judged again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from soakage import __version__
from soakage.app.contract_json import CONTRACT, Json
from soakage.app.edited import Edited
from soakage.app.rejudge import Rejudged, Standing
from soakage.app.remarks import Remark
from soakage.app.revising import FieldChange, Moved, Revised
from soakage.app.signing import STATEMENT, SignedOff


def _whole(values: Json) -> Json:
    return {"soakage": __version__, "contract": CONTRACT, **values}


def edited_json(edited: Edited) -> Json:
    """Return an edit in the shape of ``register ... --json``."""
    return _whole(
        {
            "kind": edited.kind,
            "id": edited.id,
            "title": edited.title,
            "added": edited.added,
            "changed": _changes(edited.changed),
            "judged_before": list(edited.judged_before),
        }
    )


def revised_json(revised: Revised) -> Json:
    """Return a revision in the shape of ``amend --json`` and ``withdraw --json``."""
    return _whole(
        {
            "test": revised.test,
            "reason": revised.reason,
            "before": revised.before,
            "after": revised.after,
            "sentence": revised.sentence,
            "changed": _changes(revised.changed),
            "readings_changed": revised.readings_changed,
            "was_signed": revised.was_signed,
            "sisters": [_moved(sister) for sister in revised.sisters],
            "left": list(revised.left),
        }
    )


def remark_json(remark: Remark) -> Json:
    """Return a remark in the shape of ``note --json``, ``attach --json`` and ``event --json``."""
    return _whole(
        {
            "kind": remark.kind,
            "subject": remark.subject,
            "title": remark.title,
            "action": remark.action,
            "fields": remark.fields,
        }
    )


def signed_json(done: Sequence[SignedOff], person: str) -> Json:
    """Return reviews or sign-offs in the shape of ``sign --json``."""
    tests = [
        {
            "test": one.test,
            "title": one.title,
            "action": one.action,
            "status": one.status,
            "tool_status": one.tool_status,
            "text": one.text,
        }
        for one in done
    ]
    return _whole({"person": person, "statement": STATEMENT, "tests": tests})


def purged_json(test: str, reason: str, export: Json) -> Json:
    """Return a purge in the shape of ``purge --json``."""
    return _whole({"test": test, "reason": reason, "export": export})


def rejudged_json(judged: int, changed: Iterable[Rejudged], *, dry_run: bool) -> Json:
    """Return tests judged again in the shape of ``rejudge --json``.

    Parameters
    ----------
    judged : int
        How many were judged.
    changed : iterable of Rejudged
        Those whose result differs.
    dry_run : bool
        Whether nothing was kept.
    """
    tests = [
        {
            "test": one.test,
            "asset": one.asset,
            "section": one.section,
            "day": one.day,
            "review": one.review,
            "before": None if one.before is None else _standing(one.before),
            "after": _standing(one.after),
            "why": list(one.why),
        }
        for one in changed
    ]
    return _whole({"dry_run": dry_run, "judged": judged, "changed": len(tests), "tests": tests})


def _standing(standing: Standing) -> Json:
    return {
        "status": standing.status,
        "sentence": standing.sentence,
        "profile": standing.profile,
        "profile_sha256": standing.profile_sha256,
        "criteria_sha256": standing.criteria_sha256,
        "version": standing.version,
    }


def _changes(changes: Iterable[FieldChange]) -> list[Json]:
    return [{"field": one.field, "before": one.before, "after": one.after} for one in changes]


def _moved(sister: Moved) -> Json:
    return {"test": sister.test, "section": sister.section, "before": sister.before, "after": sister.after}
