"""The works that are killed: import, merge, bundle, migration, judging again; small, with many changes each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

from faults.grounds import Ground
from faults.software import LATER, later_software, later_steps
from faults.telling import PERSON, STORE, Tell, WatchedStore
from soakage.app import intake, rejudge
from soakage.app.exchange import Scope
from soakage.app.intake import Incoming, Intake, take_in
from soakage.app.rejudge import Rejudged
from soakage.app.rules import Rules, default_rules
from soakage.demo.history import history_files
from soakage.importers.reading import read_bytes
from soakage.model.stated import digest
from soakage.store import parcels
from soakage.store.address import address
from soakage.store.backup import back_up
from soakage.store.bundle import Head, save_bundle
from soakage.store.holding import holdings
from soakage.store.memory import StoreMemory
from soakage.store.merging import merge
from soakage.store.parcels import parcels as parcels_of
from soakage.store.store import Store
from soakage.store.unbundle import BundleReader
from soakage.wiring import rules

ASSETS = ("conveyor-3-motor", "hoist-drive-armature", "works-cable-1")
FILES = 14  # of invented history: sections of one visit among them
OTHERS = "e" * 32  # id of the store that a bundle comes from
_FILES_A_CHANGE, _TESTS_A_CHANGE, _SUBJECTS_A_PARCEL = 2, 1, 4  # small: many changes in a short work


@dataclass(frozen=True, slots=True)
class Work:
    """A work: what is there before it, and what it does.

    Parameters
    ----------
    name : str
        On the command line and in the results.
    prepare : callable
        Fills a ground.
    do : callable
        Does it there, and tells.
    files : str
        Folder below the ground in which it writes files; empty where it writes none.
    """

    name: str
    prepare: Callable[[Ground], None]
    do: Callable[[Ground, Tell], None]
    files: str = ""


class Silent:
    """Nobody is told."""

    def mark(self, where: str) -> None:
        """Say nothing."""

    def acknowledge(self, **what: object) -> None:
        """Say nothing."""


@cache
def _texts() -> dict[str, str]:
    chosen = {
        name: text for name, text in history_files().items() if any(f"/{asset}/" in name for asset in ASSETS)
    }
    return dict(list(chosen.items())[:: max(1, len(chosen) // FILES)][:FILES])


def _read(names: Iterable[str]) -> Iterator[Incoming]:
    for name in names:
        data = _texts()[name].encode()
        yield Incoming(name, data, read_bytes(data, name))


def _filled(store: Store, names: Iterable[str]) -> None:
    with store:
        take_in(StoreMemory(store, PERSON), _read(names), default_rules())


def _fill(ground: Ground) -> None:
    _filled(WatchedStore(address(ground.address), Silent()), _texts())


# -------------------------------------------------------------------------------------------------- import
def import_(ground: Ground, tell: Tell) -> None:
    """Import files into a store that does not exist yet, two in a change."""
    intake.CHUNK = _FILES_A_CHANGE
    store = WatchedStore(address(ground.address), tell)
    outcome = Intake()
    told = 0

    def kept(done: int) -> None:
        nonlocal told
        tests = [
            [test.test, test.status, test.sentence]
            for file in outcome.files[told:done]
            for test in file.tests
            if not test.known
        ]
        told = done
        store.acknowledge(tests=tests)

    with store:
        take_in(StoreMemory(store, PERSON), _read(_texts()), default_rules(), progress=kept, outcome=outcome)


# --------------------------------------------------------------------------------------------------- merge
_BUNDLE = "other.soakage"


def _prepare_merge(ground: Ground) -> None:
    """Fill half a store here, and another one whose bundle overlaps with it."""
    names = list(_texts())
    _filled(WatchedStore(address(ground.address), Silent()), names[: FILES // 3])
    place = ground.folder / "other.sqlite"
    other = Store(address(str(place)), now=lambda: 0, name=lambda: OTHERS)
    parcels.SUBJECTS = _SUBJECTS_A_PARCEL
    with other:
        take_in(StoreMemory(other, PERSON), _read(names[FILES // 4 :]), default_rules())
        _save(other, ground.folder / _BUNDLE, Scope())
    for file in ground.folder.glob("other.sqlite*"):
        file.unlink()


def _save(store: Store, path: Path, scope: Scope) -> None:
    with store.reading() as connection:
        head = Head(store=STORE, made=0, person=PERSON, part="", holds=holdings(connection))
        save_bundle(path, head, parcels_of(connection, scope))


def merge_(ground: Ground, tell: Tell) -> None:
    """Take in a bundle, four subjects in a change."""
    store = WatchedStore(address(ground.address), tell)
    with store, (ground.folder / _BUNDLE).open("rb") as file:
        reader = BundleReader(file, _BUNDLE)
        merge(store, PERSON, reader.parcels(), source=OTHERS, progress=lambda _: store.acknowledge())
        store.acknowledge()


# -------------------------------------------------------------------------------------------------- bundle
OUT, LATEST, BACKUP = "out", "latest.soakage", "backup.sqlite"


def _prepare_bundle(ground: Ground) -> None:
    _fill(ground)
    (ground.folder / OUT).mkdir()


def bundle(ground: Ground, tell: Tell) -> None:
    """Write a bundle of each asset, each time one of the whole in place of the last, and then a backup."""
    parcels.SUBJECTS = _SUBJECTS_A_PARCEL
    store = WatchedStore(address(ground.address), tell)
    out = ground.folder / OUT
    with store:
        memory = StoreMemory(store, PERSON)
        for asset in memory.register():
            for name, scope in ((f"{asset.id}.soakage", Scope(assets=(asset.id,))), (LATEST, Scope())):
                tell.mark("a bundle is written")
                _save(store, out / name, scope)
                tell.acknowledge(files={name: digest((out / name).read_bytes())})
        tell.mark("a backup is written")
        back_up(store, out / BACKUP, PERSON, force=True)
        tell.acknowledge(files={BACKUP: ""})


# ----------------------------------------------------------------------------------------------- migration
STEPS = "steps"


def _prepare_migration(ground: Ground) -> None:
    _fill(ground)
    later_steps(ground.folder / STEPS)


def migration(ground: Ground, tell: Tell) -> None:
    """Open the store with a later software."""
    with later_software(ground.folder / STEPS):
        store = WatchedStore(address(ground.address), tell)
        tell.mark("the store is brought up to date")
        with store:
            store.acknowledge(version=LATER)


# ------------------------------------------------------------------------------------------- judging again
@cache
def _other_rules() -> Rules:
    return rules(limits=("3 GOhm",))


def rejudge_(ground: Ground, tell: Tell) -> None:
    """Judge all of the store again under other rules, one visit in a change."""
    rejudge.MOST = _TESTS_A_CHANGE
    store = WatchedStore(address(ground.address), tell)
    with store:
        memory = StoreMemory(store, PERSON)
        groups = [memory.tests(assets=[asset.id]) for asset in memory.register()]
        for item in rejudge.rejudge(memory, groups, _other_rules(), reason="Other limits."):
            if item.kept:
                store.acknowledge(tests=[_told(item)])


def _told(item: Rejudged) -> list[str]:
    return [item.test, item.after.status, item.after.sentence]


WORKS = {
    work.name: work
    for work in (
        Work("import", lambda _: None, import_),
        Work("merge", _prepare_merge, merge_),
        Work("bundle", _prepare_bundle, bundle, OUT),
        Work("migration", _prepare_migration, migration),
        Work("rejudge", _fill, rejudge_),
    )
}


def doing(work: Work, ground: Ground) -> Callable[[Tell], None]:
    """Return a work on a ground, ready to be done."""
    return partial(work.do, ground)
