"""Runs the command line, in this process or in one of its own, and writes invented record files for it."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from soakage.cli import main

SRC = Path(__file__).parents[2] / "src"
HEADER = """\
# soakage = 1
# asset = "Pump 3 motor"
# class = "rotating-machine"
# rated_voltage = "6.6 kV"
# winding = "form-wound"
# insulation = "thermosetting"
# thermal_class = "F"
# year = 2004
# method = "polarization-index"
# test_voltage = "5 kV"
# started = 2026-03-14T09:20:00+02:00
# winding_temperature = "40 degC"
# ambient_temperature = "20 degC"
# relative_humidity = "40 %"
# tested = ["U", "V", "W"]
# earthed = ["frame"]
time [s],voltage [V],current [uA]
"""
MARKS = (15, 30, 60, 600)
SOUND = (30.0, 20.0, 10.0, 4.0)
WATCH = (12.0, 11.0, 10.0, 4.9)
INVESTIGATE = (12.0, 11.0, 10.0, 9.0)
UNFIT = (300.0, 200.0, 100.0, 40.0)


def record(currents: tuple[float, ...] = SOUND, **replaced: str) -> str:
    """Return a record file; a key given replaces its line, one given empty drops it."""
    head = HEADER
    for key, value in replaced.items():
        lines = [line for line in head.splitlines() if not line.startswith(f"# {key} ")]
        head = "\n".join([lines[0], *([f"# {key} = {value}"] if value else []), *lines[1:]]) + "\n"
    return head + "".join(f"{t},5000,{i}\n" for t, i in zip(MARKS, currents, strict=True))


def soakage(
    *arguments: str | Path, folder: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run the command in this process, its streams caught: quick, where the process itself is not what is tested."""
    written = [str(argument) for argument in arguments]
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(folder or Path.cwd()),
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        for name, value in environment.items():
            patch.setenv(name, value)
        patch.setattr(sys, "argv", [str(SRC / "soakage" / "__main__.py"), *written])
        try:
            main()
            code = 0
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else int(left.code is not None)
    return subprocess.CompletedProcess(written, code, out.getvalue(), err.getvalue())


def process(
    *arguments: str | Path, folder: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "soakage", *map(str, arguments)],
        capture_output=True, encoding="utf-8", check=False, cwd=folder,
        env={**os.environ, "PYTHONPATH": str(SRC), "PYTHONIOENCODING": "utf-8", **environment},
    )  # fmt: skip
