"""The present software, and a later one with a further step of the schema."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from soakage.store import migrating, migrations, schema

PRESENT, LATER = schema.VERSION, "later"
_STEP = Path(__file__).with_name("later_step") / "later.py"


def later_steps(folder: Path) -> None:
    """Write the steps of a later software into a folder: those of today and one more."""
    today = Path(str(migrations.__file__)).parent
    shutil.copytree(today, folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(_STEP, folder / "versions")


@contextmanager
def later_software(steps: Path) -> Iterator[None]:
    """Be the later software for a while.

    Parameters
    ----------
    steps : Path
        As `later_steps` wrote them.
    """
    before = migrating.SCRIPTS, schema.VERSION
    migrating.SCRIPTS, schema.VERSION = str(steps), LATER
    try:
        yield
    finally:
        migrating.SCRIPTS, schema.VERSION = before
