"""Reads the criteria files into frozen values; every entry is checked, every id is unique."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files

from soakage.errors import QuantityError, StandardDataError, UsageError
from soakage.standards.criterion import (
    Criterion,
    Group,
    Reference,
    Standard,
    TemperatureRule,
    Threshold,
    VoltageTable,
)
from soakage.standards.parsing import (
    Table,
    read_criterion,
    read_group,
    read_reference,
    read_temperature_rule,
    read_threshold,
    read_voltage_table,
)


@dataclass(frozen=True, slots=True)
class Library:
    """Everything the criteria files hold, by id, in the order of the files."""

    standards: Mapping[str, Standard] = field(default_factory=dict)
    criteria: Mapping[str, Criterion] = field(default_factory=dict)
    groups: Mapping[str, Group] = field(default_factory=dict)
    temperature_rules: Mapping[str, TemperatureRule] = field(default_factory=dict)
    voltage_tables: Mapping[str, VoltageTable] = field(default_factory=dict)
    thresholds: Mapping[str, Threshold] = field(default_factory=dict)
    references: Mapping[str, Reference] = field(default_factory=dict)
    named: Mapping[str, tuple[Criterion, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Sort the criteria under their ids and groups, once for all records."""
        named: dict[str, tuple[Criterion, ...]] = {}
        for criterion in self.criteria.values():
            for name in {criterion.id, criterion.group}:
                named[name] = (*named.get(name, ()), criterion)
        object.__setattr__(self, "named", named)

    @property
    def digest(self) -> str:
        """Hash over all criteria files: the edition of the data a verdict names."""
        joined = "".join(f"{s.file}:{s.sha256}\n" for s in self.standards.values())
        return hashlib.sha256(joined.encode()).hexdigest()

    def members(self, group_or_id: str) -> tuple[Criterion, ...]:
        """Return the criteria of a group, or the one criterion of that id."""
        found = self.named.get(group_or_id, ())
        if not found:
            raise StandardDataError(f"No criterion or group is called {group_or_id!r}.")
        return found


_FAULTS = (
    QuantityError, StandardDataError, UsageError, KeyError, ValueError, TypeError, AttributeError, IndexError,
)  # fmt: skip
_READERS = {
    "criterion": ("criteria", read_criterion),
    "group": ("groups", read_group),
    "temperature_rule": ("temperature_rules", read_temperature_rule),
    "voltage_table": ("voltage_tables", read_voltage_table),
    "threshold": ("thresholds", read_threshold),
    "reference": ("references", read_reference),
}


def read_library(documents: Iterable[tuple[str, bytes]]) -> Library:
    """Build a library from criteria files given as (name, bytes).

    Parameters
    ----------
    documents : iterable of (str, bytes)
        Name and content of each TOML file.

    Returns
    -------
    Library
        All entries.

    Raises
    ------
    StandardDataError
        If a file is no TOML, an entry lacks or misstates something, or an id stands twice.
    """
    shelves: dict[str, dict[str, object]] = {shelf: {} for shelf, _ in _READERS.values()}
    standards: dict[str, Standard] = {}
    owners: dict[str, str] = {}
    for name, content in documents:
        document = _document(name, content)
        standard = _standard(name, content, document)
        if standard.id in standards:
            raise StandardDataError(
                f"{name}: standard {standard.id!r} stands in {standards[standard.id].file} already; "
                "one file holds one edition."
            )
        standards[standard.id] = standard
        unknown = set(document) - {"standard", *_READERS}
        if unknown:
            raise StandardDataError(f"{name}: unknown tables {sorted(unknown)}; known: {sorted(_READERS)}.")
        for table_name, (shelf, read) in _READERS.items():
            entries = document.get(table_name, [])
            if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
                raise StandardDataError(
                    f"{name}: write [[{table_name}]] with two brackets: it is a list of tables."
                )
            for table in entries:
                entry_id = str(table.get("id", "?"))
                try:
                    entry = read(table, standard)
                except _FAULTS as problem:
                    said = (
                        f"{problem.args[0]} is missing; give it."
                        if isinstance(problem, KeyError)
                        else problem
                    )
                    raise StandardDataError(f"{name}: [[{table_name}]] {entry_id}: {said}") from problem
                if entry_id in owners:
                    raise StandardDataError(
                        f"{name}: id {entry_id!r} stands in {owners[entry_id]} already; ids are unique."
                    )
                owners[entry_id] = name
                shelves[shelf][entry_id] = entry
    library = Library(standards=standards)
    return replace(library, **shelves)  # type: ignore[arg-type]


def _document(name: str, content: bytes) -> Table:
    try:
        return tomllib.loads(content.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise StandardDataError(f"{name}: not a readable TOML file: {problem}") from problem


def _standard(name: str, content: bytes, document: Table) -> Standard:
    table = document.get("standard")
    if not isinstance(table, dict) or not {"id", "name", "edition", "title"} <= set(table):
        raise StandardDataError(f"{name}: a [standard] table with id, name, edition and title is needed.")
    return Standard(
        id=str(table["id"]),
        name=str(table["name"]),
        edition=str(table["edition"]),
        title=str(table["title"]),
        file=name,
        sha256=hashlib.sha256(content).hexdigest(),
    )


@cache
def library() -> Library:
    """Return the library of the criteria files that come with Soakage."""
    folder = files("soakage.standards") / "data"
    documents = sorted(
        (item.name, item.read_bytes()) for item in folder.iterdir() if item.name.endswith(".toml")
    )
    return read_library(documents)
