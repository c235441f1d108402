"""Where a store is: a path, or the address of a PostgreSQL database."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from soakage.errors import UsageError

VARIABLE = "SOAKAGE_STORE"
FILE = "store.sqlite"
_SERVER = ("postgresql://", "postgres://", "postgresql+psycopg://")


@dataclass(frozen=True, slots=True)
class Address:
    """Where a store is; exactly one of the two is given.

    Parameters
    ----------
    path : Path or None
        File of SQLite.
    server : str or None
        Address of a PostgreSQL database as SQLAlchemy takes it.
    """

    path: Path | None = None
    server: str | None = None

    def __str__(self) -> str:
        """Return the address as it may be shown: a password is left out."""
        if self.path is not None:
            return str(self.path)
        from sqlalchemy import make_url

        return make_url(self.server or "").render_as_string(hide_password=True).replace("+psycopg", "")

    @property
    def missing(self) -> bool:
        """Whether it is a file that does not exist yet: an empty store."""
        return self.path is not None and not self.path.exists()


def data_folder(environment: Mapping[str, str] | None = None) -> Path:
    """Return the folder in which programs keep a user's data on this system."""
    known = os.environ if environment is None else environment
    home = Path.home()
    if sys.platform == "win32":
        base = Path(known.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(known.get("XDG_DATA_HOME") or home / ".local" / "share")
    return base / "soakage"


def address(given: str | None = None, environment: Mapping[str, str] | None = None) -> Address:
    """Return where the store is.

    Parameters
    ----------
    given : str, optional
        A path or an address, as typed; it wins over the variable SOAKAGE_STORE. Neither: the user's data folder.
    environment : mapping, optional
        Variables; those of the process unless given.

    Returns
    -------
    Address

    Raises
    ------
    UsageError
        If it is an address of another kind of database.
    """
    known = os.environ if environment is None else environment
    text = given or known.get(VARIABLE) or ""
    if not text:
        return Address(path=data_folder(known) / FILE)
    if text.startswith(_SERVER):
        rest = text.split("://", 1)[1]
        return Address(server=f"postgresql+psycopg://{rest}")
    if "://" in text:
        raise UsageError(
            f"{text.split('://', 1)[0]}://...: no store is kept there. Give a path, or postgresql://user@host/database."
        )
    path = Path(text)
    return Address(path=path / FILE if path.is_dir() else path)
