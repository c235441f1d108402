"""Exchange as text: what came of a merge, what is in conflict, how it was settled."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from soakage.app.exchange import Conflict, Merged
from soakage.app.register import SECTION
from soakage.app.settling import ONLY_TAKEN, Settled
from soakage.app.trail_json import when
from soakage.cli.plain_text import value_text
from soakage.cli.tables import table
from soakage.cli.wrapping import wrapped

_SHOWN = 20  # new assets and visits that are named


def merged_text(file: str, store: str, person: str, made: int, merged: Merged) -> Iterator[str]:
    """Yield what came of one bundle.

    Parameters
    ----------
    file : str
        Its name.
    store, person : str
        Where and by whom it was made.
    made : int
        When, in microseconds since 1970 UTC.
    merged : Merged
        What came of it.
    """
    yield wrapped(f"{file}: from store {store[:12]}, made by {person}, {when(made)}")
    if merged.dry_run:
        yield "  A dry run: nothing was kept. It would give:"
    if not merged.entries:
        yield "  Nothing in it is new here."
        return
    counts = ", ".join(f"{what} {number}" for what, number in sorted(merged.counts.items()))
    yield wrapped(f"New: {counts}. Known already: {merged.known} entries.", "  ")
    for _, title in merged.assets[:_SHOWN]:
        yield f"  New asset: {title}"
    if len(merged.assets) > _SHOWN:
        yield f"  and {len(merged.assets) - _SHOWN} more assets"
    if merged.conflicts:
        yield wrapped("In conflict, both values are kept. See 'soakage conflicts':", "  ")
        yield from conflicts_text(merged.conflicts)
    if merged.together:
        yield wrapped("Sections of one visit came together here that were judged apart:", "  ")
        for one in merged.together[:_SHOWN]:
            yield wrapped(f"{one.title}. Judge it again: soakage rejudge {one.asset}", "  ")
        if len(merged.together) > _SHOWN:
            yield f"  and {len(merged.together) - _SHOWN} more visits: soakage rejudge --all"


def conflicts_text(conflicts: Iterable[Conflict]) -> Iterator[str]:
    """Yield conflicts, each with its values and the command that settles it."""
    for one in conflicts:
        yield wrapped(f"{one.title} ({one.kind} {one.subject[:12]}): {one.field.removeprefix(SECTION)}", "  ")
        rows = [
            (number, claim_text(one, claim.value), claim.person, when(claim.at))
            for number, claim in enumerate(one.claims, start=1)
        ]
        yield from table(("", "value", "by", "when"), rows, "    ")
        another = " or VALUE" if one.kind != "test" else ""
        yield f"    soakage settle {one.subject[:12]} {shlex.quote(one.field)} --take N{another}"


def claim_text(conflict: Conflict, value: object) -> str:
    """Return a value of a conflict in words."""
    if value is None:
        return "not stated"
    if conflict.kind == "test" and conflict.field in ONLY_TAKEN:
        if conflict.field == "content":
            return f"revision {str(value)[:12]}"
        return "withdrawn" if value else "not withdrawn"
    return "there" if value == {} else value_text(conflict.field, value)


def settled_text(settled: Settled) -> Iterator[str]:
    """Yield what stands now, and what follows."""
    one = settled.conflict
    yield wrapped(f"{one.title}: {one.field} is {claim_text(one, settled.value)} now.")
    yield wrapped("The other values stay in the trail.")
    if one.kind in ("asset", "instrument", "test"):
        yield wrapped(
            "Verdicts stand as they were given until the tests are judged again with 'soakage rejudge'."
        )


def far_text(done: Mapping[str, Any], *, dry_run: bool, there: bool) -> Iterator[str]:
    """Yield what came of an exchange over the network.

    Parameters
    ----------
    done : mapping
        One of ``files`` in the shape of ``merge --json``.
    dry_run : bool
        Whether nothing was kept.
    there : bool
        True where the other store took it.
    """
    where = "there" if there else "here"
    yield wrapped(f"{done['file']}: store {done['store'][:12]}")
    if dry_run:
        yield "  A dry run: nothing was kept. It would give:"
    if not done["entries"]:
        yield f"  Nothing is new {where}."
        return
    counts = ", ".join(f"{what} {number}" for what, number in sorted(done["new"].items()))
    yield wrapped(f"New {where}: {counts}. Known already: {done['known']} entries.", "  ")
    for one in done["assets"][:_SHOWN]:
        yield f"  New asset: {one['asset']}"
    if len(done["assets"]) > _SHOWN:
        yield f"  and {len(done['assets']) - _SHOWN} more assets"
    for one in done["conflicts"][:_SHOWN]:
        yield wrapped(
            f"In conflict, both values are kept: {one['title']}, {one['field'].removeprefix(SECTION)}.", "  "
        )
    if done["conflicts"]:
        yield f"  See 'soakage conflicts'{' there' if there else ''}."
    for one in done["rejudge"][:_SHOWN]:
        yield wrapped(f"Sections of one visit came together: {one['title']}. Judge it again {where}.", "  ")
