"""Exchange as JSON: bundles, merges, conflicts and how they were settled."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from soakage import __version__
from soakage.app.contract_json import CONTRACT, Json
from soakage.app.exchange import Conflict, Merged
from soakage.app.settling import Settled
from soakage.app.trail_json import when


def _whole(values: Json) -> Json:
    return {"soakage": __version__, "contract": CONTRACT, **values}


def bundle_json(file: str, part: str, counts: Mapping[str, int]) -> Json:
    """Return a bundle that was written in the shape of ``bundle --json``."""
    return _whole({"file": file, "part": part or None, **counts})


def merge_json(merges: Iterable[tuple[str, Merged]], *, dry_run: bool) -> Json:
    """Return merges in the shape of ``merge --json``.

    Parameters
    ----------
    merges : iterable of (str, Merged)
        Each with the file it came from.
    dry_run : bool
        Whether nothing was kept.
    """
    return _whole({"dry_run": dry_run, "files": [_merged(file, merged) for file, merged in merges]})


def _merged(file: str, merged: Merged) -> Json:
    return {
        "file": file,
        "store": merged.source,
        "entries": merged.entries,
        "known": merged.known,
        "new": dict(sorted(merged.counts.items())),
        "assets": [{"id": name, "asset": title} for name, title in merged.assets],
        "conflicts": [_conflict(one) for one in merged.conflicts],
        "rejudge": [
            {"visit": one.visit, "asset_id": one.asset, "title": one.title, "day": one.day}
            for one in merged.together
        ],
    }


def conflicts_json(conflicts: Iterable[Conflict]) -> Json:
    """Return conflicts in the shape of ``conflicts --json``."""
    return _whole({"conflicts": [_conflict(one) for one in conflicts]})


def settled_json(settled: Settled) -> Json:
    """Return a conflict that was settled in the shape of ``settle --json``."""
    return _whole({"conflict": _conflict(settled.conflict), "value": settled.value})


def _conflict(conflict: Conflict) -> Json:
    return {
        "kind": conflict.kind,
        "id": conflict.subject,
        "title": conflict.title,
        "field": conflict.field,
        "claims": [
            {"value": claim.value, "person": claim.person, "at": when(claim.at), "entry": claim.entry}
            for claim in conflict.claims
        ],
    }
