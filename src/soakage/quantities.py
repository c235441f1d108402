"""The glossary as code: every quantity Soakage shows, under one id, symbol, unit and name.

Forms, headings, criteria, JSON keys and the documentation all read this table.  Ids that carry
times (``insulation_resistance_90s``, ``resistance_ratio_120s_30s``) are resolved by :func:`lookup`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from soakage.errors import UsageError


@dataclass(frozen=True, slots=True)
class Quantity:
    """One entry of the glossary.

    Parameters
    ----------
    id : str
        Permanent identifier, used in criteria and JSON.
    symbol : str
        Symbol in running text.
    unit : str
        SI unit of the stored value.
    dimension : str
        Dimension word of :mod:`soakage.units`.
    name : str
        What the trade calls it.
    definition : str
        What it is, in one sentence.
    expression : str
        Its formula in plain text.
    source : str
        Where the definition stands.
    verified : str
        How the source was verified: read, secondary, memory, practice or derived.
    """

    id: str
    symbol: str
    unit: str
    dimension: str
    name: str
    definition: str
    expression: str
    source: str
    verified: str


_IEEE43 = "IEEE Std 43-2013"
_TABLE = (
    Quantity(
        "insulation_resistance", "R", "ohm", "resistance", "Insulation resistance",
        "Direct voltage across the insulation over the current through it, at its own time or none.",
        "R = V / I", f"{_IEEE43}, cl. 5.3", "secondary",
    ),
    Quantity(
        "insulation_resistance_corrected", "R_c", "ohm", "resistance", "Corrected insulation resistance",
        "Spot insulation resistance referred to the base temperature of a named rule.",
        "R_c = K R", f"{_IEEE43}, cl. 6.3", "secondary",
    ),
    Quantity(
        "dielectric_absorption_ratio", "DAR", "1", "ratio", "Dielectric absorption ratio 60 s / 30 s",
        "Insulation resistance at 60 s over that at 30 s.",
        "DAR = R(60 s) / R(30 s)", "common practice, no source", "practice",
    ),
    Quantity(
        "absorption_ratio_60_15", "R60/R15", "1", "ratio", "Absorption ratio 60 s / 15 s",
        "Insulation resistance at 60 s over that at 15 s.",
        "R(60 s) / R(15 s)", "practice in GB 50150 and RD 34.45", "practice",
    ),
    Quantity(
        "polarization_index", "PI", "1", "ratio", "Polarization index 10 min / 1 min",
        "Insulation resistance at 600 s over that at 60 s, at one constant voltage.",
        "PI = R(600 s) / R(60 s)", f"{_IEEE43}, cl. 5.4", "secondary",
    ),
    Quantity(
        "dielectric_discharge", "DD", "A/(V F)", "dielectric_discharge", "Dielectric discharge",
        "Current through the short circuit 60 s after discharge begins, per charging voltage and capacitance.",
        "DD = I_d(60 s) / (V C)", "common practice, no source", "practice",
    ),
    Quantity(
        "capacitance", "C", "F", "capacitance", "Capacitance",
        "Geometric capacitance of the insulation under test.",
        "as stated, or the time constant of the charging transient over its resistance",
        "definition", "derived",
    ),
    Quantity(
        "apparent_capacitance", "C_app", "F", "capacitance", "Apparent capacitance of the ramp",
        "Ramp current over ramp rate; an upper bound, since absorption and conduction are in the current.",
        "C_app = I / (dV/dt)", "derived from I = C dV/dt + absorption + conduction", "derived",
    ),
    Quantity(
        "conduction_current", "I_c", "A", "current", "Conduction current",
        "The part of the current that does not decay, from the values at 1, 3.16 and 10 minutes.",
        "I_c = (I1 I10 - I3^2) / (I1 + I10 - 2 I3)", "IEEE Std 95 (use); algebra derived", "memory",
    ),
    Quantity(
        "absorption_exponent", "n", "1", "ratio", "Absorption exponent",
        "Exponent of the decaying absorption current, from the values at 1, 3.16 and 10 minutes.",
        "n = lg((I1 - I_c) / (I10 - I_c))", "IEEE Std 95 (use); algebra derived", "memory",
    ),
    Quantity(
        "voltage_dependence", "dR/R", "1", "fraction", "Fall of resistance with voltage",
        "Fractional fall of the end-of-hold resistance from the first voltage step to the last.",
        "(R_first - R_last) / R_first", "common practice, no source", "practice",
    ),
    Quantity(
        "phase_spread", "R_max/R_min", "1", "ratio", "Spread among sister sections",
        "Largest over smallest insulation resistance at one mark among the sister sections of a visit.",
        "max R / min R", "GB 50150-2006, cl. 3.0.2", "read",
    ),
    Quantity(
        "dew_point", "T_d", "K", "temperature", "Dew point",
        "Temperature at which the ambient air would be saturated over water.",
        "T_d = 243.12 g / (17.62 - g), g = ln(RH) + 17.62 T / (243.12 + T), in degC",
        "WMO-No. 8, after Sonntag 1990", "secondary",
    ),
    Quantity(
        "stored_energy", "E", "J", "energy", "Stored energy",
        "Energy held by the capacitance at the test voltage.",
        "E = C V^2 / 2", "derived from the definition of capacitance", "derived",
    ),
    Quantity(
        "earthing_time", "t_e", "s", "time", "Minimum earthing time",
        "Shortest time to keep the tested part earthed after the test: four times the time under voltage.",
        "t_e = 4 t", f"{_IEEE43}, cl. 5.5", "memory",
    ),
    Quantity(
        "polarization_index_fitted", "PI_fit", "1", "ratio", "Polarization index of the fitted curve",
        "Resistance at 600 s over that at 60 s of the curve fitted to all readings, beside the two-reading index.",
        "PI = (A 60^-n + G) / (A 600^-n + G)", "full-record fit of I = V (A t^-n + G)", "derived",
    ),
    Quantity(
        "absorption_coefficient_fitted", "A", "S s^n", "number", "Absorption coefficient of the fitted curve",
        "Size of the decaying part of the current per volt, at 1 s.",
        "I = V (A t^-n + G)", "full-record fit; power law secondary (IEEE Std 43)", "derived",
    ),
    Quantity(
        "absorption_exponent_fitted", "n_fit", "1", "ratio", "Absorption exponent of the fitted curve",
        "Exponent of the decaying part of the current, from all readings.",
        "I = V (A t^-n + G)", "full-record fit; power law secondary (IEEE Std 43)", "derived",
    ),
    Quantity(
        "conductance_fitted", "G", "S", "conductance", "Conductance of the fitted curve",
        "The part of the current that does not decay, per volt, from all readings.",
        "I = V (A t^-n + G)", "full-record fit; power law secondary (IEEE Std 43)", "derived",
    ),
    Quantity(
        "conductance_from_discharge", "G_pd", "S", "conductance", "Conductance from charge and discharge",
        "What charging and discharging currents leave together, with what a finite charge leaves in it taken off.",
        "G = (I_charge - |I_discharge|) / V - A (t + t_c)^-n", "superposition of a power-law response", "derived",
    ),
    Quantity(
        "excess_current_share", "x", "1", "fraction", "Excess current at the last step",
        "Share of the current at the last step that a linear insulation would not take, memory removed.",
        "(G_last - G_middle) V / I", "joint fit over the staircase", "derived",
    ),
    Quantity(
        "knee_voltage", "V_k", "V", "voltage", "Knee voltage of a ramp",
        "Estimated voltage at which the current leaves the course of a healthy ramp.",
        "onset of the hinge that fits best", "hinge likelihood ratio on {1, ln V, sqrt V, V}", "derived",
    ),
    Quantity(
        "residual_current_share", "r", "1", "fraction", "Share of the test before in the 60 s current",
        "Current that charge of an earlier test sends back, over the absorption current at 60 s.",
        "((t + t_r)^-n - (t + t_r + t')^-n) V'/V / t^-n", "superposition of a power-law response", "derived",
    ),
    Quantity(
        "resistance_length", "R l", "ohm m", "resistance_length", "Insulation resistance times length",
        "Insulation resistance of a cable times its length; the same for any length of one cable.",
        "R l", "NAVEDTRA 14120", "read",
    ),
)  # fmt: skip
GLOSSARY: dict[str, Quantity] = {entry.id: entry for entry in _TABLE}

_AT_MARK = re.compile(r"insulation_resistance_(\d+(?:\.\d+)?)s(_corrected)?")
_RATIO = re.compile(r"resistance_ratio_(\d+(?:\.\d+)?)s_(\d+(?:\.\d+)?)s")
_NAMED_RATIOS = {
    (60.0, 30.0): "dielectric_absorption_ratio",
    (60.0, 15.0): "absorption_ratio_60_15",
    (600.0, 60.0): "polarization_index",
}


@lru_cache(4096)
def lookup(quantity_id: str) -> Quantity:
    """Return the glossary entry of an id, timed ids included.

    Parameters
    ----------
    quantity_id : str
        An id of the glossary.

    Returns
    -------
    Quantity
        The entry; for a timed id, made from its pattern.

    Raises
    ------
    UsageError
        If no quantity has this id.
    """
    if quantity_id in GLOSSARY:
        return GLOSSARY[quantity_id]
    if match := _AT_MARK.fullmatch(quantity_id):
        mark, corrected = f"{match[1]} s", bool(match[2])
        base = GLOSSARY["insulation_resistance_corrected" if corrected else "insulation_resistance"]
        definition = f"Insulation resistance {mark} after the voltage was applied"
        return replace(
            base,
            id=quantity_id,
            symbol=f"R{match[1]}" + ("_c" if corrected else ""),
            name=f"{base.name} at {mark}",
            definition=definition
            + (", referred to the base temperature of a named rule." if corrected else "."),
            expression=f"K V / I({mark})" if corrected else f"V / I({mark})",
        )
    if match := _RATIO.fullmatch(quantity_id):
        return replace(
            GLOSSARY["polarization_index"],
            id=quantity_id,
            symbol=f"R{match[1]}/R{match[2]}",
            name=f"Resistance ratio {match[1]} s / {match[2]} s",
            definition=f"Insulation resistance at {match[1]} s over that at {match[2]} s.",
            expression=f"R({match[1]} s) / R({match[2]} s)",
            source=f"{_IEEE43}, cl. 5.4 (times set otherwise and stated)",
        )
    raise UsageError(
        f"No quantity is called {quantity_id!r}. Known: {', '.join(sorted(GLOSSARY))}, "
        "insulation_resistance_<t>s, insulation_resistance_<t>s_corrected, resistance_ratio_<t2>s_<t1>s."
    )


def seconds_text(seconds: float) -> str:
    """Return a mark as it stands inside an id: 60.0 becomes ``60``, 7.5 stays ``7.5``."""
    return f"{seconds:g}"


def resistance_id(mark: float, *, corrected: bool = False) -> str:
    """Return the id of the insulation resistance at a mark given in seconds."""
    return f"insulation_resistance_{seconds_text(mark)}s" + ("_corrected" if corrected else "")


def ratio_id(later: float, earlier: float) -> str:
    """Return the id of the ratio of resistances at two marks given in seconds."""
    named = _NAMED_RATIOS.get((later, earlier))
    return named or f"resistance_ratio_{seconds_text(later)}s_{seconds_text(earlier)}s"


def ratio_marks(quantity_id: str) -> tuple[float, float] | None:
    """Return (later, earlier) marks in seconds of a ratio's id, or None if it is no ratio of marks."""
    for marks, named in _NAMED_RATIOS.items():
        if named == quantity_id:
            return marks
    match = _RATIO.fullmatch(quantity_id)
    return (float(match[1]), float(match[2])) if match else None


def resistance_mark(quantity_id: str) -> float | None:
    """Return the mark in seconds of a resistance id, corrected or not, or None if it has none."""
    match = _AT_MARK.fullmatch(quantity_id)
    return float(match[1]) if match else None
