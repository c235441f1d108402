"""Who exchanges with another store: by a session, or by name and password with each request, over TLS only."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable

from fastapi import HTTPException, Request

from soakage.web.accounts import Role
from soakage.web.house import house
from soakage.web.logging_in import Refused, known
from soakage.web.people import EXCHANGE, LogInNeededError, has_basic, person
from soakage.web.sessions import Person

__all__ = ["EXCHANGE", "exchanger"]


def exchanger(role: Role) -> Callable[[Request], Person]:
    """Return what a route of the exchange depends on.

    Parameters
    ----------
    role : Role
        The least that is needed.
    """

    def of_role(request: Request) -> Person:
        found = _basic(request) if has_basic(request) else person(request)
        if found is None:
            raise LogInNeededError
        if not found.role.may(role):
            raise HTTPException(403, f"This needs the role {role}. Given: {found.role}. Ask who administers.")
        return found

    return of_role


def _basic(request: Request) -> Person:
    settings = house(request).settings
    if not settings.secure and not settings.on_loopback:
        raise HTTPException(403, "A password is only taken over TLS.")
    try:
        plain = base64.b64decode(request.headers["authorization"][6:].strip(), validate=True).decode()
    except (binascii.Error, UnicodeDecodeError):
        raise HTTPException(401, "Name and password cannot be read.") from None
    name, _, password = plain.partition(":")
    found = known(request, name, password)
    if isinstance(found, Refused):
        headers = {"Retry-After": str(found.wait)} if found.wait else None
        raise HTTPException(found.status, found.sentence, headers)
    return found
