"""The invented scenario: one plant, its assets, what is hidden in each, and how each was tested.

No plant, person, maker or reading in it is real.
"""

from __future__ import annotations

from soakage.demo.truth import (
    Case,
    Circuit,
    Insulation,
    Programme,
    Schedule,
    charge_and_short,
    hold,
    ramp,
    steps,
)
from soakage.importers.values import Value

Header = dict[str, Value]

SITE = "Tollowmere works (invented)"
NOTE = "Invented readings, no real plant or person."
_MINUTE = (15.0, 30.0, 45.0, 60.0)
_ONE = (60.0,)

_COMMON: Header = {
    "invented": "yes",
    "notes": NOTE,
    "site": SITE,
    "purpose": "maintenance",
    "tested_by": "Tester One (invented)",
    "instrument": "demo instrument (invented)",
    "instrument_serial": "D-1",
    "calibration_due": "2027-01-31",
    "accuracy": [{"reading": "5 %", "offset": "0.5 nA", "timing": "0.5 s"}],
}
_DRY: Header = {
    "winding_temperature": "24 degC",
    "temperature_method": "three resistance thermometers in the slots",
    "ambient_temperature": "21 degC",
    "relative_humidity": "48 %",
    "surface": "dry",
}
_MOTOR: Header = {
    "class": "rotating-machine",
    "rated_voltage": "6.6 kV",
    "rated_power": "1.2 MW",
    "winding": "form-wound",
    "insulation": "epoxy-mica",
    "thermal_class": "155",
    "year": "2004",
    "current": "ac",
}
_SMALL_MOTOR: Header = {
    "class": "rotating-machine",
    "rated_voltage": "400 V",
    "rated_power": "30 kW",
    "winding": "random-wound",
    "insulation": "polyester",
    "thermal_class": "155",
    "year": "2012",
    "current": "ac",
    "method": "dielectric-absorption-ratio",
    "test_voltage": "500 V",
}
_GENERATOR: Header = {
    "class": "rotating-machine",
    "rated_voltage": "11 kV",
    "rated_power": "12 MVA",
    "winding": "form-wound",
    "insulation": "epoxy-mica",
    "thermal_class": "155",
    "year": "1998",
    "current": "ac",
    "neutral": "closed",
    "capacitance": "0.4 uF",
}
_WHOLE: Header = {"tested": ["U", "V", "W"], "earthed": ["frame"], "neutral": "closed"}

# ---- drain pump 3: two sound phases, dirt on the end winding of the third -------------------------------
_DRAIN_3: Header = {
    **_COMMON,
    **_MOTOR,
    **_DRY,
    "asset": "Drain pump 3 motor",
    "tag": "DP-3",
    "visit": "spring 2026",
}


def _phase(name: str, started: str, cause: str, truth: Insulation) -> Case:
    others: list[Value] = [other for other in ("U", "V", "W") if other != name]
    header: Header = {
        **_DRAIN_3,
        "section": f"phase {name}",
        "terminals": ["U", "V", "W", "frame"],
        "neutral": "opened",
        "method": "polarization-index",
        "test_voltage": "5 kV",
        "started": started,
        "tested": [name],
        "earthed": [*others, "frame"],
    }
    return Case(f"drain-pump-3-{name.lower()}.csv", cause, header, truth, hold(5e3))


SOUND_PHASE = Insulation(absorption=2.4e9, exponent=0.82, leakage=14e9, capacitance=0.12e-6)
SISTER_PHASE = Insulation(absorption=2.5e9, exponent=0.81, leakage=13e9, capacitance=0.12e-6)
DIRTY_PHASE = Insulation(absorption=2.45e9, exponent=0.82, leakage=0.55e9, capacitance=0.12e-6)

# ---- drain pump 4: wet through after a flood ------------------------------------------------------------
WET_WINDING = Insulation(absorption=0.8e9, exponent=0.8, leakage=40e6, capacitance=0.35e-6)
_DRAIN_4: Header = {
    **_COMMON, **_MOTOR, **_WHOLE, "asset": "Drain pump 4 motor", "tag": "DP-4", "purpose": "after-fault",
    "winding_temperature": "22 degC", "ambient_temperature": "19 degC", "relative_humidity": "78 %",
    "method": "polarization-index", "test_voltage": "2500 V", "started": "2026-03-17T10:05:00+01:00",
}  # fmt: skip

# ---- intake fan: wet, then dried ------------------------------------------------------------------------
WET_SMALL = Insulation(absorption=60e6, exponent=0.9, leakage=3.2e6, capacitance=12e-9)
DRIED_SMALL = Insulation(absorption=250e6, exponent=0.9, leakage=400e6, capacitance=12e-9)
_FAN: Header = {**_COMMON, **_SMALL_MOTOR, **_WHOLE, **_DRY, "asset": "Intake fan motor", "tag": "IF-1"}

# ---- sump pump: a load left on the leads takes all the current the instrument gives ---------------------
LOADED_LEADS = Insulation(absorption=200e6, exponent=0.9, leakage=0.105e6, capacitance=12e-9)
_SUMP: Header = {
    **_COMMON, **_SMALL_MOTOR, **_WHOLE, **_DRY, "asset": "Sump pump motor", "tag": "SP-2",
    "current_limit": "2 mA", "started": "2026-03-18T08:40:00+01:00",
}  # fmt: skip

# ---- generator 1: a weak layer; generator 2: a place that conducts from 13 kV on ------------------------
WEAK_LAYER = Insulation(
    absorption=1.5e9, exponent=0.8, leakage=60e9, capacitance=0.4e-6, layers=(0.8e-6, 0.8e-6, 0.2e-9, 7.8e-9)
)
SOUND_GENERATOR = Insulation(absorption=1.5e9, exponent=0.8, leakage=9e9, capacitance=0.4e-6)
WEAK_PLACE = Insulation(
    absorption=1.5e9, exponent=0.8, leakage=9e9, capacitance=0.4e-6, onset=13e3, growth=1.86e-9
)
STAIR = (4e3, 8e3, 12e3, 16e3, 20e3)
KILOVOLT_A_MINUTE = 1e3 / 60
_SET_1: Header = {**_COMMON, **_GENERATOR, **_WHOLE, **_DRY, "asset": "Generator 1", "tag": "G-1"}
_SET_2: Header = {**_COMMON, **_GENERATOR, **_WHOLE, **_DRY, "asset": "Generator 2", "tag": "G-2"}
_DISCHARGE: Header = {
    "method": "dielectric-discharge", "test_voltage": "5 kV", "discharge_started": "1800 s",
}  # fmt: skip
_STEPS: Header = {
    "method": "step-voltage", "test_voltage": "20 kV",
    "steps": [{"at": f"{60 * k} s", "voltage": f"{4 * k + 4} kV"} for k in range(5)],
}  # fmt: skip
_RAMP: Header = {"method": "ramp", "test_voltage": "20 kV", "ramp_rate": "1 kV/min"}

# ---- transformer 1: sound; three connections of two windings and the tank -------------------------------
_TRANSFORMER: Header = {
    **_COMMON, "asset": "Transformer 1", "tag": "T-1", "class": "transformer", "rated_voltage": "20 kV",
    "rated_power": "1 MVA", "filling": "oil", "connection": "Dyn11", "year": "2009",
    "winding_voltages": {"HV": "20 kV", "LV": "400 V"}, "winding_powers": {"HV": "1 MVA", "LV": "1 MVA"},
    "terminals": ["HV", "LV", "tank"], "visit": "spring 2026", "method": "terminal-set",
    "insulation_temperature": "26 degC", "temperature_method": "top oil, unit at rest for two days",
    "ambient_temperature": "20 degC", "relative_humidity": "50 %", "surface": "dry",
}  # fmt: skip
# What lies between each pair [ohm at 60 s]; the readings are sums of these.
HV_TANK, LV_TANK, HV_LV = 30e9, 6e9, 24e9


def _at_a_minute(resistance: float, exponent: float = 0.5) -> Insulation:
    """Insulation that reads this resistance at 60 s, half of its current absorption."""
    return Insulation(2 * resistance, exponent, 2 * resistance, 5e-9)


def _beside(*resistances: float) -> Insulation:
    return _at_a_minute(1 / sum(1 / r for r in resistances))


def _connection(
    file: str, live: list[Value], earthed: list[Value], volts: str, started: str, truth: Insulation
) -> Case:
    header: Header = {
        **_TRANSFORMER, "section": " and ".join(str(name) for name in live), "test_voltage": volts,
        "started": started, "tested": live, "earthed": earthed,
    }  # fmt: skip
    level = 5e3 if volts == "5 kV" else 1e3
    return Case(file, "sound", header, truth, hold(level, _ONE), unit="GOhm")


# ---- cable 7: sound cores, a cut in the oversheath ------------------------------------------------------
_CABLE: Header = {
    **_COMMON, "asset": "Cable 7", "tag": "C-7", "class": "cable", "rated_voltage": "12 kV",
    "length": "840 m", "cores": ["L1", "L2", "L3"], "in_service_since": "2015-06-01",
    "year": "2015", "visit": "spring 2026",
    "insulation_temperature": "14 degC", "temperature_method": "estimate from the soil at 0.8 m",
    "ambient_temperature": "17 degC", "relative_humidity": "55 %", "surface": "dry",
}  # fmt: skip


def _core(name: str, minute: int, resistance: float) -> Case:
    others: list[Value] = [other for other in ("L1", "L2", "L3") if other != name]
    header: Header = {
        **_CABLE, "section": f"core {name}", "terminals": ["L1", "L2", "L3", "screen"],
        "method": "cable-core", "test_voltage": "2500 V",
        "started": f"2026-03-20T09:{minute}:00+01:00", "tested": [name],
        "earthed": [*others, "screen"],
    }  # fmt: skip
    truth = _at_a_minute(resistance)
    return Case(
        f"cable-7-{name.lower()}.csv", "sound", header, truth, hold(2500, _ONE), "GOhm", delimiter=";"
    )


_SHEATH: Header = {
    **_CABLE, "section": "oversheath", "method": "cable-sheath", "test_voltage": "1000 V",
    "started": "2026-03-20T10:30:00+01:00", "tested": ["screen"], "earthed": ["earth"],
}  # fmt: skip

# ---- board 2: one phase with a dirty support, one beyond the instrument's range -------------------------
_BOARD: Header = {
    **_COMMON, "asset": "Board 2", "tag": "B-2", "class": "switchgear", "rated_voltage": "12 kV",
    "year": "2011", "visit": "spring 2026", "terminals": ["L1", "L2", "L3", "frame"],
    "method": "timed-insulation-resistance", "test_voltage": "2500 V",
    "insulation_temperature": "20 degC", "ambient_temperature": "20 degC",
    "relative_humidity": "52 %", "surface": "dry",
}  # fmt: skip


def _bar(name: str, minute: int, cause: str, truth: Insulation) -> Case:
    others: list[Value] = [other for other in ("L1", "L2", "L3") if other != name]
    header: Header = {
        **_BOARD, "section": f"bar {name}", "started": f"2026-03-19T14:{minute}:00+01:00", "tested": [name],
        "earthed": [*others, "frame"],
    }  # fmt: skip
    return Case(f"board-2-{name.lower()}.csv", cause, header, truth, hold(2500, _MINUTE), "GOhm", top=100e9)


# ---- reserve pump: a sound winding, read badly four times -----------------------------------------------
SOUND_WHOLE = Insulation(absorption=0.9e9, exponent=0.8, leakage=5e9, capacitance=0.35e-6)
DEWY_WHOLE = Insulation(absorption=0.9e9, exponent=0.8, leakage=0.3e9, capacitance=0.35e-6)
_RESERVE: Header = {
    **_COMMON, **_MOTOR, **_WHOLE, **_DRY, "asset": "Reserve pump motor", "tag": "RP-1",
    "method": "polarization-index", "test_voltage": "5 kV",
}  # fmt: skip
_LATE = tuple(t for t in hold(5e3).times if t >= 90)

# ---- workshop panel: one heating element has drawn moisture ---------------------------------------------
PANEL = Schedule(
    "workshop-panel.csv",
    "wet",
    {
        **_COMMON, "asset": "Workshop panel", "tag": "WP-1", "class": "low-voltage-installation",
        "nominal_voltage": "230 V", "method": "circuit", "test_voltage": "500 V",
        "started": "2026-03-20T13:15:00+01:00",
    },
    500.0,
    500e6,
    (
        Circuit("1 lighting", "L-PE", 900e6),
        Circuit("1 lighting", "N-PE", 1.4e9),
        Circuit("2 sockets", "L-PE", 212e6),
        Circuit("2 sockets", "N-PE", 198e6),
        Circuit("2 sockets", "L-N", 187e6),
        Circuit("3 gate drive", "L-PE", 46e6),
        Circuit("4 water heater", "L-PE", 0.34e6, "Heating element"),
        Circuit("4 water heater", "N-PE", 0.36e6, "Heating element"),
    ),
)  # fmt: skip

CASES: tuple[Case, ...] = (
    _phase("U", "2026-03-16T09:20:00+01:00", "sound", SOUND_PHASE),
    _phase("V", "2026-03-16T10:30:00+01:00", "sound", SISTER_PHASE),
    _phase("W", "2026-03-16T11:40:00+01:00", "dirty surface", DIRTY_PHASE),
    Case("drain-pump-4.csv", "wet", _DRAIN_4, WET_WINDING, hold(2500)),
    Case(
        "intake-fan-wet.csv", "wet", {**_FAN, "started": "2026-02-10T08:10:00+01:00"}, WET_SMALL,
        hold(500, _MINUTE),
    ),
    Case(
        "intake-fan-dried.csv", "sound",
        {**_FAN, "purpose": "drying", "started": "2026-02-12T08:30:00+01:00"}, DRIED_SMALL,
        hold(500, _MINUTE),
    ),
    Case("sump-pump.csv", "loaded leads", _SUMP, LOADED_LEADS, hold(500, _MINUTE), "mA", limit=1.95e-3),
    Case(
        "generator-1-discharge.csv", "weak layer",
        {**_SET_1, **_DISCHARGE, "started": "2026-03-10T08:00:00+01:00"}, WEAK_LAYER,
        charge_and_short(5e3, 1800),
    ),
    Case(
        "generator-1-steps.csv", "weak layer", {**_SET_1, **_STEPS, "started": "2026-03-11T08:00:00+01:00"},
        WEAK_LAYER, steps(STAIR),
    ),
    Case(
        "generator-1-ramp.csv", "weak layer", {**_SET_1, **_RAMP, "started": "2026-03-12T08:00:00+01:00"},
        WEAK_LAYER, ramp(KILOVOLT_A_MINUTE, 1200),
    ),
    Case(
        "generator-2-discharge.csv", "sound",
        {**_SET_2, **_DISCHARGE, "started": "2026-03-10T13:00:00+01:00"}, SOUND_GENERATOR,
        charge_and_short(5e3, 1800),
    ),
    Case(
        "generator-2-steps.csv", "weak place", {**_SET_2, **_STEPS, "started": "2026-03-11T13:00:00+01:00"},
        WEAK_PLACE, steps(STAIR),
    ),
    Case(
        "generator-2-ramp.csv", "weak place",
        {**_SET_2, **_RAMP, "ended": "stopped", "ended_at": "960 s", "ended_voltage": "16 kV",
         "started": "2026-03-12T13:00:00+01:00"},
        WEAK_PLACE, ramp(KILOVOLT_A_MINUTE, 960),
    ),
    _connection("transformer-1-hv.csv", ["HV"], ["LV", "tank"], "5 kV", "2026-03-13T09:00:00+01:00",
                _beside(HV_TANK, HV_LV)),
    _connection("transformer-1-lv.csv", ["LV"], ["HV", "tank"], "1000 V", "2026-03-13T09:40:00+01:00",
                _beside(LV_TANK, HV_LV)),
    _connection("transformer-1-hv-lv.csv", ["HV", "LV"], ["tank"], "1000 V", "2026-03-13T10:20:00+01:00",
                _beside(HV_TANK, LV_TANK)),
    _core("L1", 15, 12.0e9),
    _core("L2", 35, 12.6e9),
    _core("L3", 55, 11.8e9),
    Case("cable-7-oversheath.csv", "cut sheath", _SHEATH, _at_a_minute(0.21e6), hold(1000, _ONE), "MOhm",
         delimiter=";"),
    _bar("L1", 10, "sound", _at_a_minute(38e9)),
    _bar("L2", 20, "dirty surface", _at_a_minute(1.2e9, 0.1)),
    _bar("L3", 30, "beyond range", _at_a_minute(320e9)),
    Case(
        "reserve-pump-dew.csv", "below dew point",
        {**_RESERVE, "winding_temperature": "12 degC", "ambient_temperature": "17 degC",
         "relative_humidity": "80 %", "started": "2026-01-15T07:30:00+01:00"},
        DEWY_WHOLE, hold(5e3),
    ),
    Case(
        "reserve-pump-voltage-found.csv", "voltage before the test",
        {**_RESERVE, "voltage_found": {"ac": "61 V", "frequency": "50 Hz"},
         "started": "2026-02-03T08:00:00+01:00"},
        SOUND_WHOLE, hold(5e3),
    ),
    Case(
        "reserve-pump-late.csv", "first reading late", {**_RESERVE, "started": "2026-02-20T08:00:00+01:00"},
        SOUND_WHOLE, hold(5e3, _LATE),
    ),
    Case(
        "reserve-pump-recharged.csv", "charge of an earlier test",
        {**_RESERVE, "previous_test": {"voltage": "5 kV", "held": "600 s", "earthed": "120 s"},
         "started": "2026-03-03T08:00:00+01:00"},
        SOUND_WHOLE,
        # The earlier test is played too: held from -720 s to -120 s, then shorted until this one began.
        Programme(hold(5e3).times, (5e3, 0.0, 5e3), (-720.0, -120.0, 0.0)),
    ),
)  # fmt: skip
