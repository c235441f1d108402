"""Programs outside Python that some tests hold results against."""

from __future__ import annotations

import os
import shutil
import sys

from tools import postgres
from tools.steps import StepFailedError, run, say

# Debian package: the names its program goes by.
PROGRAMS = {
    "procps": ("ps",),
    "ngspice": ("ngspice",),
    "poppler-utils": ("pdftotext",),
    "chromium": ("chromium", "chromium-browser"),
}


def missing() -> list[str]:
    """Return which packages have none of their programs here.

    Returns
    -------
    list of str
        Debian names, in the order of `PROGRAMS`, the database server last.
    """
    wanted = [name for name, programs in PROGRAMS.items() if not any(map(shutil.which, programs))]
    return wanted if postgres.programs() else [*wanted, "postgresql"]


def install() -> None:
    """Install what is missing where that can be done without asking, else say what is missing and go on."""
    wanted = missing()
    if wanted and shutil.which("apt-get") and sys.platform != "win32" and os.geteuid() == 0:
        env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        get = ["apt-get", "-q", "-y", "-o", "Dpkg::Use-Pty=0"]
        try:
            run("Refresh the list of system packages", [*get, "update"], env=env)
            run("Install system packages", [*get, "install", "--no-install-recommends", *wanted], env=env)
        except StepFailedError as error:
            say(f"{error}\nGoing on without.")
        wanted = missing()
    if wanted:
        say(
            f"Not on this machine: {', '.join(wanted)} (Debian's names). The tests that need them will be "
            "skipped with that reason; install them to run everything."
        )
