"""The other side: what an engineer would write with pandas and scipy for the same quantities.

Files read with pandas, the header parsed simply, resistances at marks by interpolation, the ratios, the
values at 1, 3.16 and 10 minutes, the temperature correction, one limit, JSON. It checks nothing and
explains nothing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

MARKS = (15.0, 30.0, 60.0, 120.0, 300.0, 600.0)
THREE = (60.0, 60.0 * math.sqrt(10.0), 600.0)


def judged(paths: Sequence[Path]) -> str:
    """Compute the quantities of record files and return them as JSON."""
    return json.dumps([quantities(path) for path in paths])


def quantities(path: Path) -> dict[str, Any]:
    """Compute the quantities of one record file."""
    import pandas as pd
    from scipy.interpolate import make_interp_spline

    header: dict[str, str] = {}
    with path.open(encoding="utf-8") as file:
        for line in file:
            if not line.startswith("#"):
                break
            key, _, value = line[1:].partition("=")
            header[key.strip()] = value.strip().strip('"')
    table = pd.read_csv(path, comment="#")
    time = table["time [s]"].to_numpy()
    current = table["current [uA]"].to_numpy() * 1e-6
    resistance = table["voltage [V]"].to_numpy() / current
    straight = make_interp_spline(time, resistance, k=1)
    at = {f"{mark:g}": float(straight(mark)) for mark in MARKS}
    i1, i2, i3 = (float(i) for i in make_interp_spline(time, current, k=1)(THREE))
    conduction = (i1 * i3 - i2 * i2) / (i1 + i3 - 2 * i2)
    exponent = math.log10((i1 - conduction) / (i3 - conduction)) if i3 > conduction else math.nan
    celsius = float(header["winding_temperature"].split()[0])
    slope = -4230.0 if celsius >= 40 else -1245.0
    factor = math.exp(slope * (1 / (celsius + 273.0) - 1 / 313.0))
    corrected = at["60"] * factor
    return {
        "file": str(path),
        "header": header,
        "resistance": at,
        "dielectric_absorption_ratio": at["60"] / at["30"],
        "absorption_ratio_60_15": at["60"] / at["15"],
        "polarization_index": at["600"] / at["60"],
        "conduction_current": conduction,
        "absorption_exponent": exponent,
        "insulation_resistance_60s_corrected": corrected,
        "meets_100_megohm": corrected >= 100e6,
    }
