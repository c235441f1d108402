"""Marks of a verdict, drawn: a cut through an insulated conductor into which the dye has soaked so far."""

from __future__ import annotations

import math
import random
from functools import cache

from markupsafe import Markup

from soakage.model.verdict import Status

_WALL, _CORE = 54.0, 17.0
_SEED = 20261124
_MIDDLE = 60.0
# How far in the dye has come (share of the wall) and half the angle it covers, degrees.
_SOAKED = {"watch": (0.45, 60.0), "investigate": (1.0, 118.0)}
_LADDER = ("sound", "watch", "investigate", "unfit")
_SMALL = {
    "sound": '<circle cx="12" cy="12" r="9.5" class="line"/><circle cx="12" cy="12" r="3.25" class="line"/>',
    "watch": '<circle cx="12" cy="12" r="9.5" class="line"/><circle cx="12" cy="12" r="3.25" class="line"/>'
    '<path class="full" d="M14.2 1.8A10.4 10.4 0 0 1 22.2 9.8L17.5 10.8A5.6 5.6 0 0 0 13.2 6.5Z"/>',
    "investigate": '<circle cx="12" cy="12" r="9.5" class="line"/><circle cx="12" cy="12" r="3.25" class="line"/>'
    '<path class="full" d="M4.6 4.6A10.4 10.4 0 0 1 19.4 19.4L14.3 14.3A3.3 3.3 0 0 0 9.7 9.7Z"/>',
    "unfit": '<path class="full" fill-rule="evenodd" d="M12 1.5a10.5 10.5 0 1 0 0 21 10.5 10.5 0 1 0 0-21Z'
    'M12 7.25a4.75 4.75 0 1 1 0 9.5 4.75 4.75 0 1 1 0-9.5ZM12 9.5a2.5 2.5 0 1 0 0 5 2.5 2.5 0 1 0 0-5Z"/>',
    "not-judged": '<rect x="4" y="4" width="16" height="16" rx="1.5" class="line" stroke-dasharray="3.6 2.8"/>',
    "not-applicable": '<path class="line" d="M5 12h14"/>',
    "invalid-test": '<path class="line" d="M4 4h16v16H4ZM4 20 20 4"/>',
}


@cache
def mark(status: Status | str) -> Markup:
    """Return the small mark of a status; its word stands beside it, so it is decoration to a screen reader.

    Parameters
    ----------
    status : Status or str
        One of the contract's seven.
    """
    name = str(status).replace(" ", "-")
    return Markup(  # noqa: S704 - our own drawing
        f'<svg class="mark {name}" viewBox="0 0 24 24" aria-hidden="true">{_SMALL[name]}</svg>'
    )


@cache
def big_mark(status: Status | str) -> Markup:
    """Return the big mark of a status on the ladder; empty beside it.

    Parameters
    ----------
    status : Status or str
        One of the contract's seven.
    """
    name = str(status).replace(" ", "-")
    if name not in _LADDER:
        return Markup("")
    ring = '<circle class="{}" cx="60" cy="60" r="{}"/>'
    parts = []
    if name in _SOAKED:
        depth, half = _SOAKED[name]
        parts.append(f'<path class="wet" d="{_front(min(1.0, depth + 0.1), half + 9)}"/>')
        parts.append(f'<path class="soak" d="{_front(depth, half)}"/>')
    if name == "unfit":
        parts.append(ring.format("soak", _WALL))
    parts += [ring.format("lap", round(_CORE + share * (_WALL - _CORE), 1)) for share in (0.25, 0.5, 0.75)]
    parts += [ring.format("wall", _WALL), ring.format("core", _CORE)]
    places = [(_MIDDLE, _MIDDLE)]
    places += [
        (_MIDDLE + 10.2 * math.sin(k * math.pi / 3), _MIDDLE - 10.2 * math.cos(k * math.pi / 3))
        for k in range(6)
    ]
    parts += [f'<circle class="strand" cx="{x:.1f}" cy="{y:.1f}" r="4.4"/>' for x, y in places]
    return Markup(  # noqa: S704 - our own drawing
        f'<svg class="big-mark {name}" viewBox="0 0 120 120" aria-hidden="true">{"".join(parts)}</svg>'
    )


def curve(exponent: float = 0.85, settled: float = 0.12) -> Markup:
    """Return the rule under the head: the decay of a current, steep and then flat.

    Parameters
    ----------
    exponent, settled : float
        Of absorption, and the share that conduction has of the first current.
    """
    points = []
    for step in range(41):
        x = step / 40
        t = 10 ** (3 * x)
        height = (t**-exponent) * (1 - settled) + settled
        points.append(f"{1000 * x**2.2:.0f} {20 - 18 * (height - settled) / (1 - settled):.1f}")
    return Markup(  # noqa: S704 - numbers only
        '<svg class="curve" viewBox="0 0 1000 22" preserveAspectRatio="none" aria-hidden="true">'
        f'<path d="M{"L".join(points)}"/></svg>'
    )


def _front(depth: float, half: float) -> str:
    """Return the outline of the soaked part: the wall's arc, and an irregular front inside."""
    source = random.Random(_SEED + round(100 * depth))  # noqa: S311 - a drawing, the same each time
    middle = math.radians(45)
    waves = [(source.uniform(0.5, 1.0), k, source.uniform(0, 2 * math.pi)) for k in (2, 3, 5)]
    outer, inner = [], []
    count = 60
    for step in range(count + 1):
        share = step / count
        angle = middle + math.radians(half) * (2 * share - 1)
        outer.append(_at(_WALL, angle))
        bell = math.sin(math.pi * share) ** 0.62
        rough = sum(size * math.sin(k * 2 * math.pi * share + phase) for size, k, phase in waves)
        reach = depth * bell * (_WALL - _CORE) + 0.7 * rough * bell * (1 - bell * (depth >= 1))
        inner.append(_at(min(_WALL, max(_CORE, _WALL - reach)), angle))
    return f"M{'L'.join([*outer, *reversed(inner)])}Z"


def _at(radius: float, angle: float) -> str:
    return f"{_MIDDLE + radius * math.sin(angle):.1f} {_MIDDLE - radius * math.cos(angle):.1f}"
