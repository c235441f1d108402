"""The project's own environment in .venv, made from a hashed lock; quick when nothing has changed."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import sys
from pathlib import Path

from tools.steps import ROOT, StepFailedError, run, say

VENV = ROOT / ".venv"
STAMP = VENV / "soakage-environment.json"
SCRIPTS = VENV / ("Scripts" if sys.platform == "win32" else "bin")
PYTHON = SCRIPTS / ("python.exe" if sys.platform == "win32" else "python")


def environment() -> dict[str, str]:
    """Return the variables for commands that run inside .venv.

    Returns
    -------
    dict
        Ours, with .venv's scripts found first and no other environment in the way.
    """
    kept = {key: value for key, value in os.environ.items() if key not in {"PYTHONPATH", "PYTHONHOME"}}
    kept["PATH"] = f"{SCRIPTS}{os.pathsep}{kept.get('PATH', '')}"
    kept["VIRTUAL_ENV"] = str(VENV)
    kept["PYTHONUTF8"] = "1"
    return kept


def prepare(lock: str) -> None:
    """Make .venv hold what a lock names, and Soakage itself.

    Parameters
    ----------
    lock : str
        ``"run"`` or ``"test"``: which file of requirements/. The test lock holds all of the run lock.

    Raises
    ------
    StepFailedError
        When this Python cannot make environments, or the installer fails.
    """
    stamp = _stamp()
    if not PYTHON.exists() or stamp.get("made") != _made():
        _create()
        stamp = {"made": _made()}
        _write(stamp)
    # The project's own metadata counts too: a new dependency or command needs a new install.
    project = _digest(ROOT / "pyproject.toml")
    wanted = {name: _digest(ROOT / "requirements" / f"{name}.txt") for name in ("run", "test")}
    if stamp.get("test") != wanted["test"] and stamp.get(lock) != wanted[lock]:
        say("The first time, this downloads packages (on disk some 450 MB, 800 MB with what the tests need).")
        file = ROOT / "requirements" / f"{lock}.txt"
        _install("Install packages", "--require-hashes", "-r", str(file))
        stamp[lock] = wanted[lock]
        stamp.pop("project", None)
        _write(stamp)
    if stamp.get("project") != project:
        _install("Install Soakage", "--no-build-isolation", "-e", str(ROOT))
        stamp["project"] = project
        _write(stamp)


def _install(name: str, *what: str) -> None:
    # Dependencies are not resolved again: the lock is whole.
    pip = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--no-deps"]
    run(name, [*pip, *what], env=environment(), quiet=True)


def _made() -> str:
    """Return what an environment is bound to: this Python and this folder."""
    return f"{sys.version} in {ROOT}"


def _digest(file: Path) -> str:
    # Line ends are evened out: a checkout on Windows must not look like a new lock.
    return hashlib.sha256(file.read_bytes().replace(b"\r\n", b"\n")).hexdigest()


def _stamp() -> dict[str, str]:
    try:
        found = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _write(stamp: dict[str, str]) -> None:
    STAMP.write_text(json.dumps(stamp, indent=1), encoding="utf-8")


def _create() -> None:
    missing = [name for name in ("venv", "ensurepip") if importlib.util.find_spec(name) is None]
    if missing:
        raise StepFailedError(
            f"This Python ({sys.executable}) comes without {' and '.join(missing)}, so it cannot make an "
            "environment of its own.\nOn Debian and Ubuntu: apt-get install python3-venv. Elsewhere install "
            "the full Python package of your system, then run this again."
        )
    if Path(sys.prefix).resolve() == VENV:
        raise StepFailedError(
            f"{VENV} has to be made anew, and this Python runs from it. Start go.py with another."
        )
    if VENV.exists():
        if not STAMP.exists():
            raise StepFailedError(
                f"{VENV} is there and was not made by go.py. Move or delete it, then run this again."
            )
        shutil.rmtree(VENV)
    run("Make .venv", [sys.executable, "-m", "venv", str(VENV)])
