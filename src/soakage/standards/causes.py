"""Probable causes as data: the evidence each needs, what speaks against it, what would confirm it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from soakage.errors import StandardDataError
from soakage.standards.criterion import Verified


@dataclass(frozen=True, slots=True)
class Evidence:
    """One sign: a feature in a range, its weight (negative: against), and its sentence.

    The range is `start` <= value, value < `below`, value <= `to`; an end that is None is open.
    """

    feature: str
    start: float | None
    below: float | None
    to: float | None
    weight: float
    text: str

    def holds(self, value: float) -> bool:
        """Return whether a feature's value lies in the range."""
        return not (
            (self.start is not None and value < self.start)
            or (self.below is not None and value >= self.below)
            or (self.to is not None and value > self.to)
        )


@dataclass(frozen=True, slots=True)
class Cause:
    """A probable cause; it is thought of only where one of the features it `needs` is there."""

    id: str
    name: str
    description: str
    confirm_by: str
    next_test: str
    source: str
    verified: Verified
    needs: tuple[str, ...]
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Ranked:
    """A cause with the weight of what speaks for and against it.

    Parameters
    ----------
    cause : Cause
        The cause.
    weight : float
        Sum of the weights of the evidence found.
    pro, con : tuple of str
        Sentences for and against.
    """

    cause: Cause
    weight: float
    pro: tuple[str, ...]
    con: tuple[str, ...]


LEAST_WEIGHT = 2.0  # what one strong sign, or two ordinary ones, amount to; below it nothing stands out


def rank(
    causes: Iterable[Cause], features: Mapping[str, float], texts: Mapping[str, str]
) -> tuple[Ranked, ...]:
    """Rank causes by the evidence the features give; empty where none stands out.

    Parameters
    ----------
    causes : iterable of Cause
        Known causes.
    features : mapping of str to float
        Features of a record, those that could be had.
    texts : mapping of str to str
        The same as text with units, for the sentences.

    Returns
    -------
    tuple of Ranked
        Heaviest first, each of at least the least weight.
    """
    ranked = []
    for cause in causes:
        if not any(features.get(need) for need in cause.needs):
            continue
        found = [e for e in cause.evidence if e.feature in features and e.holds(features[e.feature])]
        weight = sum(e.weight for e in found)
        if weight >= LEAST_WEIGHT:
            said = [(e.weight, e.text.replace("{value}", texts.get(e.feature, ""))) for e in found]
            ranked.append(
                Ranked(
                    cause,
                    weight,
                    tuple(text for w, text in said if w > 0),
                    tuple(text for w, text in said if w < 0),
                )
            )
    return tuple(sorted(ranked, key=lambda r: (-r.weight, r.cause.id)))


def read_cause(name: str, content: bytes) -> Cause:
    """Read one cause file.

    Raises
    ------
    StandardDataError
        If the file is no TOML or lacks something; the message names it.
    """
    try:
        document = tomllib.loads(content.decode("utf-8"))
        head = document["cause"]
        return Cause(
            id=str(head["id"]),
            name=str(head["name"]),
            description=str(head["description"]),
            confirm_by=str(head["confirm_by"]),
            next_test=str(head["next_test"]),
            source=str(head["source"]),
            verified=Verified(head["verified"]),
            needs=tuple(head["needs"]),
            evidence=tuple(
                Evidence(
                    str(entry["feature"]),
                    entry.get("from"),
                    entry.get("below"),
                    entry.get("to"),
                    float(entry["weight"]),
                    str(entry["text"]),
                )
                for entry in document["evidence"]
            ),
        )
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, ValueError, TypeError) as problem:
        raise StandardDataError(f"{name}: {type(problem).__name__}: {problem}") from problem


@cache
def causes() -> tuple[Cause, ...]:
    """Return the causes that come with Soakage, by id."""
    folder = files("soakage.standards") / "data" / "causes"
    items = sorted((item.name, item.read_bytes()) for item in folder.iterdir() if item.name.endswith(".toml"))
    return tuple(read_cause(name, content) for name, content in items)
