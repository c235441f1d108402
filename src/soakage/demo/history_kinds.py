"""Kinds of asset in the invented history: nameplate, sections, connections, and how each is tested."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

SPOT = (60.0,)
MINUTE = (15.0, 30.0, 45.0, 60.0)
TEN_MINUTES = (15.0, 30.0, *(60.0 * k for k in range(1, 11)))


@dataclass(frozen=True, slots=True)
class Part:
    """A section and its connection.

    Parameters
    ----------
    name : str
        As records state it; of a circuit, circuit and conductors.
    tested, earthed : tuple of str
        Terminals.
    voltage : float
        Test voltage [V].
    share : float
        Its resistance as a share of the asset's level.
    plate : mapping
        Fields of the asset that hold for this section alone.
    """

    name: str
    tested: tuple[str, ...]
    earthed: tuple[str, ...]
    voltage: float
    share: float = 1.0
    plate: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of asset.

    Parameters
    ----------
    plate : mapping
        Fields of :class:`soakage.model.asset.Asset`.
    parts : tuple of Part
        Its sections.
    method : str
        Test method.
    marks : tuple of float
        Times of the readings [s].
    rule : str or None
        Temperature rule of the default profile.
    base : float
        Its base [degC].
    warmth : float
        How much warmer the insulation is than the air [K].
    thermometer : str
        How its temperature is found.
    exponent : float
        n of the absorption current [1].
    """

    plate: Mapping[str, Any]
    parts: tuple[Part, ...]
    method: str
    marks: tuple[float, ...]
    rule: str | None
    base: float = 20.0
    warmth: float = 0.0
    thermometer: str = "thermometer in the air beside it"
    exponent: float = 0.8


def _each(
    names: tuple[str, ...], word: str, earth: str, voltage: float, shares: tuple[float, ...]
) -> tuple[Part, ...]:
    return tuple(
        Part(f"{word} {name}", (name,), (*(n for n in names if n != name), earth), voltage, share)
        for name, share in zip(names, shares, strict=True)
    )


_MACHINE: Mapping[str, Any] = {
    "asset_class": "rotating-machine",
    "insulation": "epoxy-mica",
    "thermal_class": "155",
    "machine_current": "ac",
}
_SLOTS = "resistance thermometers in the slots"
_PHASES = ("U", "V", "W")
_WHOLE = (("U", "V", "W"), ("frame",))
_SET, _SOLID, _OIL = "ieee-43-2013.thermosetting", "neta-100-14-1.solid", "neta-100-14-1.oil"

FORM_WOUND = Kind(
    {**_MACHINE, "rated_voltage": 6600.0, "rated_power": 9e5, "winding": "form-wound", "neutral": "opened",
     "terminals": (*_PHASES, "frame")},
    _each(_PHASES, "phase", "frame", 5000.0, (1.0, 1.06, 0.95)),
    "polarization-index", TEN_MINUTES, _SET, 40.0, 7.0, _SLOTS,
)  # fmt: skip
ASPHALT = Kind(
    {**FORM_WOUND.plate, "insulation": "asphalt-mica", "thermal_class": "130", "rated_voltage": 3300.0,
     "rated_power": 4e5},
    _each(_PHASES, "phase", "frame", 2500.0, (1.0, 0.97, 1.04)),
    "polarization-index", TEN_MINUTES, "ieee-43-2013.thermoplastic", 40.0, 7.0, _SLOTS,
)  # fmt: skip
GENERATOR = Kind(
    {**_MACHINE, "rated_voltage": 11e3, "rated_power": 8e6, "winding": "form-wound", "neutral": "closed",
     "terminals": (*_PHASES, "frame")},
    (Part("stator", *_WHOLE, 5000.0),),
    "polarization-index", TEN_MINUTES, _SET, 40.0, 9.0, _SLOTS,
)  # fmt: skip
ROTOR = Kind(
    {**_MACHINE, "rated_voltage": 220.0, "winding": "field", "machine_current": "dc",
     "terminals": ("F", "shaft")},
    (Part("field", ("F",), ("shaft",), 500.0),),
    "dielectric-absorption-ratio", MINUTE, _SET, 40.0, 8.0, "thermometer on the pole pieces",
)  # fmt: skip
RANDOM_WOUND = Kind(
    {**_MACHINE, "rated_voltage": 400.0, "rated_power": 3e4, "winding": "random-wound", "neutral": "closed",
     "insulation": "polyester", "terminals": (*_PHASES, "frame")},
    (Part("winding", *_WHOLE, 500.0),),
    "dielectric-absorption-ratio", MINUTE, _SET, 40.0, 6.0, "thermometer on the frame, an hour after standstill",
    0.9,
)  # fmt: skip
ARMATURE = Kind(
    {**_MACHINE, "rated_voltage": 440.0, "rated_power": 7.5e4, "winding": "armature", "machine_current": "dc",
     "terminals": ("A", "frame")},
    (Part("armature", ("A",), ("frame",), 500.0),),
    "dielectric-absorption-ratio", MINUTE, _SET, 40.0, 6.0, "thermometer on the commutator",
)  # fmt: skip
FIELD = Kind(
    {**ARMATURE.plate, "rated_voltage": 220.0, "winding": "field", "terminals": ("F", "frame")},
    (Part("field", ("F",), ("frame",), 500.0),),
    "dielectric-absorption-ratio", MINUTE, _SET, 40.0, 6.0, "thermometer on the pole pieces",
)  # fmt: skip

_TWO_WINDINGS: Mapping[str, Any] = {
    "asset_class": "transformer",
    "rated_voltage": 20e3,
    "rated_power": 1e6,
    "connection": "Dyn11",
    "winding_voltages": {"HV": 20e3, "LV": 400.0},
    "winding_powers": {"HV": 1e6, "LV": 1e6},
    "terminals": ("HV", "LV", "tank"),
}
_WINDINGS = (
    Part("HV", ("HV",), ("LV", "tank"), 5000.0),
    Part("LV", ("LV",), ("HV", "tank"), 1000.0, 0.35),
)
OIL = Kind(
    {**_TWO_WINDINGS, "filling": "oil"},
    _WINDINGS, "polarization-index", TEN_MINUTES, _OIL, 20.0, 5.0, "top oil, unit at rest for two days", 0.5,
)  # fmt: skip
OIL_SET = Kind(
    {**_TWO_WINDINGS, "filling": "oil"},
    (*_WINDINGS, Part("HV and LV", ("HV", "LV"), ("tank",), 1000.0, 0.4)),
    "terminal-set", SPOT, _OIL, 20.0, 5.0, "top oil, unit at rest for two days", 0.5,
)  # fmt: skip
DRY = Kind(
    {**_TWO_WINDINGS, "filling": "dry", "terminals": ("HV", "LV", "core"), "rated_power": 6.3e5,
     "winding_powers": {"HV": 6.3e5, "LV": 6.3e5}},
    (Part("HV", ("HV",), ("LV", "core"), 5000.0), Part("LV", ("LV",), ("HV", "core"), 1000.0, 0.12)),
    "timed-insulation-resistance", (30.0, 60.0, 120.0), _SOLID, 20.0, 4.0, "thermometer in the LV winding", 0.6,
)  # fmt: skip
_CORES = ("L1", "L2", "L3")
CABLE = Kind(
    {"asset_class": "cable", "rated_voltage": 12e3, "cores": _CORES, "terminals": (*_CORES, "screen")},
    _each(_CORES, "core", "screen", 2500.0, (1.0, 1.05, 0.97)),
    "cable-core", SPOT, _SOLID, 20.0, -4.0, "estimate from the soil at 0.8 m", 0.6,
)  # fmt: skip
BOARD = Kind(
    {"asset_class": "switchgear", "rated_voltage": 12e3, "terminals": (*_CORES, "frame")},
    _each(_CORES, "bar", "frame", 2500.0, (1.0, 0.94, 1.03)),
    "timed-insulation-resistance", (30.0, 60.0), _SOLID, 20.0, 1.0, exponent=0.4,
)  # fmt: skip


def _row(circuit: str, between: str, share: float) -> Part:
    live, other = between.split("-")
    return Part(
        f"{circuit}, {between}", (live,), (other,), 500.0, share, {"circuit": circuit, "between": between}
    )


PANEL = Kind(
    {"asset_class": "low-voltage-installation", "nominal_voltage": 230.0},
    (
        _row("1 lighting", "L-PE", 1.0), _row("1 lighting", "N-PE", 1.3),
        _row("2 sockets", "L-PE", 0.6), _row("2 sockets", "N-PE", 0.55), _row("2 sockets", "L-N", 0.5),
        _row("3 door drive", "L-PE", 0.3),
    ),
    "circuit", SPOT, None,
)  # fmt: skip
