"""A check of the store as text."""

from __future__ import annotations

from collections.abc import Iterator

from soakage.cli.wrapping import counted, wrapped
from soakage.store.checkup import REMEDIES, Checkup


def checkup_text(checkup: Checkup, where: str, *, missing: bool) -> Iterator[str]:
    """Yield the lines that tell what a check found and what to do."""
    if missing:
        yield wrapped(f"There is no store at {where} yet: nothing to check.")
        return
    seen = f"{checkup.entries} entries, {checkup.contents} contents, {checkup.subjects} things"
    if checkup.whole:
        yield wrapped(f"The store is whole: {seen}. {where}")
    else:
        yield wrapped(
            f"Something was found: {counted(sum(checkup.found.values()), 'flaw')} in {seen}. {where}"
        )
    for part, remedy in REMEDIES.items():
        if not checkup.found[part]:
            continue
        yield ""
        yield f"{part.capitalize()}: {checkup.found[part]}"
        flaws = [flaw for flaw in checkup.flaws if flaw.part == part]
        for flaw in flaws:
            yield wrapped(f"{flaw.place}: {flaw.problem}", indent="    ", first="  - ")
        if checkup.found[part] > len(flaws):
            yield f"  - and {checkup.found[part] - len(flaws)} more"
        yield wrapped(remedy, indent="  ", first="  ")
    if checkup.conflicts:
        yield ""
        yield wrapped(
            f"For information: {len(checkup.conflicts)} fields were changed by two people who did not see each "
            "other. Both values are kept until one is stated again:"
        )
        for conflict in checkup.conflicts:
            yield wrapped(conflict, indent="    ", first="  - ")
    if checkup.gaps:
        yield wrapped(
            f"For information: at {checkup.gaps} places of other stores' chains the entry before was not brought along."
        )
    if checkup.forks:
        yield wrapped(
            f"For information: {checkup.forks} places of a chain hold two entries: a copy of a store was written to. "
            "Nothing is lost by it."
        )
