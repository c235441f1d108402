"""Who asks, and whether they may: what routes depend on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, HTTPException, Request
from fastapi.responses import Response

from soakage.web.accounts import Role
from soakage.web.house import House, house
from soakage.web.sessions import Person, new_id, token, token_fits
from soakage.wiring.memory import person_named

UNSAFE = frozenset({"POST", "PUT", "PATCH", "DELETE"})
EXCHANGE = "/api/exchange"
TOKEN_HEADER, TOKEN_FIELD = "X-CSRF-Token", "csrf"
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


class LogInNeededError(HTTPException):
    """Nobody has logged in: a page leads to the log-in, the API says so."""

    def __init__(self) -> None:
        super().__init__(401, "Nobody has logged in.")


def cookie_name(shared: House) -> str:
    """Return the name of the session's cookie; two servers of one machine never share it."""
    return "__Host-soakage" if shared.settings.secure else f"soakage-{shared.settings.port}"


def session_id(request: Request) -> str:
    """Return the id the browser sent, or a new one, which is then set with the answer.

    Parameters
    ----------
    request : Request
        The request; remembers a new id.
    """
    known = request.cookies.get(cookie_name(house(request)), "")
    if known and len(known) < 100:
        return known
    if not hasattr(request.state, "new_session"):
        request.state.new_session = new_id()
    return str(request.state.new_session)


def set_session(response: Response, shared: House, new: str) -> None:
    """Give the browser a session's id."""
    response.set_cookie(
        cookie_name(shared), new, httponly=True, samesite="strict", secure=shared.settings.secure, path="/"
    )


def form_token(request: Request) -> str:
    """Return the token that the forms of this page carry."""
    return token(house(request).settings.secret, session_id(request))


def person(request: Request) -> Person | None:
    """Return who asks: by session; on the loopback address without accounts, by operating system."""
    shared = house(request)
    if shared.accounts.any() or not shared.settings.on_loopback:
        known = request.cookies.get(cookie_name(shared))
        found = shared.sessions.person(known) if known else None
        # An account that was closed meanwhile, or has another role now, counts from the next request on.
        account = shared.accounts.get(found.name) if found else None
        return Person(account.name, account.role, authenticated=True) if account else None
    return Person(person_named(shared.settings.stated_name), Role.ADMINISTER, authenticated=False)


async def token_checked(request: Request) -> None:
    """Refuse a change that does not carry the token of its session.

    Raises
    ------
    HTTPException
        403 where the token is missing or another's.
    """
    if request.method not in UNSAFE or has_basic(request):
        return
    given = request.headers.get(TOKEN_HEADER, "")
    if not given and request.headers.get("content-type", "").startswith(_FORMS):
        field = (await request.form()).get(TOKEN_FIELD, "")
        given = field if isinstance(field, str) else ""
    shared = house(request)
    known = request.cookies.get(cookie_name(shared), "")
    if not known or not token_fits(shared.settings.secret, known, given):
        raise HTTPException(
            403, "The page this came from is no longer current. Load it again; what you typed is still on it."
        )


def has_basic(request: Request) -> bool:
    """Return whether an exchange brings name and password with it: no browser sends those by itself, so no token."""
    basic = request.headers.get("authorization", "")[:6].lower() == "basic "
    return basic and request.url.path.startswith(f"{EXCHANGE}/")


def needs(role: Role) -> Callable[[Request], Person]:
    """Return what a route depends on that only a role may use.

    Parameters
    ----------
    role : Role
        The least that is needed.
    """

    def of_role(request: Request) -> Person:
        found = person(request)
        if found is None:
            raise LogInNeededError
        if not found.role.may(role):
            raise HTTPException(403, f"This needs the role {role}. Given: {found.role}. Ask who administers.")
        return found

    return of_role


Reader = Annotated[Person, Depends(needs(Role.READ))]
Tester = Annotated[Person, Depends(needs(Role.TEST))]
Reviewer = Annotated[Person, Depends(needs(Role.REVIEW))]
Administrator = Annotated[Person, Depends(needs(Role.ADMINISTER))]
