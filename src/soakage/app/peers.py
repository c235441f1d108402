"""Compares a value with those of assets of its kind: class, voltage, insulation, age."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np

from soakage.app.history import HistoryPoint
from soakage.app.trend_result import PeerRank
from soakage.standards.library import Library
from soakage.units import Bound, format_quantity


@dataclass(frozen=True, slots=True)
class Kin:
    """What makes assets peers; `insulation` is the family of the insulation, where the word names one."""

    asset_class: str | None
    rated_voltage: float | None = None
    insulation: str | None = None
    year: int | None = None


@dataclass(frozen=True, slots=True)
class Peer:
    """The latest point of one section of another asset."""

    asset: str
    kin: Kin
    point: HistoryPoint


@dataclass(frozen=True, slots=True)
class Peers:
    """The asset's own kin, and the latest points of others; `peer_rank` picks those that compare."""

    kin: Kin
    others: tuple[Peer, ...]


def peer_rank(latest: HistoryPoint, peers: Peers, library: Library, today: date) -> PeerRank | None:
    """Return where a value stands among its peers.

    Parameters
    ----------
    latest : HistoryPoint
        The value.
    peers : Peers
        Everything it may be compared with.
    library : Library
        The criteria files, for the lines that make a peer.
    today : date
        Ages are counted to this day.

    Returns
    -------
    PeerRank or None
        None where the asset's class is not stated. Several sections of one asset count each.
    """
    if peers.kin.asset_class is None:
        return None
    lines = library.thresholds
    ratio, years = lines["trends.peer-voltage-ratio"].value, lines["trends.peer-age"].value
    fewest = int(lines["trends.peer-fewest"].value)
    alike = _alike(latest, peers, library)
    group = _group(peers.kin, ratio, years, today)
    if len(alike) < fewest:
        reason = f"{len(alike)} peers; a percentile is given from {fewest} on."
        return PeerRank(group, len(alike), None, None, None, None, reason)
    pairs = [_share_below(latest, point) for point in alike]
    lower = 100 * sum(low for low, _ in pairs) / len(pairs)
    upper = 100 * sum(high for _, high in pairs) / len(pairs)
    least, most = (
        float(np.median([end if p.bound is side else p.value for p in alike]))
        for side, end in ((Bound.UPPER, 0.0), (Bound.LOWER, math.inf))
    )
    middle = least if least == most else None
    return PeerRank(group, len(alike), (lower + upper) / 2, lower, upper, middle)


def peer_band(latest: HistoryPoint, peers: Peers, library: Library) -> tuple[float, float, int] | None:
    """Return between which values the middle 80 % of the peers lie, and how many peers there are.

    Parameters
    ----------
    latest : HistoryPoint
        What they are compared with.
    peers : Peers
        Everything it may be compared with.
    library : Library
        The criteria files, for the lines that make a peer.

    Returns
    -------
    tuple of float, float and int, or None
        None where peers are too few, or where a bound leaves one of the two ends open.
    """
    alike = _alike(latest, peers, library)
    if peers.kin.asset_class is None or len(alike) < int(library.thresholds["trends.peer-fewest"].value):
        return None
    low, high = (
        [end if p.bound is side else p.value for p in alike]
        for side, end in ((Bound.UPPER, 0.0), (Bound.LOWER, math.inf))
    )
    ends = []
    for share in (10, 90):
        # one of the readings themselves: an interpolation across an open end would say nothing
        least, most = (float(np.percentile(values, share, method="lower")) for values in (low, high))
        if least != most:
            return None
        ends.append(least)
    return ends[0], ends[1], len(alike)


def _alike(latest: HistoryPoint, peers: Peers, library: Library) -> list[HistoryPoint]:
    lines = library.thresholds
    ratio, years = lines["trends.peer-voltage-ratio"].value, lines["trends.peer-age"].value
    return [
        peer.point
        for peer in peers.others
        if _kin(peers.kin, peer.kin, ratio, years) and _comparable(latest, peer.point)
    ]


def others_of(asset: str, points: Iterable[tuple[str, Kin, HistoryPoint]]) -> tuple[Peer, ...]:
    """Return the latest point of each section and quantity of every asset but one.

    Parameters
    ----------
    asset : str
        Identifier of the asset left out.
    points : iterable of (asset, kin, point)
        Any number of each, in any order.

    Returns
    -------
    tuple of Peer
        By asset, section, quantity and way of testing.
    """
    newest: dict[tuple[object, ...], Peer] = {}
    for name, kin, point in points:
        if name == asset:
            continue
        key = (
            name,
            point.section,
            point.quantity,
            point.rule or "",
            point.base_temperature or 0.0,
            point.method,
        )
        if key not in newest or newest[key].point.day <= point.day:
            newest[key] = Peer(name, kin, point)
    return tuple(newest[key] for key in sorted(newest, key=str))


def _kin(own: Kin, other: Kin, ratio: float, years: float) -> bool:
    """Return whether two assets are of one kind; what is not stated of the own asset is not asked for."""
    if own.asset_class != other.asset_class:
        return False
    if own.insulation and own.insulation != other.insulation:
        return False
    if own.rated_voltage and not (
        other.rated_voltage
        and abs(math.log(own.rated_voltage / other.rated_voltage)) <= math.log(ratio) + 1e-9
    ):
        return False
    return not own.year or (other.year is not None and abs(own.year - other.year) <= years)


def _comparable(one: HistoryPoint, other: HistoryPoint) -> bool:
    return (
        one.quantity == other.quantity
        and one.rule == other.rule
        and one.base_temperature == other.base_temperature
        and one.method == other.method
    )


def _share_below(own: HistoryPoint, peer: HistoryPoint) -> tuple[float, float]:
    """Return how much of a peer lies below the value, at least and at most; a tie is half."""
    low = -math.inf if own.bound is Bound.UPPER else own.value
    high = math.inf if own.bound is Bound.LOWER else own.value
    peer_low = -math.inf if peer.bound is Bound.UPPER else peer.value
    peer_high = math.inf if peer.bound is Bound.LOWER else peer.value
    if own.bound is None and peer.bound is None and own.value == peer.value:
        return 0.5, 0.5
    return float(peer_high < low), float(peer_low < high)


def _group(kin: Kin, ratio: float, years: float, today: date) -> str:
    parts = [str(kin.asset_class)]
    if kin.rated_voltage:
        low, high = (
            format_quantity(v, "voltage", trim=True)
            for v in (kin.rated_voltage / ratio, kin.rated_voltage * ratio)
        )
        parts.append(f"{low} to {high}")
    if kin.insulation:
        parts.append(kin.insulation)
    if kin.year:
        parts.append(
            f"{max(today.year - kin.year - int(years), 0)} to {today.year - kin.year + int(years)} years old"
        )
    return ", ".join(parts)
