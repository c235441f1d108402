"""The current of a ramp in its parts: what charges the capacitance, what is absorbed, what is conducted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from soakage.model.readings import Floats
from soakage.physics.ramp_parts import ramp_parts
from soakage.units import format_quantity

BEYOND = 2.0  # standard uncertainties by which a share may lie beyond 0 or 1
FEWEST = 12  # readings below the knee from which the parts are told


@dataclass(frozen=True, slots=True)
class RampSplit:
    """Parts of the current of a ramp at the last voltage used [V]: capacitance, absorption, conduction.

    Uncertainties are standard; `shares` are of the current there.
    """

    at: float
    capacitance: float
    capacitance_uncertainty: float
    capacitance_stated: bool
    absorption_exponent: float
    conductance: float
    conductance_uncertainty: float
    shares: tuple[float, ...]
    share_uncertainties: tuple[float, ...]


def split(
    time: Floats, voltage: Floats, current: Floats, until: float, capacitance: float | None
) -> RampSplit | None:
    """Return the parts of a ramp's current, or None where too few readings stand below `until`.

    Parameters
    ----------
    time, voltage, current : ndarray, shape (T,)
        Readings [s, V, A], currents above 0.
    until : float
        Voltage of the knee [V]; infinite where there is none.
    capacitance : float or None
        As stated [F].

    Returns
    -------
    RampSplit or None
    """
    used = (voltage >= 0.05 * voltage.max()) & (voltage <= until)
    if used.sum() < FEWEST:
        return None
    parts = ramp_parts(time, voltage, current, until=until, capacitance=capacitance)
    figures = (parts.capacitance, parts.conductance, *parts.shares, *parts.share_uncertainty)
    if not np.isfinite(figures).all():
        return None
    share, u = parts.shares, parts.share_uncertainty
    if (share < -BEYOND * u).any() or (share > 1 + BEYOND * u).any():
        return None  # no such insulation: the ramp does not follow the model
    return RampSplit(
        at=float(voltage[used].max()),
        capacitance=parts.capacitance,
        capacitance_uncertainty=parts.capacitance_uncertainty,
        capacitance_stated=capacitance is not None,
        absorption_exponent=parts.absorption_exponent,
        conductance=parts.conductance,
        conductance_uncertainty=parts.conductance_uncertainty,
        shares=tuple(float(share) for share in parts.shares),
        share_uncertainties=tuple(float(share) for share in parts.share_uncertainty),
    )


def split_sentence(parts: RampSplit) -> str:
    """Return the parts in words."""
    shares = [
        f"{share:.0%} ± {2 * u:.0%}" if 2 * u >= 0.005 else f"{share:.0%}"
        for share, u in zip(parts.shares, parts.share_uncertainties, strict=True)
    ]
    source = "stated" if parts.capacitance_stated else "from the ramp"
    return (
        f"At {format_quantity(parts.at, 'voltage')} {shares[0]} of the current charges the capacitance "
        f"({format_quantity(parts.capacitance, 'capacitance')}, {source}), {shares[1]} is absorption and "
        f"{shares[2]} conduction (± covers 95 %)."
    )


def split_json(parts: RampSplit) -> dict[str, Any]:
    """Return the parts as JSON, SI, standard uncertainties."""
    names = ("capacitance", "absorption", "conduction")
    return {
        "at": parts.at,
        "capacitance": parts.capacitance,
        "capacitance_uncertainty": parts.capacitance_uncertainty,
        "capacitance_stated": parts.capacitance_stated,
        "absorption_exponent": parts.absorption_exponent,
        "conductance": parts.conductance,
        "conductance_uncertainty": parts.conductance_uncertainty,
        "shares": dict(zip(names, parts.shares, strict=True)),
        "share_uncertainties": dict(zip(names, parts.share_uncertainties, strict=True)),
    }
