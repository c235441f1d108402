"""Figures of earlier tests alike, out of a history whose figures may be newer than those on the disk; pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from soakage.app.evaluate import References
from soakage.app.ports import KnownTest, PastTest
from soakage.app.result import Evaluated

Figures = Mapping[str, float]
ACCEPTANCE = "acceptance"


def figures_now(evaluated: Evaluated, quantities: Iterable[str]) -> dict[str, float]:
    """Return the figures of a result that later tests may be compared with; a bound is none."""
    found = evaluated.quantities
    return {name: found[name].value for name in quantities if name in found and found[name].bound is None}


def figures_before(test: KnownTest, past: Iterable[PastTest], fresh: Mapping[str, Figures]) -> References:
    """Return figures of tests made before one, of the same section by the same method at the same voltage.

    Parameters
    ----------
    test : KnownTest
        The one to be judged.
    past : iterable of PastTest
        The history of its asset, in order of day.
    fresh : mapping of str to mapping
        Figures by id of the test, for those that were judged again just now.

    Returns
    -------
    mapping
        Value by (factory, first or last; quantity): of the first acceptance test, the first test, the last.
    """
    figures: dict[tuple[str, str], float] = {}
    stated, day = test.record.test, test.record.day
    for other in past:
        if day is None or other.day is None or other.id == test.id or other.day >= day.isoformat():
            continue
        way = (other.section, other.stated.get("method"), other.stated.get("test_voltage"))
        if way != (test.section, stated.method, stated.test_voltage):
            continue
        kept = {
            name: figure["value"] for name, figure in other.figures.items() if figure["bound"] in (None, "")
        }
        for quantity, value in fresh.get(other.id, kept).items():
            figures.setdefault(("first", quantity), value)
            figures["last", quantity] = value
            if other.stated.get("purpose") == ACCEPTANCE:
                figures.setdefault(("factory", quantity), value)
    return figures
