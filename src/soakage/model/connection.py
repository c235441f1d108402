"""What a connection means: which winding or phase was live, and what became of the rest.

Facts of the trade about terminal names; common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from soakage.model.record import Record

EARTH_NAMES = frozenset(
    {"frame", "earth", "ground", "tank", "core", "pe", "gnd", "e", "case", "enclosure", "screen", "sheath",
     "armour", "shaft"}
)  # fmt: skip
_HIGH_VOLTAGE_NAMES = frozenset({"h", "hv", "1", "a", "p", "prim", "primary", "high", "hvwinding"})
_WITHOUT_PHASES = ("field", "armature")
_ONE_PHASE = re.compile(r"[A-Za-z]|[LT]\d")
_ENDS = re.compile(r"[\s._-]*\d*$")


def is_earth(terminal: str) -> bool:
    """Return True for a terminal that is frame, tank, screen or earth by its name."""
    return terminal.strip().lower() in EARTH_NAMES


@lru_cache(maxsize=4096)  # terminals have few names
def winding_of(terminal: str) -> str:
    """Return the phase or winding a terminal belongs to: U1 and U2 are ends of U, 1U of winding 1, T4 of T1.

    References
    ----------
    T1 to T12 as NEMA MG 1 marks the leads of a motor: T1, T4, T7 and T10 are of one phase; from memory.
    """
    name = terminal.strip()
    if re.fullmatch(r"\d+[A-Za-z]+\d*", name):
        return re.match(r"\d+", name)[0]  # type: ignore[index]
    if re.fullmatch(r"[Ll]\d", name):
        return name.upper()
    if (lead := re.fullmatch(r"[Tt](1[0-2]|[1-9])", name)) is not None:
        return f"T{(int(lead[1]) - 1) % 3 + 1}"
    return _ENDS.sub("", name) or name


def live_parts(terminals: Iterable[str]) -> tuple[str, ...]:
    """Return the phases or windings named by terminals, earth names left out, each once."""
    return tuple(dict.fromkeys(winding_of(name) for name in terminals if not is_earth(name)))


def winding_part(record: Record) -> str | None:
    """Return which part of a machine's winding was tested.

    Parameters
    ----------
    record : Record
        A record of a rotating machine.

    Returns
    -------
    str or None
        ``whole``, ``phase-others-earthed``, ``phase-others-guarded``; None where the sets given leave it open.
    """
    test = record.test
    live = live_parts(test.tested)
    if not live or record.asset.neutral == "closed" or record.asset.winding in _WITHOUT_PHASES:
        return "whole"
    others = [
        part
        for part in live_parts((*record.asset.terminals, *test.earthed, *test.guarded))
        if part not in live
    ]
    if not others:
        return None if len(live) == 1 and _ONE_PHASE.fullmatch(live[0]) else "whole"
    if len(live) > 1:  # some phases joined: neither the whole winding nor one phase
        return None
    if set(others) <= set(live_parts(test.earthed)):
        return "phase-others-earthed"
    if set(others) <= set(live_parts(test.guarded)):
        return "phase-others-guarded"
    return None


def floating(record: Record) -> tuple[str, ...]:
    """Return terminals of the asset named in none of tested, earthed and guarded."""
    test = record.test
    if not test.tested:
        return ()
    named = {name.strip().lower() for name in (*test.tested, *test.earthed, *test.guarded)}
    return tuple(name for name in record.asset.terminals if name.strip().lower() not in named)


def tested_windings(record: Record) -> tuple[str, ...]:
    """Return the windings of a transformer that were live, as the nameplate names them where it does."""
    parts = live_parts(record.test.tested)
    named = record.asset.winding_voltages or {}
    lookup = {key.lower(): key for key in named}
    return tuple(dict.fromkeys(lookup.get(part.lower(), part) for part in parts))


def tested_winding_value(record: Record, values: str) -> float | None:
    """Return the rated voltage or power of the one winding that was live.

    Parameters
    ----------
    record : Record
        A record of a transformer.
    values : str
        ``winding_voltages`` or ``winding_powers``.

    Returns
    -------
    float or None
        In SI; the rated value alone is the high-voltage winding's; None where the nameplate does not say.
    """
    asset = record.asset
    windings = tested_windings(record)
    named = asset.winding_voltages if values == "winding_voltages" else asset.winding_powers
    rated = asset.rated_voltage if values == "winding_voltages" else asset.rated_power
    if named:
        if not windings:
            return max(named.values())
        return named.get(windings[0]) if len(windings) == 1 else None
    if len(windings) > 1:
        return None
    if not windings or windings[0].lower().replace(" ", "") in _HIGH_VOLTAGE_NAMES:
        return rated
    return None


def winding_connection(record: Record) -> str | None:
    """Return wye or delta of the tested winding from a vector-group text such as Dyn11, else None."""
    text = record.asset.connection or ""
    match = re.fullmatch(r"([YDZyd])N?([yzdYZD])n?\d*", text.strip())
    lower = text.strip().lower()
    if lower in ("wye", "star", "y", "yn"):
        return "wye"
    if lower in ("delta", "d"):
        return "delta"
    if match is None:
        return None
    windings = tested_windings(record)
    letters = match.groups()
    voltages = record.asset.winding_voltages or {}
    high = not windings or windings[0].lower() in _HIGH_VOLTAGE_NAMES
    if windings and voltages and windings[0] in voltages:
        high = voltages[windings[0]] == max(voltages.values())
    return {"y": "wye", "z": "wye", "d": "delta"}[letters[0 if high else 1].lower()]
