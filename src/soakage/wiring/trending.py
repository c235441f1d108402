"""Trends and due dates for the doors: the clock and the criteria are picked here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date

from soakage.app.due import WorkItem, work_list
from soakage.app.lookup import the_asset
from soakage.app.ports import Memory
from soakage.app.remember import QUANTITIES, Remembered, remember
from soakage.errors import UsageError
from soakage.quantities import lookup
from soakage.standards.library import library


def today() -> date:
    """Return the day by the clock of this machine."""
    return date.today()  # noqa: DTZ011 - the local calendar is what an engineer plans by


def trends_of(
    memory: Memory,
    asset: str,
    site: str | None = None,
    *,
    section: str | None = None,
    quantities: Sequence[str] = (),
    with_peers: bool = True,
    on: date | None = None,
) -> Remembered:
    """Return the trends of the asset a person named.

    Parameters
    ----------
    memory : Memory
        The register.
    asset, site : str
        As typed.
    section : str, optional
        Only this one.
    quantities : sequence of str
        Ids; the usual ones unless given.
    with_peers : bool
        Compare with assets of its kind.
    on : date, optional
        Told from this day; today unless given.

    Raises
    ------
    UsageError
        If there is no such asset, or several, or no such quantity or section.
    """
    meant = the_asset(memory, asset, site)
    for name in quantities:
        lookup(name)
    found = remember(
        memory,
        meant,
        library(),
        on or today(),
        quantities=quantities or QUANTITIES,
        section=section,
        with_peers=with_peers,
    )
    if section is not None and not found.points:
        sections = sorted({test.section for test in memory.history(meant.id)})
        raise UsageError(
            f"{section}: no such section with dated readings. There are: {', '.join(sections) or 'none'}."
        )
    return found


def outage(
    memory: Memory,
    by: date,
    *,
    site: str | None = None,
    asset_class: str | None = None,
    on: date | None = None,
    progress: Callable[[int], None] | None = None,
) -> tuple[WorkItem, ...]:
    """Return what falls due up to a day, the neediest first.

    Parameters
    ----------
    memory : Memory
        The register.
    by : date
        Last day of the outage.
    site, asset_class : str, optional
        Only these assets.
    on : date, optional
        Told from this day; today unless given.
    progress : callable, optional
        Called with the number of assets looked at.
    """

    def items() -> Iterator[WorkItem]:
        for number, asset in enumerate(memory.register(site=site, asset_class=asset_class), start=1):
            if not asset.values.get("retired"):
                yield from remember(memory, asset, library(), on or today(), with_peers=False).due
            if progress is not None:
                progress(number)

    return work_list(items(), by)
