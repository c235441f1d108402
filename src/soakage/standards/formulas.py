"""Named formulas of criteria: pure functions with declared inputs, units, range and source.

A criteria file names a formula and gives its coefficients, as printed by the source; a function takes
those and nameplate values in SI, and returns the limit in SI.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from soakage.errors import StandardDataError, ValidityError

MEGOHM = 1e6
FOOT = 0.3048  # m, exact by definition
ZERO_FAHRENHEIT = 459.67  # degF above absolute zero


@dataclass(frozen=True, slots=True)
class CriterionFormula:
    """A formula a criterion may name.

    Parameters
    ----------
    id : str
        Name used in criteria files.
    function : callable
        Takes every input and coefficient by name, SI in and SI out.
    inputs : mapping of str to str
        Nameplate key or derived fact to its dimension.
    coefficients : tuple of str
        Names the criteria file must give, in the units of `text`.
    dimension : str
        Dimension of the limit.
    text : str
        The formula as printed, with its units.
    source : str
        Where it stands.
    verified : str
        How that was verified.
    validity : str
        The range it holds in, in words; the function raises outside.
    """

    id: str
    function: Callable[..., float]
    inputs: Mapping[str, str]
    coefficients: tuple[str, ...]
    dimension: str
    text: str
    source: str
    verified: str
    validity: str

    def limit(self, inputs: Mapping[str, float], coefficients: Mapping[str, float]) -> float:
        """Return the limit in SI.

        Parameters
        ----------
        inputs : mapping of str to float
            Each declared input in SI; further ones are ignored.
        coefficients : mapping of str to float
            Each declared coefficient.

        Returns
        -------
        float
            The limit.

        Raises
        ------
        StandardDataError
            If the coefficients are not those declared.
        ValidityError
            If an input is outside the formula's range.
        """
        if set(coefficients) != set(self.coefficients):
            raise StandardDataError(
                f"formula {self.id} takes the coefficients {sorted(self.coefficients)}; "
                f"given: {sorted(coefficients)}."
            )
        return self.function(**{key: inputs[key] for key in self.inputs}, **coefficients)


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValidityError(f"{name} is {value:g}; the formula holds for values above 0.")


def transformer_minimum(*, phase_voltage: float, tested_winding_power: float, C: float) -> float:  # noqa: N803
    """Return C E / sqrt(kVA): minimum resistance of a transformer winding at 20 degC.

    Parameters
    ----------
    phase_voltage : float
        E, rated voltage of the winding, V: line to line for delta, line to neutral for wye.
    tested_winding_power : float
        Rated power of the winding, VA: of all three phases where they are tested together.
    C : float
        Constant of the filling, MOhm sqrt(kVA) / V.

    Returns
    -------
    float
        Ohm.

    References
    ----------
    P. Gill, Electrical Power Equipment Maintenance and Testing, transformer chapter (memory).
    """
    _positive(phase_voltage=phase_voltage, tested_winding_power=tested_winding_power)
    return MEGOHM * C * phase_voltage / math.sqrt(tested_winding_power / 1e3)


def machine_voltage_over_power(
    *, rated_voltage: float, rated_power: float, base: float, per_kva: float
) -> float:
    """Return V / (base + per_kva kVA): older minima of machine windings.

    Parameters
    ----------
    rated_voltage : float
        V.
    rated_power : float
        VA.
    base, per_kva : float
        Constants of the rule, V/MOhm and V/(MOhm kVA).

    Returns
    -------
    float
        Ohm.

    References
    ----------
    Old AIEE rule, and RD 34.45-51.300-97 (both memory).
    """
    _positive(rated_voltage=rated_voltage, rated_power=rated_power)
    return MEGOHM * rated_voltage / (base + per_kva * rated_power / 1e3)


def cable_length_minimum(*, rated_voltage: float, length: float, added_kv: float, feet: float) -> float:
    """Return (kV + added) feet / L: minimum resistance of a cable by voltage and length.

    Parameters
    ----------
    rated_voltage : float
        V.
    length : float
        m.
    added_kv : float
        Added to the rated kilovolts, each worth 1 MOhm.
    feet : float
        Length the sum is meant for, ft.

    Returns
    -------
    float
        Ohm.

    References
    ----------
    UFGS 33 71 02 and 26 20 00 (memory).
    """
    _positive(rated_voltage=rated_voltage, length=length)
    return MEGOHM * (rated_voltage / 1e3 + added_kv) * feet / (length / FOOT)


def _decades(insulation_diameter: float, conductor_diameter: float) -> float:
    _positive(conductor_diameter=conductor_diameter)
    if not insulation_diameter > conductor_diameter:
        raise ValidityError(
            f"insulation_diameter is {insulation_diameter:g} m, conductor_diameter {conductor_diameter:g} m; "
            "the diameter over the insulation must be the larger."
        )
    return math.log10(insulation_diameter / conductor_diameter)


def insulation_constant_minimum(
    *,
    insulation_diameter: float,
    conductor_diameter: float,
    length: float,
    K: float,  # noqa: N803
) -> float:
    """Return K log10(D/d) 1000 ft / L: minimum resistance of a cable core at 60 degF.

    Parameters
    ----------
    insulation_diameter, conductor_diameter : float
        Diameters over and under the insulation, m.
    length : float
        m.
    K : float
        Insulation constant, MOhm 1000 ft.

    Returns
    -------
    float
        Ohm.

    References
    ----------
    ICEA S-series (memory); the form in T. Gonen, Electric Power Transmission System Engineering,
    example 5.3 (secondary).
    """
    _positive(length=length)
    return MEGOHM * K * _decades(insulation_diameter, conductor_diameter) * 1000 * FOOT / length


def insulation_constant_km_minimum(
    *,
    insulation_diameter: float,
    conductor_diameter: float,
    length: float,
    Ki: float,  # noqa: N803
) -> float:
    """Return Ki log10(D/d) / L: minimum resistance of a cable core, constant in MOhm km.

    Parameters
    ----------
    insulation_diameter, conductor_diameter : float
        Diameters over and under the insulation, m.
    length : float
        m.
    Ki : float
        Insulation resistance constant, MOhm km.

    Returns
    -------
    float
        Ohm.

    References
    ----------
    IEC 60502-1, cl. 17.1 and 18.2 (memory); IS 694 (secondary).
    """
    _positive(length=length)
    return MEGOHM * Ki * _decades(insulation_diameter, conductor_diameter) * 1e3 / length


def share_per_fahrenheit_minimum(
    *, winding_temperature: float, limit: float, low: float, high: float, share: float
) -> float:
    """Return a limit raised by a share per degF below `low` and lowered by it per degF above `high`.

    Parameters
    ----------
    winding_temperature : float
        Temperature of the insulation, K.
    limit : float
        MOhm between `low` and `high`.
    low, high : float
        degF.
    share : float
        Share of the limit per degF.

    Returns
    -------
    float
        Ohm.

    References
    ----------
    US Army SB 740-91-01 (read).
    """
    fahrenheit = winding_temperature * 9 / 5 - ZERO_FAHRENHEIT
    scale = 1 + share * (max(0.0, low - fahrenheit) - max(0.0, fahrenheit - high))
    if scale <= 0:
        end = high + 1 / share
        raise ValidityError(f"At {fahrenheit:.0f} degF no limit is left; the rule ends at {end:g} degF.")
    return MEGOHM * limit * scale


_GEOMETRY = {"insulation_diameter": "length", "conductor_diameter": "length", "length": "length"}
FORMULAS: dict[str, CriterionFormula] = {
    entry.id: entry
    for entry in (
        CriterionFormula(
            "transformer-minimum", transformer_minimum,
            {"phase_voltage": "voltage", "tested_winding_power": "power"}, ("C",),
            "resistance", "R = C E / √kVA MΩ, E in V, at 20 °C",
            "P. Gill, Electrical Power Equipment Maintenance and Testing, transformer chapter", "memory",
            "voltage and power above 0",
        ),
        CriterionFormula(
            "machine-voltage-over-power", machine_voltage_over_power,
            {"rated_voltage": "voltage", "rated_power": "power"}, ("base", "per_kva"),
            "resistance", "R = V / (base + per_kva kVA) MΩ",
            "old AIEE rule; RD 34.45-51.300-97", "memory", "voltage and power above 0",
        ),
        CriterionFormula(
            "cable-length-minimum", cable_length_minimum,
            {"rated_voltage": "voltage", "length": "length"}, ("added_kv", "feet"),
            "resistance", "R = (kV + added_kv) feet / L MΩ, L in ft",
            "UFGS 33 71 02 and 26 20 00", "memory", "voltage and length above 0",
        ),
        CriterionFormula(
            "insulation-constant-minimum", insulation_constant_minimum, _GEOMETRY, ("K",),
            "resistance", "R = K log10(D/d) 1000 ft / L MΩ, at 15.6 °C",
            "ICEA S-series", "memory", "D above d, length above 0",
        ),
        CriterionFormula(
            "insulation-constant-km-minimum", insulation_constant_km_minimum, _GEOMETRY, ("Ki",),
            "resistance", "R = Ki log10(D/d) / L MΩ, L in km",
            "IEC 60502-1, cl. 17.1 and 18.2", "memory", "D above d, length above 0",
        ),
        CriterionFormula(
            "share-per-fahrenheit-minimum", share_per_fahrenheit_minimum,
            {"winding_temperature": "temperature"}, ("limit", "low", "high", "share"), "resistance",
            "R = limit (1 + share (low − T)) below low, limit (1 − share (T − high)) above high; MΩ, °F",
            "US Army SB 740-91-01", "read", "until the limit reaches 0",
        ),
    )
}  # fmt: skip
