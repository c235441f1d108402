"""Profiles: which criteria judge which asset, which decide, and how far each may go.

A profile is data (``data/profiles/*.toml`` or a user's file).  It may include another, leave out or
override criteria by id with a reason, add criteria, demand keys, and carry wording for reports.
"""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from soakage.errors import SoakageError, StandardDataError
from soakage.model.keys import KEYS, PURPOSES
from soakage.model.verdict import Status
from soakage.quantities import lookup
from soakage.standards.criterion import (
    Condition,
    Criterion,
    Kind,
    Standard,
    TemperatureRule,
    Verified,
    VoltageTable,
)
from soakage.standards.library import Library, library
from soakage.standards.parsing import Table, number, read_conditions, read_criterion
from soakage.units import parse

Facts = Mapping[str, object]
Loader = Callable[[str], bytes]


@dataclass(frozen=True, slots=True)
class Use:
    """Criteria (groups or ids) used for what `applies`.

    `decides` lists methods, ``*`` for all; `shown` criteria stand beside the others and judge nothing.
    """

    criteria: tuple[str, ...]
    applies: tuple[Condition, ...]
    decides: tuple[str, ...]
    purposes: tuple[str, ...]
    cap: Status | None
    reason: str
    shown: bool = False


@dataclass(frozen=True, slots=True)
class TemperatureUse:
    """Temperature rule and base [degC] used for what `applies`."""

    rule: str
    base: float
    applies: tuple[Condition, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class VoltageUse:
    """Tables of test voltages used for what `applies`."""

    tables: tuple[str, ...]
    overvoltage: tuple[str, ...]
    applies: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One criterion left out, overridden or retired, with the reason."""

    criterion: str
    reason: str
    kind: str
    limit: str = ""
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """A rule set; `guarded` decides with a guard band wherever an uncertainty is known."""

    id: str
    title: str
    description: str
    sha256: str
    uses: tuple[Use, ...]
    temperatures: tuple[TemperatureUse, ...]
    voltages: tuple[VoltageUse, ...]
    changes: tuple[Change, ...] = ()
    criteria: Mapping[str, Criterion] = field(default_factory=lambda: MappingProxyType({}))
    demanded: tuple[str, ...] = ()
    wording: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    guarded: bool = False

    def members(self, reference: str, library: Library, day: date | None) -> tuple[Criterion, ...]:
        """Return the criteria of a group or id, changes of this profile applied for a test of that day."""
        if not (self.criteria or self.changes):
            return library.named.get(reference, ())
        own = tuple(c for c in self.criteria.values() if reference in (c.group, c.id))
        dropped = {
            change.criterion
            for change in self.changes
            if change.kind == "left out"
            or (change.kind == "retired" and change.day is not None and day is not None and day >= change.day)
        }
        others = library.named.get(reference, ())
        # an own criterion stands before those of its group, and in place of one of its id
        found = (*own, *(c for c in others if c.id not in self.criteria))
        return tuple(self._overridden(c) for c in found if not {c.id, c.group} & dropped)

    def _overridden(self, criterion: Criterion) -> Criterion:
        for change in self.changes:
            if change.kind == "overridden" and change.criterion == criterion.id:
                limit = parse(change.limit, lookup(criterion.quantity).dimension).value
                return replace(
                    criterion,
                    kind=Kind.CONSTANT,
                    limit=limit,
                    verified=Verified.USER,
                    notes=f"Overridden by profile {self.id}: {change.reason}",
                )
        return criterion

    def uses_for(self, facts: Facts) -> tuple[Use, ...]:
        """Return the uses that apply to these facts; a condition on a missing key is left to the judge."""
        purpose = facts.get("purpose")
        return tuple(
            use
            for use in self.uses
            if all(c.holds(facts.get(c.key)) is not False for c in use.applies)
            and (not use.purposes or purpose in use.purposes)
        )

    def temperature_for(self, facts: Facts) -> TemperatureUse | None:
        """Return the temperature rule for these facts, or None where none applies or a key is missing."""
        for use in self.temperatures:
            held = [c.holds(facts.get(c.key)) for c in use.applies]
            if all(held):
                return use
        return None

    def voltage_tables(self, facts: Facts, role: str, library: Library) -> tuple[VoltageTable, ...]:
        """Return the tables of test voltages for these facts and role."""
        found = []
        for use in self.voltages:
            if all(c.holds(facts.get(c.key)) for c in use.applies):
                names = use.overvoltage if role == "overvoltage" else use.tables
                found += [library.voltage_tables[name] for name in names]
        return tuple(found)


_TABLES = {"profile", "temperature", "voltage", "use", "criterion", "override", "leave_out", "retire",
           "demand", "report"}  # fmt: skip
WORDING = {"company", "heading", "note"}


def read_profile(name: str, content: bytes, library: Library, include: Loader) -> Profile:
    """Read a profile file.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    content : bytes
        The TOML file.
    library : Library
        Criteria the profile may name.
    include : callable
        Returns the bytes of an included profile by its id.

    Returns
    -------
    Profile
        With the included profile's rules after its own.

    Raises
    ------
    StandardDataError
        If the file is wrong: the message names entry and remedy.
    """
    try:
        document: Table = tomllib.loads(content.decode("utf-8"))
        return _profile(name, content, document, library, include)
    except KeyError as problem:
        raise StandardDataError(f"{name}: {problem.args[0]!r} is missing; give it.") from problem
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise StandardDataError(f"{name}: not a readable TOML file: {problem}") from problem
    except (SoakageError, ValueError, TypeError, AttributeError) as problem:
        said = str(problem)
        raise StandardDataError(said if said.startswith(name) else f"{name}: {said}") from problem


def _profile(name: str, content: bytes, document: Table, library: Library, include: Loader) -> Profile:
    unknown = set(document) - _TABLES
    if unknown:
        raise StandardDataError(f"{name}: unknown tables {sorted(unknown)}; known: {sorted(_TABLES)}.")
    head = document["profile"]
    standard = Standard(f"profile.{head['id']}", head["title"], "", head["title"], name, _sha(content))
    own = {c.id: c for c in (read_criterion(t, standard) for t in document.get("criterion", []))}
    changes = [
        *(_change(t, "overridden") for t in document.get("override", [])),
        *(_change(t, "left out") for t in document.get("leave_out", [])),
        *(_change(t, "retired") for t in document.get("retire", [])),
    ]
    _known(document.get("report", {}), WORDING)
    for key in document.get("demand", {}).get("keys", []):
        _one_of(key, KEYS, "demand")
    profile = Profile(
        id=str(head["id"]),
        title=str(head["title"]),
        description=str(head.get("description", "")),
        sha256=_sha(content),
        uses=tuple(_use(t) for t in document.get("use", [])),
        temperatures=tuple(
            _temperature(t, library.temperature_rules) for t in document.get("temperature", [])
        ),
        voltages=tuple(_voltage(t, library.voltage_tables) for t in document.get("voltage", [])),
        changes=tuple(changes),
        criteria=own,
        demanded=tuple(document.get("demand", {}).get("keys", [])),
        wording={k: str(v) for k, v in document.get("report", {}).items()},
        guarded=bool(head.get("guard_band", False)),
    )
    if "include" in head:
        profile = _merged(
            profile, read_profile(str(head["include"]), include(head["include"]), library, include)
        )
    _check(name, profile, library)
    return profile


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


_CHANGE_KEYS = {"overridden": "limit", "left out": "", "retired": "from"}


def _change(table: Table, kind: str) -> Change:
    _known(table, {"criterion", "reason", _CHANGE_KEYS[kind]} - {""})
    criterion = str(table["criterion"])
    if not table.get("reason"):
        raise StandardDataError(f"the change of {criterion!r} needs a reason.")
    day = table["from"] if kind == "retired" else None
    if day is not None and (isinstance(day, datetime) or not isinstance(day, date)):
        raise StandardDataError(
            f"retire {criterion!r}: from is {day!r}; a date such as 2026-03-14 is needed."
        )
    limit = str(table["limit"]) if kind == "overridden" else ""
    return Change(criterion, str(table["reason"]), kind, limit, day)


def _known(table: Table, allowed: set[str]) -> None:
    unknown = set(table) - allowed
    if unknown:
        raise StandardDataError(f"unknown keys {sorted(unknown)}; known: {sorted(allowed)}.")


def _one_of(word: object, allowed: Collection[str], key: str) -> None:
    if word not in allowed:
        raise StandardDataError(f"{key} names {word!r}; allowed: {', '.join(allowed)}.")


def _use(table: Table) -> Use:
    _known(table, {"criteria", "applies", "decides", "purposes", "cap", "reason", "shown"})
    for purpose in table.get("purposes", []):
        _one_of(purpose, PURPOSES, "purposes")
    return Use(
        criteria=tuple(table["criteria"]),
        applies=read_conditions(table.get("applies", {})),
        decides=tuple(table.get("decides", [])),
        purposes=tuple(table.get("purposes", [])),
        cap=Status(table["cap"]) if "cap" in table else None,
        reason=str(table.get("reason", "")),
        shown=bool(table.get("shown", False)),
    )


def _temperature(table: Table, rules: Mapping[str, TemperatureRule]) -> TemperatureUse:
    if table["rule"] not in rules:
        raise StandardDataError(f"no temperature rule is called {table['rule']!r}; known: {sorted(rules)}.")
    base = number(table["base"], "temperature") - 273.15
    return TemperatureUse(
        table["rule"], base, read_conditions(table.get("applies", {})), table.get("reason", "")
    )


def _voltage(table: Table, tables: Mapping[str, VoltageTable]) -> VoltageUse:
    use = VoltageUse(
        tuple(table.get("tables", [])),
        tuple(table.get("overvoltage", [])),
        read_conditions(table.get("applies", {})),
    )
    for name in (*use.tables, *use.overvoltage):
        if name not in tables:
            raise StandardDataError(f"no table of test voltages is called {name!r}; known: {sorted(tables)}.")
    return use


def _merged(profile: Profile, base: Profile) -> Profile:
    return replace(
        profile,
        uses=profile.uses + base.uses,
        temperatures=profile.temperatures + base.temperatures,
        voltages=profile.voltages + base.voltages,
        changes=profile.changes + base.changes,
        criteria={**base.criteria, **profile.criteria},
        demanded=tuple(dict.fromkeys(profile.demanded + base.demanded)),
        wording={**base.wording, **profile.wording},
        guarded=profile.guarded or base.guarded,
        sha256=_sha(f"{profile.sha256}{base.sha256}".encode()),
    )


def _check(name: str, profile: Profile, library: Library) -> None:
    """Refuse a profile that names what does not exist."""
    known = {c.id for c in library.criteria.values()} | {c.group for c in library.criteria.values()}
    known |= {c.id for c in profile.criteria.values()} | {c.group for c in profile.criteria.values()}
    named: Sequence[str] = [r for use in profile.uses for r in use.criteria]
    named = [*named, *(change.criterion for change in profile.changes)]
    for reference in named:
        if reference not in known:
            near = difflib.get_close_matches(reference, sorted(known), n=3)
            hint = f" Did you mean: {', '.join(near)}?" if near else ""
            raise StandardDataError(f"{name}: no criterion or group is called {reference!r}.{hint}")
    for change in profile.changes:
        if change.kind == "overridden":
            criterion = {**library.criteria, **profile.criteria}.get(change.criterion)
            if criterion is None:
                members = ", ".join(c.id for c in profile.members(change.criterion, library, None))
                raise StandardDataError(
                    f"{name}: {change.criterion!r} is a group; override one of its criteria: {members}."
                )
            parse(change.limit, lookup(criterion.quantity).dimension)


def embedded_profile(name: str) -> bytes:
    """Return the bytes of a profile that comes with Soakage.

    Raises
    ------
    StandardDataError
        If there is none of this name.
    """
    folder = files("soakage.standards") / "data" / "profiles"
    path = folder / f"{name}.toml"
    if not path.is_file():
        known = sorted(item.name.removesuffix(".toml") for item in folder.iterdir())
        raise StandardDataError(f"No profile is called {name!r}. Known: {', '.join(known)}, or give a file.")
    return path.read_bytes()


@cache
def profile(name: str = "default") -> Profile:
    """Return a profile that comes with Soakage, by its id."""
    return read_profile(f"{name}.toml", embedded_profile(name), library(), embedded_profile)
