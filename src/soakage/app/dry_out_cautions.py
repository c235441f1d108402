"""What to be careful of while a winding is dried: temperature, rate of warming, readings that mislead."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from soakage.app.result import DryOutPoint
from soakage.standards.criterion import Threshold
from soakage.standards.library import Library
from soakage.units import format_quantity

HOUR = 3600.0
ALWAYS = (
    "Local codes and licensed practice come first. Vent the moisture; no one is in touch with the winding while "
    "it is heated by current or tested; earth it after each test for at least four times the time under voltage."
)

WARMING = "A reading that falls while the winding warms is no failure: compare values at one temperature."


def cautions(points: Sequence[DryOutPoint], library: Library, *, small: bool) -> tuple[str, ...]:
    """Return the cautions of a drying, those that its readings raise first.

    Parameters
    ----------
    points : sequence of DryOutPoint
        Readings by time.
    library : Library
        The criteria files, for the figures and their sources.
    small : bool
        Whether the machine counts as small.

    Returns
    -------
    tuple of str
    """
    lines = library.thresholds
    most = lines["tm-5-6115-593-34.drying-temperature" if small else "aec-manual.drying-temperature"]
    return (
        *_temperature(points, most),
        *_rate(points, lines["practice.drying-rate"], lines["dry-out.rate-most"]),
        *_falling_as_it_warms(points),
        ALWAYS,
    )


def _temperature(points: Sequence[DryOutPoint], most: Threshold) -> tuple[str, ...]:
    hottest = max((p.temperature for p in points if p.temperature is not None), default=None)
    limit = f"{format_quantity(most.value, 'temperature')} at most ({most.standard.name})"
    if hottest is None:
        return (f"The temperature is not stated: keep the winding at {limit}, and read it every time.",)
    if hottest > most.value:
        return (f"The winding reached {format_quantity(hottest, 'temperature')}: keep it at {limit}.",)
    return (f"Keep the winding at {limit}.",)


def _rate(points: Sequence[DryOutPoint], usual: Threshold, most: Threshold) -> tuple[str, ...]:
    rates = [
        (later.temperature - earlier.temperature) / (later.elapsed - earlier.elapsed) * HOUR
        for earlier, later in pairwise(points)
        if later.temperature is not None and earlier.temperature is not None
    ]
    fastest = max(rates, default=0.0)
    text = f"{format_quantity(fastest, 'temperature_difference', digits=2)} an hour"
    about = (
        f"about {format_quantity(usual.value, 'temperature_difference')} an hour is usual, "
        f"{format_quantity(most.value, 'temperature_difference')} the most (from memory)"
    )
    if fastest > most.value:
        return (f"It was warmed by up to {text}, too fast: {about}. Slow the heating.",)
    if fastest > usual.value:
        return (f"It was warmed by up to {text}: {about}.",)
    return (f"Warm it slowly: {about}.",)


def _falling_as_it_warms(points: Sequence[DryOutPoint]) -> tuple[str, ...]:
    for earlier, later in pairwise(points):
        warmer = (
            later.temperature is not None
            and earlier.temperature is not None
            and later.temperature > earlier.temperature
        )
        if warmer and later.as_read < earlier.as_read and later.resistance >= earlier.resistance:
            return (WARMING,)
    return ()
