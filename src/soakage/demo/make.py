"""Turns the invented scenario into record files: the same bytes every time."""

from __future__ import annotations

from zlib import crc32

import numpy as np

from soakage.demo.scenario import CASES, NOTE, PANEL
from soakage.demo.truth import Case, Schedule
from soakage.importers.nameplate import VERSION
from soakage.importers.write_record import header_line
from soakage.physics.arrays import Floats

# Scatter of a reading and of the voltage it stands at, as a share: what a fair instrument shows.
CURRENT_NOISE = 0.006
VOLTAGE_NOISE = 0.0002
_FIGURES = 4
_UNITS = {"nA": 1e-9, "uA": 1e-6, "mA": 1e-3, "MOhm": 1e6, "GOhm": 1e9}


def demo_files() -> dict[str, str]:
    """Make every record file of the scenario.

    Returns
    -------
    dict of str to str
        Text by file name, in the order of the scenario.
    """
    files = {case.file: _case_text(case) for case in CASES}
    return files | {PANEL.file: _schedule_text(PANEL)}


def readings(case: Case) -> tuple[Floats, Floats]:
    """Read a case as its instrument would.

    Parameters
    ----------
    case : Case
        The case.

    Returns
    -------
    voltage, current : ndarray of float
        One value a reading [V, A], with the noise of that file.
    """
    noise = _noise(case.file)
    voltage = case.programme.voltage()
    current = case.programme.current(case.insulation)
    # A source at its limit gives that current and no more voltage than it makes in the insulation.
    share = np.minimum(1.0, case.limit / np.maximum(np.abs(current), 1e-30))
    size = len(voltage)
    shown = voltage * share * (1 + VOLTAGE_NOISE * noise.standard_normal(size))
    return shown, current * share * (1 + CURRENT_NOISE * noise.standard_normal(size))


def _noise(name: str) -> np.random.Generator:
    return np.random.default_rng(crc32(name.encode()))


def _header(case: Case | Schedule) -> list[str]:
    return [
        header_line("soakage", int(VERSION)),
        *(header_line(key, text) for key, text in case.header.items()),
    ]


def _case_text(case: Case) -> str:
    voltage, current = readings(case)
    unit = _UNITS[case.unit]
    if case.unit.endswith("Ohm"):
        name, values = "resistance", voltage / current
    else:
        name, values = "current", current
    lines = _header(case)
    lines.append(case.delimiter.join(("time [s]", "voltage [V]", f"{name} [{case.unit}]")))
    for time, volts, value in zip(case.programme.times, voltage, values, strict=True):
        cell = f"> {_figure(case.top / unit)}" if value > case.top else _figure(value / unit)
        row = case.delimiter.join((f"{time:g}", f"{volts:.0f}", cell))
        lines.append(row.replace(".", ",") if case.delimiter == ";" else row)
    return "\n".join(lines) + "\n"


def _schedule_text(schedule: Schedule) -> str:
    noise = _noise(schedule.file)
    lines = _header(schedule)
    lines.append("circuit,between,voltage [V],resistance [MOhm],note")
    for row in schedule.rows:
        value = row.resistance * (1 + CURRENT_NOISE * noise.standard_normal())
        cell = f"> {schedule.top / 1e6:g}" if value > schedule.top else _figure(value / 1e6)
        # A note of a row stands in place of that of the file: it must say the same.
        note = f'"{row.note}. {NOTE}"' if row.note else ""
        lines.append(f"{row.circuit},{row.between},{schedule.voltage:.0f},{cell},{note}")
    return "\n".join(lines) + "\n"


def _figure(value: float) -> str:
    """Return a figure with as many digits as the instrument shows."""
    if value == 0:
        return "0"
    decimals = max(_FIGURES - 1 - int(np.floor(np.log10(abs(value)))), 0)
    return f"{value:.{decimals}f}"
