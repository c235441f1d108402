"""What went wrong with a database, in words of the user's."""

from __future__ import annotations

from soakage.errors import StoreError
from soakage.store.address import Address
from soakage.store.engine import BUSY_SECONDS

READ_ONLY = "the store may only be read. Nothing was changed. Copy it to a folder that can be written."
FULL = "the disk is full. Nothing of this step was kept, all before it was. Make room and repeat it."
DISK = "the disk does not take or give the data. What was acknowledged before is kept. Check the disk, then repeat."
LOCKED = f"another program has held the store for {BUSY_SECONDS} s. Nothing was changed. Try again when it is done."
DAMAGED = (
    "the store is damaged. Keep the file as it is; 'soakage check' names what is wrong, 'soakage restore' brings a "
    "backup back."
)
OTHER = "this file is no store of Soakage. Choose another one with --store."
OPEN = "the file cannot be opened or made. Check that its folder exists and may be written."
LOST = "the server does not answer or was lost. What was acknowledged is kept. Repeat when it is back."
NOT_THERE = "no such database, or no such user. Check the address."
REFUSED = "the server does not accept this user or password. Check the address."
FOREIGN = "this database has other tables than a store of Soakage. Choose another one, or restore a backup."

# By the name SQLite gives its error, longest first; by the beginning of PostgreSQL's state (its manual, Appendix A).
_SQLITE = {
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_FULL": FULL,
    "SQLITE_IOERR": DISK,
    "SQLITE_BUSY": LOCKED,
    "SQLITE_LOCKED": LOCKED,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": OTHER,
    "SQLITE_CANTOPEN": OPEN,
    "SQLITE_PERM": OPEN,
}
_SERVER = {
    "25006": READ_ONLY,
    "53100": FULL,
    "58": DISK,
    "55P03": LOCKED,
    "40": "another program changed the same at the same moment. Nothing was changed. Try again.",
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "3D": NOT_THERE,
    "28": REFUSED,
    "42501": "the user may not do this in that database. Nothing was changed. Ask who runs the server.",
    "42P01": FOREIGN,
    "42703": FOREIGN,
    "08": LOST,
    "57P": LOST,
    "53300": "the server takes no more connections. Nothing was changed. Try again later.",
}
# Where there is no state: the driver could not connect, or a table is missing.
_TEXTS = {
    "does not exist": NOT_THERE,
    "authentication failed": REFUSED,
    "no such table": FOREIGN,
    "no such column": FOREIGN,
    "malformed": DAMAGED,
    "not a database": OTHER,
    "unable to open": OPEN,
    "could not connect": LOST,
    "connection": LOST,
}


def said(problem: BaseException, where: Address) -> StoreError:
    """Return an error of a database as one of the store's.

    Parameters
    ----------
    problem : BaseException
        From SQLAlchemy or a driver.
    where : Address
        The store.

    Returns
    -------
    StoreError
        With what was kept and what to do.
    """
    cause = getattr(problem, "orig", None) or problem
    text = " ".join(str(cause).split())
    sentence = _sentence(cause, text)
    if sentence is None:
        return StoreError(
            f"{where}: the store cannot be used. Nothing of this step was kept. Database: {text}"
        )
    return StoreError(f"{where}: {sentence}")


def is_damage(problem: StoreError) -> bool:
    """Return whether it was said because the file itself is damaged, or is no database at all."""
    cause = problem.__cause__
    name = getattr(getattr(cause, "orig", cause), "sqlite_errorname", None) or ""
    return name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))


def _sentence(cause: BaseException, text: str) -> str | None:
    name = getattr(cause, "sqlite_errorname", None) or ""
    state = getattr(cause, "sqlstate", None) or ""
    for given, known in ((name, _SQLITE), (state, _SERVER)):
        for sign, sentence in known.items():
            if given.startswith(sign):
                return sentence
    low = text.lower()
    return next((sentence for sign, sentence in _TEXTS.items() if sign in low), None)
