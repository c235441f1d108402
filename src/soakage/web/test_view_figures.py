"""The quantities of a test: figure, uncertainty, bound, and the figure drawn against its limit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from markupsafe import Markup

from soakage.errors import UsageError
from soakage.methods import method
from soakage.model.verdict import QuantityValue
from soakage.report.criteria import merged_bands
from soakage.report.figures import dimension_of
from soakage.report.tables import name_of
from soakage.units import Bound, format_quantity
from soakage.web import view

Row = Mapping[str, Any]
WIDTH, HEIGHT = 226.0, 30.0
_EDGE, _MIDDLE = 8.0, 15.0
_DECIDED = ("unfit", "investigate", "watch", "sound")
_BESIDE = ("dew_point", "earthing_time")  # told with the conditions and the cautions


def value_of(name: str, quantity: Row) -> QuantityValue:
    """Return a quantity of the result as a value."""
    bound = quantity.get("bound")
    return QuantityValue(
        name, quantity["value"], Bound(bound) if bound else None, quantity.get("uncertainty")
    )


def quantities(
    result: Row, method_id: str, test: str, before: Row | None, sisters: Sequence[Row]
) -> dict[str, Any]:
    """Return the quantities of a verdict: those the method is made for or that were judged, then all others.

    Parameters
    ----------
    result : mapping
        As ``judge --json`` gives it for one record.
    method_id : str
        Method of the test.
    test : str
        Its id.
    before : mapping or None
        The test before it, with ``figures``.
    sisters : sequence of mapping
        Sister sections of its visit, with ``figures``.

    Returns
    -------
    dict
        ``told`` and ``more``, each a list of rows; ``legend`` says what the signs of the drawings mean.
    """
    asked = _asked(result["judgements"])
    wanted = dict.fromkeys((*asked, *_of_method(method_id)))
    values = result["quantities"]
    told = [name for name in wanted if name in values and name not in _BESIDE]
    # a value at the base temperature stands for the one as read
    told = [name for name in told if f"{name}_corrected" not in told]
    more = [name for name in values if name not in told and name not in _BESIDE]
    return {
        "told": [
            _row(name, values[name], asked.get(name), test, before=before, sisters=sisters) for name in told
        ],
        "more": [_row(name, values[name], None, test) for name in more],
        "legend": _legend(before, sisters),
    }


def _of_method(method_id: str) -> tuple[str, ...]:
    try:
        return method(method_id).quantities
    except UsageError:
        return ()


def _asked(judgements: Iterable[Row]) -> dict[str, Row]:
    """Return, by quantity, the judgement that stands for it: one that decides, else the worst on the ladder."""

    def place(judgement: Row) -> tuple[bool, int]:
        status = judgement["status"]
        return not judgement["decides"], _DECIDED.index(status) if status in _DECIDED else len(_DECIDED)

    asked: dict[str, Row] = {}
    for judgement in sorted(judgements, key=place):
        if judgement["limit"] is not None and judgement["status"] != "not applicable":
            asked.setdefault(judgement["quantity"], judgement)
    return asked


def _legend(before: Row | None, sisters: Sequence[Row]) -> str:
    parts = ["diamond now"]
    if before is not None:
        parts.append(f"ring {view_day(before['day'])}")
    if sisters:
        parts.append("bars sister sections")
    return ", ".join(parts)


def view_day(day: str | None) -> str:
    """Return a day of the store in words."""
    return view.day(date.fromisoformat(day) if day else None)


def _row(
    name: str,
    quantity: Row,
    judgement: Row | None,
    test: str,
    *,
    before: Row | None = None,
    sisters: Sequence[Row] = (),
) -> dict[str, Any]:
    value = value_of(name, quantity)
    base = quantity.get("base_temperature")
    of = f"at {format_quantity(base, 'temperature', trim=True)}" if base else ""
    limit = judgement["limit"] if judgement else None
    return {
        "id": name,
        "name": name_of(name).removeprefix("Corrected ").capitalize() if base else name_of(name),
        "of": of,
        "shown": view.of(value),
        "asked": "" if limit is None else _asked_text(limit),
        "status": judgement["status"] if judgement else "",
        "why": f"/tests/{test}/why/{name}",
        "bullet": _bullet(name, value, judgement, before, sisters),
    }


def _asked_text(limit: Row) -> str:
    text = merged_bands(limit["text"]) if limit["kind"] == "band" else limit["text"]
    return str(text).partition(" (")[0]


def _bullet(
    name: str, value: QuantityValue, judgement: Row | None, before: Row | None, sisters: Sequence[Row]
) -> Markup:
    limit = judgement["limit"] if judgement else None
    old = _figure(before, name) if before else None
    # a spread is one figure of all sisters
    around = () if name == "phase_spread" else sisters
    near = [figure for sister in around if (figure := _figure(sister, name)) is not None]
    ends = (limit["lower"], limit["upper"]) if limit else (None, None)
    if old is None and not near and ends == (None, None):
        return Markup("")
    beyond = judgement is not None and judgement["status"] in ("investigate", "unfit", "watch")
    return bullet(value, lower=ends[0], upper=ends[1], before=old, sisters=near, beyond=beyond)


def _figure(test: Row, name: str) -> float | None:
    found = test["figures"].get(name)
    return float(found["value"]) if found and not found["bound"] else None


def bullet(
    value: QuantityValue,
    *,
    lower: float | None = None,
    upper: float | None = None,
    before: float | None = None,
    sisters: Sequence[float] = (),
    beyond: bool = False,
) -> Markup:
    """Return a value drawn against its limit on one line: decoration, the same is said in words beside it.

    Parameters
    ----------
    value : QuantityValue
        Drawn as a diamond; a bound as an arrow to its open side; the stub is two standard uncertainties.
    lower, upper : float or None
        Limits, hatched on the forbidden side.
    before : float or None
        The same quantity of the test before, a ring.
    sisters : sequence of float
        Of sister sections, upright bars.
    beyond : bool
        Whether it stands beyond its limit.
    """
    marks = [v for v in (value.value, lower, upper, before, *sisters) if v is not None and math.isfinite(v)]
    if not math.isfinite(value.value):
        return Markup("")
    log = all(v > 0 for v in marks) and dimension_of(value.id) in (
        "resistance",
        "current",
        "resistance_length",
    )
    places = [math.log(v) if log else v for v in marks]
    low, high = min(places), max(places)
    room = 0.3 * (high - low) or (1.0 if log else max(abs(high), 1e-12) * 0.5)
    low, high = low - room, high + room

    def x(v: float) -> float:
        place = math.log(v) if log and v > 0 else low if log else v
        share = (place - low) / (high - low)
        return _EDGE + (WIDTH - 2 * _EDGE) * min(1.0, max(0.0, share))

    parts = [f'<path class="run" d="M{_EDGE:g} {_MIDDLE:g}H{WIDTH - _EDGE:g}"/>']
    for limit, side in ((lower, -1), (upper, 1)):
        if limit is not None:
            at = x(limit)
            strokes = "".join(f"M{at:.1f} {y:g}l{side * 7} 5" for y in (3.5, 8.5, 13.5, 18.5, 23.5))
            parts.append(f'<path class="limit" d="M{at:.1f} 2V28"/><path class="strokes" d="{strokes}"/>')
    parts += [f'<path class="sister" d="M{x(v):.1f} 8V22"/>' for v in sisters]
    if before is not None:
        parts.append(f'<circle class="before" cx="{x(before):.1f}" cy="{_MIDDLE:g}" r="3.75"/>')
    parts.append(_now(value, x, " beyond" if beyond else ""))
    body = "".join(parts)
    return Markup(  # noqa: S704 - our own drawing of numbers
        f'<svg class="bullet" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" aria-hidden="true">{body}</svg>'
    )


def _now(value: QuantityValue, x: Callable[[float], float], more: str) -> str:
    at = x(value.value)
    if value.bound is not None:
        way = 1 if value.bound is Bound.LOWER else -1
        return f'<path class="now{more}" d="M{at:.1f} 8l{way * 11} 7l{-way * 11} 7Z"/>'
    stub = ""
    if value.uncertainty:
        ends = (x(value.value - 2 * value.uncertainty), x(value.value + 2 * value.uncertainty))
        stub = f'<path class="doubt" d="M{ends[0]:.1f} {_MIDDLE:g}H{ends[1]:.1f}"/>'
    return f'{stub}<path class="now{more}" d="M{at:.1f} 8.5l6.5 6.5l-6.5 6.5l-6.5 -6.5Z"/>'
