"""What the Standards pages show: criteria by standard, what each applies to, and the rule sets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from soakage.app.explain import condition_text
from soakage.quantities import lookup
from soakage.standards.criterion import Condition, Criterion, Standard
from soakage.standards.library import Library
from soakage.standards.profile import Profile


@dataclass(frozen=True, slots=True)
class Row:
    """One criterion in the list."""

    id: str
    name: str
    quantity: str
    applies: str
    source: str
    verified: str
    used: bool


@dataclass(frozen=True, slots=True)
class Shelf:
    """One edition of one standard with the criteria taken from it."""

    standard: Standard
    rows: tuple[Row, ...]


def shelves(
    library: Library, profile: Profile, *, text: str = "", asset_class: str = "", used: bool = False
) -> tuple[Shelf, ...]:
    """Return the criteria by edition, those without any left out.

    Parameters
    ----------
    library : Library
        The criteria files.
    profile : Profile
        Tells which are used.
    text : str
        Only where it stands in the name, id, source or quantity.
    asset_class : str
        Only those that may apply to this class.
    used : bool
        Only those the profile uses.

    Returns
    -------
    tuple of Shelf
        In the order of the names of their standards.
    """
    judging = used_by(library, profile)
    found: dict[str, list[Row]] = {}
    for criterion in library.criteria.values():
        row = _row(criterion, criterion.id in judging)
        if text.lower() not in f"{row.name} {row.id} {row.source} {row.quantity}".lower():
            continue
        if (asset_class and not _may_apply(criterion.applies, asset_class)) or (used and not row.used):
            continue
        found.setdefault(criterion.standard.id, []).append(row)
    standards = sorted(
        (library.standards[name] for name in found), key=lambda standard: (standard.name, standard.id)
    )
    return tuple(Shelf(standard, tuple(found[standard.id])) for standard in standards)


def used_by(library: Library, profile: Profile) -> frozenset[str]:
    """Return the ids of the criteria a profile judges or shows by, groups opened."""
    named = {name for use in profile.uses for name in use.criteria}
    members = {
        criterion.id
        for name in named
        for criterion in (
            (library.named.get(name) or ()) if name not in profile.criteria else (profile.criteria[name],)
        )
    }
    return frozenset(named | members)


def _row(criterion: Criterion, used: bool) -> Row:  # noqa: FBT001 - a column of the table
    return Row(
        criterion.id,
        criterion.name,
        lookup(criterion.quantity).name,
        "; ".join(condition_text(condition) for condition in criterion.applies) or "every class",
        criterion.source,
        criterion.verified,
        used,
    )


def _may_apply(applies: tuple[Condition, ...], asset_class: str) -> bool:
    asked = [condition for condition in applies if condition.key == "class"]
    return all(condition.holds(asset_class) is not False for condition in asked)


def profile_lines(shown: Profile, base: Profile) -> Iterator[tuple[str, str, bool]]:
    """Yield the lines of a rule set: what, how, and whether it differs from the default.

    Parameters
    ----------
    shown : Profile
        The rule set.
    base : Profile
        What it is compared with.
    """
    for change in shown.changes:
        new = f" to {change.limit}" if change.limit else ""
        yield f"{change.kind}: {change.criterion}{new}", change.reason, True
    if shown.demanded:
        yield "Keys every record must state", ", ".join(shown.demanded), True
    for rule in shown.temperatures:
        where = "; ".join(map(condition_text, rule.applies)) or "every class"
        yield (
            f"Temperature, {where}",
            f"{rule.rule}, base {rule.base:g} °C. {rule.reason}",
            rule not in base.temperatures,
        )
    for use in shown.uses:
        where = "; ".join(map(condition_text, use.applies)) or "every class"
        how = "shown only" if use.shown else f"decides {', '.join(use.decides)}" if use.decides else "counts"
        cap = f", at most {use.cap}" if use.cap else ""
        yield f"{where}: {', '.join(use.criteria)}", f"{how}{cap}. {use.reason}", use not in base.uses
