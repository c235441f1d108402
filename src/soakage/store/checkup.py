"""What a check of a store found."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

SHOWN = 200  # flaws told of each part; the rest is counted
ENGINE, JOURNAL, CONTENT, TABLES, LEFT = "database", "journal", "content", "tables", "left over"
REMEDIES = {
    ENGINE: "Keep the file as it is, and bring a backup back with 'soakage restore'.",
    JOURNAL: "Bring a backup back with 'soakage restore', then merge what other stores have got since.",
    CONTENT: "Bring a backup back with 'soakage restore', or merge a bundle that still has it.",
    TABLES: "Nothing is lost: 'soakage check --repair' makes these tables anew from the journal.",
    LEFT: "Nothing is missing. It stays, in case an entry that names it is brought by a merge.",
}


@dataclass(frozen=True, slots=True)
class Flaw:
    """One thing found.

    Parameters
    ----------
    part : str
        database, journal, content, tables or left over.
    place : str
        Where: a table and a key, or a chain and the number on it.
    problem : str
        What is wrong, one sentence.
    """

    part: str
    place: str
    problem: str


@dataclass(slots=True)
class Checkup:
    """What a check found, and how much it went through.

    Parameters
    ----------
    flaws : list of Flaw
        At most `SHOWN` of each part.
    found : Counter
        All flaws, by part.
    entries, contents, subjects : int
        How many were looked at.
    gaps : int
        Entries of other stores whose predecessor was not brought along; no flaw.
    forks : int
        Places on a chain with more than one entry: a copy of a store was written to; no flaw.
    conflicts : list of str
        What two people changed without seeing each other and nobody settled yet; no flaw.
    """

    flaws: list[Flaw] = field(default_factory=list)
    found: Counter[str] = field(default_factory=Counter)
    entries: int = 0
    contents: int = 0
    subjects: int = 0
    gaps: int = 0
    forks: int = 0
    conflicts: list[str] = field(default_factory=list)

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.found

    def add(self, part: str, place: str, problem: str) -> None:
        """Note one flaw."""
        self.found[part] += 1
        if self.found[part] <= SHOWN:
            self.flaws.append(Flaw(part, place, problem))


def checkup_json(checkup: Checkup) -> dict[str, Any]:
    """Return a check as plain values, in the words of the command line."""
    return {
        "whole": checkup.whole,
        "entries": checkup.entries,
        "contents": checkup.contents,
        "subjects": checkup.subjects,
        "gaps": checkup.gaps,
        "forks": checkup.forks,
        "conflicts": checkup.conflicts,
        "found": dict(checkup.found),
        "flaws": [
            {
                "part": flaw.part,
                "place": flaw.place,
                "problem": flaw.problem,
                "remedy": REMEDIES[flaw.part],
            }
            for flaw in checkup.flaws
        ],
    }
