"""What stands after a kill, held against what was acknowledged and against an undisturbed run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import inspect, text

from faults.grounds import Ground
from faults.software import LATER, later_software
from faults.telling import PERSON
from faults.works import BACKUP, STEPS, Work
from soakage.app.journal import HERE
from soakage.errors import SoakageError
from soakage.model.stated import content_id, digest
from soakage.store.address import address
from soakage.store.checking import checked
from soakage.store.engine import engine_of
from soakage.store.memory import StoreMemory
from soakage.store.migrating import TABLE
from soakage.store.store import Store
from soakage.store.unbundle import BundleReader

_LOCAL = {
    "setting"
}  # rows that follow from entries of this place: a merge that is repeated notes itself again


@dataclass(frozen=True, slots=True)
class State:
    """All that a store holds, read without anything of ours between.

    Parameters
    ----------
    tables : mapping of str to str
        Hash of the rows of each table.
    entries : frozenset of str
        Hashes of the entries.
    version : str
        Of the schema.
    """

    tables: Mapping[str, str]
    entries: frozenset[str]
    version: str


def state_of(ground: Ground) -> State:
    """Return the state of a store; what is noted of this place only is left out."""
    where = address(ground.address)
    if where.missing:
        return State({}, frozenset(), "")
    engine = engine_of(where, making=False)
    tables: dict[str, str] = {}
    entries: frozenset[str] = frozenset()
    version = ""
    try:
        options = {} if where.path is not None else {"isolation_level": "REPEATABLE READ"}
        with engine.connect().execution_options(**options) as connection, connection.begin():
            for name in sorted(set(inspect(connection).get_table_names()) - _LOCAL):
                rows = [row._mapping for row in connection.execute(text(f'select * from "{name}"'))]  # noqa: S608, SLF001
                rows = [row for row in rows if not str(row.get("store", "")).endswith(HERE)]
                tables[name] = sha256(
                    "\n".join(sorted(repr(tuple(row.items())) for row in rows)).encode()
                ).hexdigest()
                if name == "entry":
                    entries = frozenset(bytes(row["hash"]).hex() for row in rows)
                if name == TABLE and rows:
                    version = str(rows[0]["version_num"])
    finally:
        engine.dispose()
    return State(tables, entries, version)


@dataclass(slots=True)
class Found:
    """What a look after a kill found.

    Parameters
    ----------
    place : int or None
        Which of the states of the undisturbed run it is; None where it is none of them.
    lost : list of str
        What was acknowledged and is not there as it was acknowledged.
    half : list of str
        What is there in part.
    held : int
        How many acknowledged things were looked at.
    """

    place: int | None = None
    lost: list[str] = field(default_factory=list)
    half: list[str] = field(default_factory=list)
    held: int = 0


def look(work: Work, ground: Ground, acks: Iterable[Mapping[str, Any]], undisturbed: Undisturbed) -> Found:
    """Open the store afresh, without any step of repair, and hold it against all that was promised.

    Parameters
    ----------
    work : Work
        What was done.
    ground : Ground
        Where.
    acks : iterable of mapping
        What workers acknowledged there so far.
    undisturbed : Undisturbed
        What an undisturbed run gave.

    Returns
    -------
    Found
    """
    found = Found()
    state = state_of(ground)
    found.place = next((place for place, known in enumerate(undisturbed.states) if known == state), None)
    if found.place is None:
        near = min(undisturbed.states, key=lambda known: len(known.entries ^ state.entries))
        names = [
            name
            for name in {**near.tables, **state.tables}
            if near.tables.get(name) != state.tables.get(name)
        ]
        found.half.append(f"The store is in no state of an undisturbed run: {', '.join(sorted(names))}.")
    tests: list[list[str]] = []
    files: dict[str, str] = {}
    for ack in acks:
        missing = [name for name in ack["entries"] if name not in state.entries] if "entries" in ack else []
        found.held += len(ack.get("entries", ()))
        found.lost += [f"entry {name}" for name in missing if not _of_here(ground, name)]
        tests += ack.get("tests", [])
        files |= ack.get("files", {})
        if "version" in ack:
            found.held += 1
            found.lost += [] if state.version == ack["version"] else [f"schema {ack['version']}"]
    later = later_software(ground.folder / STEPS) if state.version == LATER else nullcontext()
    with later, Store(address(ground.address)) as store:
        if state.version:
            found.half += [f"{flaw.part} {flaw.place}: {flaw.problem}" for flaw in checked(store).flaws]
        found.held += len(tests)
        found.lost += _tests_lost(StoreMemory(store, PERSON), tests)
    if work.files:
        _look_at_files(ground.folder / work.files, files, undisturbed.files, found)
    return found


def _tests_lost(memory: StoreMemory, told: list[list[str]]) -> Iterator[str]:
    """Yield what is wrong with tests as acknowledged: id, status, sentence; the record is hashed anew."""
    if not told:
        return
    names = {test for test, _, _ in told}
    tests = {test.id: test for test in memory.tests(ids=names)}
    given = memory.verdicts(names)
    for name, status, sentence in told:
        test = tests.get(name)
        if test is None:
            yield f"test {name}"
        elif content_id(test.record) != test.content:
            yield f"test {name}: its record is another"
        elif (status, sentence) not in {(one.status, one.sentence) for one in given.get(name, ())}:
            yield f"verdict of test {name}: {status}"


def _of_here(ground: Ground, name: str) -> bool:
    """Whether an entry is one of this place only, and there."""
    engine = engine_of(address(ground.address), making=False)
    try:
        with engine.connect() as connection:
            query = text("select store from entry where hash = :hash")
            row = connection.execute(query, {"hash": bytes.fromhex(name)}).first()
    finally:
        engine.dispose()
    return row is not None and str(row[0]).endswith(HERE)


def _look_at_files(out: Path, told: Mapping[str, str], right: Mapping[str, str], found: Found) -> None:
    """Hold files against those of the undisturbed run: each with its name is whole."""
    there = {path.name: path for path in out.iterdir() if not path.name.startswith(".")}
    found.held += len(told)
    found.lost += [f"file {name}" for name in told if name not in there]
    for name, path in there.items():
        problem = _file_problem(path, right.get(name))
        if problem:
            found.half.append(f"file {name}: {problem}")


def _file_problem(path: Path, right: str | None) -> str:
    if path.name == BACKUP:
        with Store(address(str(path))) as store:
            flaws = checked(store).flaws
        return flaws[0].problem if flaws else ""
    try:
        return "" if bundled(path) == right else "it does not hold what that of an undisturbed run holds"
    except SoakageError as problem:
        return str(problem)


def bundled(path: Path) -> str:
    """Return a hash of all that a bundle holds, read to its end; where its parts begin and end does not count.

    Raises
    ------
    StoreError
        If it is damaged or cut short.
    """
    names: set[str] = set()
    with path.open("rb") as file:
        reader = BundleReader(file, path.name)
        for parcel in reader.parcels():
            names |= {entry.hash for entry in parcel.entries} | {name for name, _ in parcel.blobs}
    return digest(f"{reader.head} {sorted(names)}".encode())


@dataclass(slots=True)
class Undisturbed:
    """What an undisturbed run gives: every state of the store in turn, the files, how long it takes."""

    states: list[State] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)
    seconds: float = 0.0


class Recorder:
    """Notes the state of a store whenever a change of it begins or has ended.

    Parameters
    ----------
    ground : Ground
        Where the store is.
    """

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self.states = [state_of(ground)]

    def mark(self, where: str) -> None:
        """Look at the store."""
        if where != "a change is written and committed":
            self.look()

    def acknowledge(self, **_what: Any) -> None:  # noqa: ANN401
        """Look at the store."""
        self.look()

    def look(self) -> None:
        """Note the state if it is a new one."""
        state = state_of(self._ground)
        if state != self.states[-1]:
            self.states.append(state)
