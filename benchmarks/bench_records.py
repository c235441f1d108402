"""Record files to measure on: one invented winding after another, ten minutes at a reading a second."""

from __future__ import annotations

from pathlib import Path

import numpy as np

_HEADER = """\
# soakage = 1
# invented = "yes"
# notes = "Invented readings, no real plant or person."
# asset = "Bench winding {number}"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# winding = "form-wound"
# insulation = "thermosetting"
# thermal_class = "155"
# year = 2004
# method = "polarization-index"
# test_voltage = "5 kV"
# started = 2026-03-14T09:20:00+02:00
# winding_temperature = "{temperature:.1f} degC"
# ambient_temperature = "15 degC"
# relative_humidity = "45 %"
# tested = ["U", "V", "W"]
# earthed = ["frame"]
time [s],voltage [V],current [uA]
"""


def write_records(folder: Path, count: int, rows: int) -> list[Path]:
    """Write record files, the same ones every time.

    Parameters
    ----------
    folder : Path
        Where to.
    count : int
        How many.
    rows : int
        Readings in each, spread over 600 s.

    Returns
    -------
    list of Path
        The files.
    """
    noise = np.random.default_rng(600)
    time = np.linspace(600.0 / rows, 600.0, rows)
    paths = []
    for number in range(count):
        exponent, leakage = noise.uniform(0.6, 1.0), 10 ** noise.uniform(-0.5, 1.0)
        current = 10.0 * (time / 60.0) ** -exponent + leakage
        current *= 1 + 0.005 * noise.standard_normal(rows)
        voltage = 5000.0 + noise.standard_normal(rows)
        table = "\n".join(f"{t:g},{v:.0f},{i:.4g}" for t, v, i in zip(time, voltage, current, strict=True))
        head = _HEADER.format(number=number, temperature=noise.uniform(20, 35))
        path = folder / f"bench-{number:05d}.csv"
        path.write_text(f"{head}{table}\n", encoding="utf-8")
        paths.append(path)
    return paths
