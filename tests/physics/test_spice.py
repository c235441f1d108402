"""Superposition against a circuit simulator given the same branches: one step, a staircase, a ramp."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from soakage.physics.currents import staircase_current
from soakage.physics.responses import Branches

# Time constants from 1.6 s to 3000 s, and a conduction.
RESISTANCE = np.array([2e9, 5e9, 12e9, 30e9, 60e9, 100e9])
CAPACITANCE = np.array([0.8, 2.5, 6.0, 10.0, 16.0, 30.0]) * 1e-9
CONDUCTANCE = 0.25e-9
EDGE = 0.5


def simulated(folder: Path, corners: list[tuple[float, float]], end: float) -> tuple[np.ndarray, np.ndarray]:
    points = " ".join(f"{t:.9g} {v:.9g}" for t, v in corners)
    lines = ["* branches", f"V1 1 0 PWL({points})", f"Rinf 1 0 {1 / CONDUCTANCE:.12g}"]
    for k, (r, c) in enumerate(zip(RESISTANCE, CAPACITANCE, strict=True)):
        lines += [f"Rb{k} 1 n{k} {r:.12g}", f"Cb{k} n{k} 0 {c:.12g} IC=0"]
    lines += [
        ".options reltol=1e-7 abstol=1e-20 vntol=1e-9 chgtol=1e-22 method=gear gmin=1e-30",
        ".control", "set numdgt=12", f"tran 0.01 {end} 0 0.01 uic", "wrdata out.data i(V1)",
        "quit 0", ".endc", ".end",
    ]  # fmt: skip
    (folder / "test.cir").write_text("\n".join(lines), encoding="utf-8")
    subprocess.run(["ngspice", "-b", "test.cir"], cwd=folder, capture_output=True, check=True, timeout=60)
    columns = np.loadtxt(folder / "out.data")
    return columns[:, 0], -columns[:, 1]


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="the circuit simulator is not installed")
@pytest.mark.parametrize(
    ("edges", "levels", "edge", "end"),
    (
        ([1.0], [1e3], EDGE, 120.0),
        ([1.0, 31.0, 61.0, 91.0, 121.0, 151.0], [1e3, 2e3, 3e3, 4e3, 5e3, 0.0], EDGE, 200.0),
        ([1.0], [4e3], 120.0, 160.0),
    ),
    ids=("step", "staircase-and-short-circuit", "ramp-and-hold"),
)
def test_superposition_agrees_with_the_circuit(
    tmp_path: Path, edges: list[float], levels: list[float], edge: float, end: float
) -> None:
    corners, before = [(0.0, 0.0)], 0.0
    for begin, level in zip(edges, levels, strict=True):
        corners += [(begin, before), (begin + edge, level)]
        before = level
    time, current = simulated(tmp_path, corners, end)
    expected = staircase_current(Branches(RESISTANCE, CAPACITANCE, CONDUCTANCE), time, edges, levels, edge)
    kept = time > edges[0] + 5.0
    for begin in edges:
        for corner in (begin, begin + edge):
            kept &= ~((time > corner - 0.1) & (time < corner + 5.0))
    assert kept.sum() > 1000
    np.testing.assert_allclose(current[kept], expected[kept], rtol=1e-5)
