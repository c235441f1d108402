"""What is noted in the store's own log of accounts and of who logged in; it stays in this store."""

from __future__ import annotations

import logging
import time

from soakage.app.journal import ACCOUNT_IDENTITY
from soakage.app.register import identity
from soakage.errors import StoreError
from soakage.store.store import Store
from soakage.store.writing import Writer

_log = logging.getLogger("soakage.web")
OPENED, CHANGED, CLOSED, IN, OUT = (
    "account_opened",
    "account_changed",
    "account_closed",
    "logged_in",
    "logged_out",
)


def subject_of(name: str, month: str = "") -> str:
    """Return what entries on an account are on; who logged in is kept apart by month, so that each stays short."""
    return identity("account", name, month)


def account_noted(writer: Writer, action: str, name: str, role: str = "") -> None:
    """Note a change of an account in the change that makes it; nothing of a password.

    Parameters
    ----------
    writer : Writer
        Of the change.
    action : str
        One of those above.
    name, role : str
        Of the account.
    """
    body = {"account": name} | ({"role": role} if role else {})
    writer.add("setting", subject_of(name), action, body, shared=False)


def visit_noted(store: Store, action: str, name: str) -> None:
    """Note that somebody logged in or out; a store that may only be read does not keep anybody out.

    Parameters
    ----------
    store : Store
        Where.
    action, name : str
        What, and who.
    """
    month = time.strftime("%Y-%m", time.gmtime())
    try:
        with store.writing(name, ACCOUNT_IDENTITY) as writer:
            writer.add("setting", subject_of(name, month), action, {"account": name}, shared=False)
    except StoreError as problem:
        _log.warning("not noted", extra={"told": {"action": action, "problem": str(problem)[:200]}})
