"""History judged under another rule set to see what would change: nothing is kept but the answer, for a while."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

from soakage.app.rejudge import rejudge
from soakage.app.rules import Rules
from soakage.model.verdict import Status
from soakage.store.memory import StoreMemory
from soakage.web.jobs import Job
from soakage.wiring.rejudging import Choice, chosen

_MOST = 20


@dataclass(frozen=True, slots=True)
class Change:
    """A test whose verdict would be another."""

    test: str
    asset: str
    section: str
    day: str
    before: str
    after: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Trial:
    """What judging history by another rule set would change."""

    title: str
    judged: int
    changes: tuple[Change, ...]


class Trials:
    """The last trials of one server."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Trial] = OrderedDict()
        self._lock = Lock()

    def get(self, key: str) -> Trial | None:
        """Return a trial that is still remembered."""
        with self._lock:
            return self._kept.get(key)

    def keep(self, key: str, trial: Trial) -> None:
        """Remember a trial; the oldest is forgotten."""
        with self._lock:
            self._kept[key] = trial
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)


def tried(memory: StoreMemory, rules: Rules, choice: Choice, job: Job) -> Trial:
    """Judge history by other rules, keep nothing, and say which verdicts would be others.

    Parameters
    ----------
    memory : StoreMemory
        The store.
    rules : Rules
        What would judge.
    choice : Choice
        Which tests; all unless narrowed.
    job : Job
        Told how far it is; may be cancelled.
    """
    parts = chosen(memory, choice, everything=True)
    judged, changes = 0, []

    def step(done: int, of: int) -> None:
        job.tell(f"Judging by {rules.profile.title}: {done} of {of} assets done", done, of)

    for told in rejudge(memory, parts.parts(step), rules, keep=False):
        judged += 1
        before = told.before.status if told.before is not None else str(Status.NOT_JUDGED)
        if told.after.status != before:
            changes.append(
                Change(
                    told.test, told.asset, told.section, told.day or "", before, told.after.status, told.why
                )
            )
    return Trial(rules.profile.title, judged, tuple(changes))
