"""Applies a temperature rule of the criteria files: the factor that refers a resistance to a base."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soakage.physics.temperature import exponential_factor, halving_factor, per_10k_factor
from soakage.physics.temperature_tables import table_factor
from soakage.standards.criterion import Piece, TemperatureRule
from soakage.units import format_quantity, kelvin

_EDGE = 1e-9  # K: a temperature typed as the end of a range lies in it, whatever its last binary digit


@dataclass(frozen=True, slots=True)
class Factor:
    """Factor of a rule at one temperature, or the reason there is none; `flag` warns without refusing."""

    value: float | None
    reason: str = ""
    flag: str = ""


def _text(temperature_degC: float) -> str:  # noqa: N803
    return format_quantity(kelvin(temperature_degC), "temperature")


def _piece_factor(piece: Piece, temperature: float, base: float) -> float:
    match piece.form:
        case "halving":
            return float(halving_factor(temperature, piece.interval or np.nan, base))
        case "exponential":
            # the documents print whole kelvins: the coefficient belongs to that zero
            shift = piece.zero - 273.0
            return float(exponential_factor(temperature + shift, piece.coefficient or np.nan, base + shift))
        case "per-ten-kelvin":
            return float(per_10k_factor(temperature, piece.ratio or np.nan, base))
        case _:
            return float(table_factor(temperature, np.array(piece.temperatures), np.array(piece.factors)))


def factor(rule: TemperatureRule, temperature_degC: float, base_degC: float) -> Factor:  # noqa: N803
    """Return the factor K that refers a resistance from one temperature to a base.

    Parameters
    ----------
    rule : TemperatureRule
        The named rule.
    temperature_degC : float
        Temperature of the insulation [degC].
    base_degC : float
        Base temperature [degC].

    Returns
    -------
    Factor
        The factor; or, outside the rule's range or base, the reason there is none.
    """
    if rule.base is not None and abs(rule.base - base_degC) > _EDGE:
        return Factor(None, f"{rule.name} refers to {_text(rule.base)} only, not to {_text(base_degC)}.")
    for piece in rule.pieces:
        start = piece.start if piece.start is not None else min(piece.temperatures, default=-np.inf)
        end = piece.to if piece.to is not None else max(piece.temperatures, default=np.inf)
        if start - _EDGE <= temperature_degC <= end + _EDGE:
            value = _piece_factor(piece, min(max(temperature_degC, start), end), base_degC)
            flag = ""
            span = abs(temperature_degC - base_degC)
            if rule.flag_beyond is not None and span > rule.flag_beyond + _EDGE:
                flag = (
                    f"{rule.name} is used over {span:.3g} K; beyond {rule.flag_beyond:g} K from its base "
                    "the corrected value is uncertain."
                )
            return Factor(value, flag=flag)
    starts = [p.start if p.start is not None else min(p.temperatures, default=-np.inf) for p in rule.pieces]
    ends = [p.to if p.to is not None else max(p.temperatures, default=np.inf) for p in rule.pieces]
    return Factor(
        None,
        f"{_text(temperature_degC)} is outside the range of {rule.name}, {_text(min(starts))} to "
        f"{_text(max(ends))}; no value is made up beyond it.",
    )


def sensitivity(rule: TemperatureRule, temperature_degC: float, base_degC: float) -> float | None:  # noqa: N803
    """Return d(ln K)/dT [1/K] at a temperature, by a difference that stays inside the rule's range."""
    half = 0.05
    low, here, high = (factor(rule, temperature_degC + d, base_degC).value for d in (-half, 0.0, half))
    if here is None:
        return None
    first, width = (low, half) if low is not None else (here, 0.0)
    last, width = (high, width + half) if high is not None else (here, width)
    return float(np.log(last / first) / width) if width > 0 else None
