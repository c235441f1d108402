"""Measuring: two sides in turn, fresh processes, peak memory, the machine."""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from statistics import median
from typing import Any

# The peak of this process alone: what getrusage gives also holds the memory of the process it came from.
PEAK = """
import sys
def _peak():
    try:
        with open("/proc/self/status") as status:
            return next(int(line.split()[1]) * 1024 for line in status if line.startswith("VmHWM"))
    except (OSError, StopIteration):
        try:
            import resource
        except ImportError:
            return -1
        size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return size if sys.platform == "darwin" else size * 1024
"""


def spread(seconds: Sequence[float]) -> dict[str, float]:
    """Return median, least and most of repeats."""
    return {"median": median(seconds), "least": min(seconds), "most": max(seconds)}


def in_turn(sides: dict[str, Callable[[], object]], repeats: int) -> dict[str, list[float]]:
    """Run each side once unmeasured, then all of them in turn.

    Parameters
    ----------
    sides : dict of str to callable
        What to run, by name.
    repeats : int
        How often.

    Returns
    -------
    dict of str to list of float
        Seconds of each repeat by name.
    """
    for run in sides.values():
        run()
    taken: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(repeats):
        for name, run in sides.items():
            began = time.perf_counter()
            run()
            taken[name].append(time.perf_counter() - began)
    return taken


def ratios(above: Sequence[float], below: Sequence[float]) -> dict[str, float]:
    """Return the spread of the ratios of repeats that stood beside one another."""
    return spread([a / b for a, b in zip(above, below, strict=True)])


def environment() -> dict[str, str]:
    """Return the environment of child processes: this checkout first on the path."""
    source = str(Path(__file__).resolve().parent.parent / "src")
    here = str(Path(__file__).resolve().parent)
    return {**os.environ, "PYTHONPATH": os.pathsep.join((source, here))}


def child(arguments: Sequence[str], allowed: Sequence[int] = (0,)) -> str:
    """Run Python afresh and return what it prints.

    Raises
    ------
    RuntimeError
        If it ends with another exit status than allowed.
    """
    done = subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, check=False, env=environment()
    )
    if done.returncode not in allowed:
        raise RuntimeError(
            f"{' '.join(arguments)[:200]} ended with {done.returncode}:\n{done.stderr[-2000:]}"
        )
    return done.stdout


def peak_memory(module: str, folder: Path) -> int:
    """Return the peak resident memory [byte] of a fresh process that judges the files of a folder with a side.

    Parameters
    ----------
    module : str
        The side, a module with ``judged``.
    folder : Path
        The files.

    Returns
    -------
    int
        -1 where the system does not tell.
    """
    script = (
        f"{PEAK}\nfrom pathlib import Path\nfrom {module} import judged\n"
        f"judged(sorted(Path({str(folder)!r}).glob('*.csv')))\nprint(_peak())"
    )
    return int(child(["-c", script]))


def machine() -> dict[str, Any]:
    """Describe the machine and the versions that matter."""
    packages = ("numpy", "scipy", "pandas", "typst", "vl-convert-python", "click")
    return {
        "system": f"{platform.system()} {platform.machine()}",
        "processor": _processor(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "packages": {name: _version(name) for name in packages},
    }


def load() -> float | None:
    """Return how many processes wanted a core in the last minute: above 1, others disturbed the figures."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else None


def _processor() -> str:
    try:
        with Path("/proc/cpuinfo").open(encoding="utf-8") as info:
            return next(line.partition(":")[2].strip() for line in info if line.startswith("model name"))
    except (OSError, StopIteration):
        return platform.processor() or "not told"


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
