"""What two stores hold of each other's chains, said in a few spans; pure.

A store tells the spans of each chain it holds without a gap.  Another store that knows one of the hashes told
along with a span knows that everything before it on that span is held: each entry names the one before it by hash.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Any

from soakage.errors import StoreError


@dataclass(frozen=True, slots=True)
class Span:
    """Entries of a chain without a gap, each linked to the one before it.

    Parameters
    ----------
    first, last : int
        Their numbers.
    marks : tuple of (int, str)
        Hashes of some of them by number, close together at the end, the last one first.
    """

    first: int
    last: int
    marks: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Break:
    """A place where a chain as held begins anew: number and hash there, and those of the entry held before it."""

    number: int
    hash: str
    before: int | None


Holdings = Mapping[str, tuple[Span, ...]]
Ranges = Mapping[str, tuple[tuple[int, int], ...]]


def marked(first: int, last: int) -> list[int]:
    """Return the numbers of a span whose hashes are told: the last, then ever wider apart, the first."""
    numbers, step = [], 1
    at = last
    while at > first:
        numbers.append(at)
        at -= step
        step *= 2
    return [*numbers, first]


def spans_of(breaks: Sequence[Break], last: int) -> tuple[tuple[int, int], ...]:
    """Return first and last number of each span of one chain.

    Parameters
    ----------
    breaks : sequence of Break
        In order of their numbers.
    last : int
        Highest number held.

    Returns
    -------
    tuple of (int, int)
        None for a chain on which two entries have one number: it was written on in two copies of a store, and
        no number tells which of them is meant. Such a chain is sent whole.
    """
    if any(found.before == found.number for found in breaks):
        return ()
    ends = [found.before for found in breaks[1:]] + [last]
    return tuple((found.number, end) for found, end in zip(breaks, ends, strict=True) if end is not None)


def agreed(theirs: Holdings, own: Holdings, known: AbstractSet[str]) -> Ranges:
    """Return the entries here that the other side holds for certain.

    Parameters
    ----------
    theirs, own : mapping of str to tuple of Span
        What each side holds, by chain.
    known : set of str
        Those of their marks that are entries here.

    Returns
    -------
    mapping of str to tuple of (int, int)
        First and last numbers by chain.
    """
    found: dict[str, list[tuple[int, int]]] = {}
    for chain, spans in theirs.items():
        for span in spans:
            top = next((number for number, own_hash in span.marks if own_hash in known), None)
            mine = next(
                (held for held in own.get(chain, ()) if top is not None and held.first <= top <= held.last),
                None,
            )
            if top is not None and mine is not None:
                found.setdefault(chain, []).append((max(span.first, mine.first), top))
    return {chain: tuple(sorted(ranges)) for chain, ranges in found.items()}


def outside(ranges: Iterable[tuple[int, int]], last: int) -> list[tuple[int, int]]:
    """Return the numbers from 1 to the last that are in none of the ranges, as ranges."""
    found, at = [], 1
    for first, end in sorted(ranges):
        if at < first and at <= last:
            found.append((at, min(first - 1, last)))
        at = max(at, end + 1)
    return [*found, (at, last)] if at <= last else found


def holdings_plain(holdings: Holdings, *, marks: bool = True) -> dict[str, Any]:
    """Return holdings as plain values."""
    return {
        chain: [
            [span.first, span.last, [list(mark) for mark in span.marks] if marks else []] for span in spans
        ]
        for chain, spans in holdings.items()
    }


def holdings_of(plain: object) -> Holdings:
    """Return holdings from plain values; the inverse of `holdings_plain`.

    Raises
    ------
    StoreError
        If they are not in that shape.
    """
    try:
        return {
            str(chain): tuple(
                Span(int(first), int(last), tuple((int(number), _hash(own)) for number, own in marks))
                for first, last, marks in spans
            )
            for chain, spans in dict(plain).items()  # type: ignore[call-overload]
        }
    except (TypeError, ValueError) as problem:
        raise StoreError(f"What the other store says it holds cannot be read: {problem}.") from None


def _hash(text: object) -> str:
    if not isinstance(text, str) or len(bytes.fromhex(text)) != 32:
        raise ValueError("a hash has 64 hexadecimal digits")
    return text
