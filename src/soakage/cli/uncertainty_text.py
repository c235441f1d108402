"""Uncertainty budgets and the probability that a limit is met, as lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from soakage.cli.wrapping import wrapped
from soakage.model.verdict import Judgement, QuantityValue
from soakage.quantities import lookup
from soakage.units import format_quantity

_NEARLY = 0.999
_SURE = 0.99  # from here on two digits would round to a certainty that no model has


def share_text(share: float) -> str:
    """Return a share in percent, two digits."""
    return format_quantity(share, "humidity", digits=2)


def probability_text(probability: float) -> str:
    """Return a probability in percent; near its ends only that it lies beyond: no model is surer than that."""
    if probability > _NEARLY:
        return f"over {format_quantity(_NEARLY, 'humidity')}"
    if probability < 1 - _NEARLY:
        return f"under {format_quantity(1 - _NEARLY, 'humidity', digits=1)}"
    return format_quantity(probability, "humidity", digits=3 if probability > _SURE else 2)


def budget_text(quantities: Iterable[QuantityValue]) -> Iterator[str]:
    """Yield one line per quantity that has a budget: the largest contributor first, with its share."""
    for quantity in quantities:
        if quantity.budget:
            entry = lookup(quantity.id)
            parts = [
                f"{part.name} {format_quantity(part.uncertainty, entry.dimension, digits=2)} "
                f"({share_text(part.share)} of the variance)"
                for part in quantity.budget
            ]
            yield wrapped(f"{entry.name}, standard uncertainty: {', '.join(parts)}", "      ", "    ")


def conformity_text(judgement: Judgement) -> str:
    """Return in one phrase how probably the limit is met and how far from it 95 % is reached; else nothing."""
    if judgement.probability is None or judgement.guard_band is None:
        return ""
    band = format_quantity(judgement.guard_band, lookup(judgement.quantity).dimension, digits=2)
    chance = probability_text(judgement.probability)
    return f" Probability that the limit is met: {chance}; guard band for 95\N{NO-BREAK SPACE}%: {band}."
