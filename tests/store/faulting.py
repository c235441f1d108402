"""The works of the fault campaign, done in this process: for faults that leave the process alive."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from faults import works
from faults.aftermath import Found, look, state_of
from faults.campaign import Campaign
from faults.grounds import Databases, Files, Ground, Grounds
from faults.summary import lines_of, summary, table
from faults.works import LATEST, OUT, WORKS

from soakage.app import intake, rejudge
from soakage.store import parcels

__all__ = [
    "LATEST",
    "OUT",
    "ROOT",
    "WORKS",
    "Databases",
    "Files",
    "Ground",
    "Heard",
    "campaign_of",
    "goes_on_to_its_end",
    "lines_of",
    "looked",
    "nothing_lost",
    "small_changes",
    "summary",
    "table",
]
ROOT = Path(__file__).parents[2]
works.FILES = 6
Acks = list[dict[str, Any]]


class Heard:
    """Takes what a work tells; what is acknowledged is written down, and at a mark something may happen.

    Parameters
    ----------
    at : int
        The how-manieth mark of its kind.
    mark : str
        The kind of mark.
    happens : callable
        What happens there.
    """

    def __init__(self, at: int = 0, mark: str = "", happens: Callable[[], None] = lambda: None) -> None:
        self.acks: Acks = []
        self.marks: list[str] = []
        self._at, self._mark, self._happens = at, mark, happens

    def mark(self, where: str) -> None:
        self.marks.append(where)
        if where == self._mark and self.marks.count(where) == self._at:
            self._happens()

    def acknowledge(self, **what: Any) -> None:
        self.acks.append(what)


@pytest.fixture(autouse=True)
def small_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The works make changes small for themselves; here that ends with the test."""
    for module, name in ((intake, "CHUNK"), (rejudge, "MOST"), (parcels, "SUBJECTS")):
        monkeypatch.setattr(module, name, getattr(module, name))


def campaign_of(work: str, grounds: Grounds) -> Campaign:
    return Campaign(WORKS[work], grounds, 1, measured=0)


def looked(campaign: Campaign, ground: Ground, acks: Acks) -> Found:
    before = [{"entries": sorted(campaign.undisturbed.states[0].entries)}]
    return look(campaign.work, ground, before + acks, campaign.undisturbed)


def nothing_lost(campaign: Campaign, ground: Ground, acks: Acks) -> None:
    found = looked(campaign, ground, acks)
    assert (found.lost, found.half) == ([], [])
    assert found.place is not None


def goes_on_to_its_end(campaign: Campaign, ground: Ground, acks: Acks) -> None:
    again = Heard()
    campaign.work.do(ground, again)
    nothing_lost(campaign, ground, acks + again.acks)
    assert state_of(ground) == campaign.undisturbed.states[-1]
