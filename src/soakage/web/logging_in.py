"""Logging in: the same for the page and the API."""

from __future__ import annotations

import logging
import math
from dataclasses import dataclass

from fastapi import Request

from soakage.web.account_audit import IN, OUT, visit_noted
from soakage.web.accounts import checked
from soakage.web.house import house
from soakage.web.sessions import Person

_log = logging.getLogger("soakage.web")


@dataclass(frozen=True, slots=True)
class Refused:
    """Why somebody was not logged in."""

    status: int
    sentence: str
    wait: int = 0


def log_in(request: Request, name: str, password: str) -> str | Refused:
    """Return the id of a new session, or why there is none; parameters as for :func:`known`."""
    found = known(request, name, password)
    if isinstance(found, Refused):
        return found
    visit_noted(request.app.state.store, IN, found.name)
    return house(request).sessions.begin(found)


def known(request: Request, name: str, password: str) -> Person | Refused:
    """Return who gives the right password, or why nobody does; how often that may be tried is bounded.

    Parameters
    ----------
    request : Request
        From where it is tried.
    name, password : str
        As typed.
    """
    shared = house(request)
    address = request.client.host if request.client else ""
    wait = max(shared.by_address.wait(address), shared.by_name.wait(f"{address} {name.strip().lower()}"))
    if wait:
        seconds = math.ceil(wait)
        return Refused(429, f"Too many tries. Wait {seconds}\u00a0s, then try again.", seconds)
    account = checked(shared.accounts, name, password)
    if account is None:
        _log.warning("log-in refused", extra={"told": {"address": address}})
        return Refused(401, "Name and password do not belong together.")
    shared.by_name.forget(f"{address} {name.strip().lower()}")
    return Person(account.name, account.role, authenticated=True)


def log_out(request: Request, session_id: str) -> None:
    """End a session, and note who did."""
    shared = house(request)
    found = shared.sessions.person(session_id) if session_id else None
    if found is not None:
        shared.sessions.end(session_id)
        visit_noted(request.app.state.store, OUT, found.name)


def local(address: str) -> str:
    """Return an address on this server; the start for any other."""
    plain = address.isascii() and address.isprintable() and "\\" not in address
    return address if plain and address.startswith("/") and not address.startswith("//") else "/"
