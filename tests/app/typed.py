"""Records as a person types them, for the tests of what is said about them. Every asset is invented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from soakage.app.evaluate import evaluate
from soakage.app.result import Evaluated, Evaluation
from soakage.app.rules import Rules, default_rules
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from soakage.model.verdict import Judgement
from soakage.physics.currents import staircase_current
from soakage.physics.responses import PowerLaw

WEATHER = {"ambient_temperature": "20 degC", "relative_humidity": "40 %"}
MACHINE = {
    "class": "rotating-machine", "rated_voltage": "6.6 kV", "rated_power": "900 kW", "winding": "form-wound",
    "insulation": "thermosetting", "thermal_class": "F", "year": "2004", "method": "polarization-index",
    "test_voltage": "5 kV", "winding_temperature": "40 degC", "tested": "U, V, W", "earthed": "frame",
    **WEATHER,
}  # fmt: skip
TRANSFORMER = {
    "class": "transformer", "filling": "oil", "method": "insulation-resistance", "test_voltage": "5 kV",
    "winding_voltages": '{HV = "11 kV", LV = "400 V"}', "winding_temperature": "20 degC", "tested": "HV",
    "earthed": "LV, tank", **WEATHER,
}  # fmt: skip
SWITCHGEAR = {
    "class": "switchgear", "rated_voltage": "12 kV", "method": "insulation-resistance",
    "test_voltage": "2.5 kV", "winding_temperature": "20 degC", "tested": "L1", "earthed": "L2, L3, frame",
    **WEATHER,
}  # fmt: skip
CABLE = {
    "class": "cable", "rated_voltage": "15 kV", "method": "insulation-resistance", "test_voltage": "2.5 kV",
    "insulation_temperature": "20 degC", **WEATHER,
}  # fmt: skip
CIRCUIT = {
    "class": "low-voltage-installation", "nominal_voltage": "230 V", "method": "insulation-resistance",
    "test_voltage": "500 V",
}  # fmt: skip
LADDER = ("sound", "watch", "investigate", "unfit")

# IEEE 43 marks with absorption A t^-n and leakage; M6 of the worked values (derived): 5 kV, 10 uA at 1 min, n 0.8
HEALTHY = PowerLaw(
    capacitance=0.5e-6, series_resistance=0.5e6, absorption_coefficient=10e-6 * 60**0.8 / 5e3,
    absorption_exponent=0.8, conductance=1.5e-6 / 5e3,
)  # fmt: skip


def header(keys: Mapping[str, str | None]) -> str:
    lines = [f"# {key} = {value}" for key, value in keys.items() if value is not None]
    return "\n".join(["# soakage = 1", *lines]) + "\n"


def typed(keys: Mapping[str, str | None], rows: Iterable[Sequence[object]], columns: str) -> Record:
    """Read one record from keys, a head line of columns and rows; a key of None is not stated."""
    table = "\n".join([columns, *(",".join("" if c is None else str(c) for c in row) for row in rows)])
    (record,) = read_bytes((header(keys) + table + "\n").encode(), "invented.csv")
    return record


def spot(
    keys: Mapping[str, str | None], resistance: str, time: str | None = "60", **more: str | None
) -> Record:
    """Return a record of one reading, a resistance with its unit."""
    if time is None:
        return typed({**keys, **more}, [(resistance,)], "resistance")
    return typed({**keys, **more}, [(time, resistance)], "time [s],resistance")


def machine(
    r60: float, ratios: tuple[float, float] = (1.5, 3.0), volts: float | None = None, **more: str | None
) -> Record:
    """Return an index test of a machine from R60 [MOhm] and its ratios 60/30 and 600/60."""
    marks = ((15, r60 / ratios[0] ** 2), (30, r60 / ratios[0]), (60, r60), (600, r60 * ratios[1]))
    keys = {**MACHINE, **more}
    if volts is None:
        return typed(keys, [(t, f"{r:.9g}") for t, r in marks], "time [s],resistance [MOhm]")
    return typed(keys, [(t, volts, f"{r:.9g}") for t, r in marks], "time [s],voltage [V],resistance [MOhm]")


def sampled(
    keys: Mapping[str, str | None] = MACHINE,
    response: PowerLaw = HEALTHY,
    noise: float = 0.0,
    seed: int = 0,
    volts: float = 5e3,
) -> Record:
    """Return 600 readings, one a second, of a simulated winding."""
    time = np.arange(1.0, 601.0)
    current = staircase_current(response, time, [0.0], [volts])
    current = current * (1 + noise * np.random.default_rng(seed).standard_normal(600))
    rows = [(f"{t:g}", f"{volts:g}", f"{i:.9g}") for t, i in zip(time, current, strict=True)]
    return typed(keys, rows, "time [s],voltage [V],current [A]")


def evaluation(*records: Record, rules: Rules | None = None) -> Evaluation:
    return evaluate(records, rules or default_rules())


def judged(record: Record, rules: Rules | None = None) -> Evaluated:
    return evaluation(record, rules=rules).records[0]


def status(record: Record, rules: Rules | None = None) -> str:
    return str(judged(record, rules).verdict.status)


def by(evaluated: Evaluated, start: str) -> Judgement:
    """Return the one judgement whose criterion begins so."""
    (found,) = [j for j in evaluated.judgements if j.criterion.startswith(start)]
    return found


def codes(evaluated: Evaluated) -> set[str]:
    return {finding.code for finding in evaluated.findings}


def said(evaluated: Evaluated, code: str) -> str:
    (finding,) = [f for f in evaluated.findings if f.code == code]
    return finding.sentence
