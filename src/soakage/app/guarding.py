"""How sure a judgement is of its limit: probability of conformity, guard band, guarded decisions (JCGM 106)."""

from __future__ import annotations

import math
from dataclasses import replace

from soakage.model.verdict import Judgement, QuantityValue, Status
from soakage.physics.conformity import conformity_probability, guard_band, resistance_conformity_probability
from soakage.quantities import lookup
from soakage.units import format_quantity

WANTED = 0.95
_DIFFERENCE_OK = 1e-9
# Quantities that span decades are judged in their logarithm.
_IN_LOGARITHM = ("resistance", "resistance_length")


def with_conformity(judgement: Judgement, quantity: QuantityValue | str, *, guarded: bool) -> Judgement:
    """Return a judgement with its probability and guard band beside the plain comparison.

    Parameters
    ----------
    judgement : Judgement
        As judged by plain comparison.
    quantity : QuantityValue or str
        What was judged, or why there is none.
    guarded : bool
        Decide with the guard band: a value that meets the limit by less is only to be followed. What breaks
        the limit stays broken.

    Returns
    -------
    Judgement
        As it was where the value is a bound, has no uncertainty, or the limit is a band.
    """
    limit = judgement.limit
    one_sided = limit is not None and (limit.lower is None) != (limit.upper is None)
    if not one_sided or limit is None or judgement.value is None or isinstance(quantity, str):
        return judgement
    same = abs(quantity.value - judgement.value) <= _DIFFERENCE_OK * abs(judgement.value)
    if not same or quantity.bound is not None:
        return judgement
    if quantity.uncertainty is None:
        return _unguarded(judgement) if guarded else judgement
    probability, band = _conformity(quantity, limit.lower, limit.upper)
    if not (math.isfinite(probability) and math.isfinite(band)):
        return judgement
    judged = replace(judgement, probability=probability, guard_band=band)
    if guarded and judgement.status is Status.SOUND and probability < WANTED:
        return replace(judged, status=Status.WATCH, reason=_within(judged))
    return judged


def _conformity(quantity: QuantityValue, lower: float | None, upper: float | None) -> tuple[float, float]:
    """Return the probability that the limit is met, and how far from it to stay for 95 %."""
    value, u = quantity.value, quantity.uncertainty or 0.0
    edge = lower if lower is not None else upper
    if edge is None:
        return math.nan, math.nan
    if lookup(quantity.id).dimension in _IN_LOGARITHM and value > 0 and edge > 0:
        above = float(resistance_conformity_probability(value, u / value, edge))
        width = math.exp(float(guard_band(u / value, WANTED)))
        return (
            (above, edge * (width - 1.0)) if lower is not None else (1.0 - above, edge * (1.0 - 1.0 / width))
        )
    low, high = (lower, math.inf) if lower is not None else (-math.inf, edge)
    return float(conformity_probability(value, u, low, high)), float(guard_band(u, WANTED))


def _within(judgement: Judgement) -> str:
    dimension = lookup(judgement.quantity).dimension
    band = format_quantity(judgement.guard_band or 0.0, dimension, digits=2)
    return (
        f"Met, but within the guard band of {band}: the probability that the limit is met is "
        f"{format_quantity(judgement.probability or 0.0, 'humidity', digits=2)}, less than the "
        f"{format_quantity(WANTED, 'humidity', digits=2)} asked for. Repeat with a more accurate reading."
    )


def _unguarded(judgement: Judgement) -> Judgement:
    if judgement.status is not Status.SOUND:
        return judgement
    return replace(
        judgement,
        reason=f"{judgement.reason} Not guarded: no uncertainty is known for this quantity.",
    )
