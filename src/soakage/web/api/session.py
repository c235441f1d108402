"""The session: who asks, and the token that changes carry."""

from __future__ import annotations

from fastapi import HTTPException, Request, Response

from soakage.web.accounts import Role
from soakage.web.house import house
from soakage.web.logging_in import Refused, log_in, log_out
from soakage.web.people import cookie_name, form_token, person, set_session
from soakage.web.routing import Router
from soakage.web.sessions import token
from soakage.web.shapes import Shape

ROUTER = Router("session", open=True, prefix="/api/session", tags=["session"])


class Session(Shape):
    """Who asks; name and role are null where nobody has logged in."""

    name: str | None
    role: Role | None
    authenticated: bool
    csrf: str


class Credentials(Shape):
    """What somebody logs in with."""

    name: str
    password: str


@ROUTER.get("")
def read_session(request: Request) -> Session:
    """Return who asks, with the token that the header X-CSRF-Token of every change carries."""
    who = person(request)
    return Session(
        name=who.name if who else None,
        role=who.role if who else None,
        authenticated=who.authenticated if who else False,
        csrf=form_token(request),
    )


@ROUTER.post("")
def begin_session(request: Request, response: Response, credentials: Credentials) -> Session:
    """Log in; the answer sets the session's cookie."""
    answer = log_in(request, credentials.name, credentials.password)
    if isinstance(answer, Refused):
        headers = {"Retry-After": str(answer.wait)} if answer.wait else None
        raise HTTPException(answer.status, answer.sentence, headers)
    shared = house(request)
    who = shared.sessions.person(answer)
    set_session(response, shared, answer)
    csrf = token(shared.settings.secret, answer)
    return Session(
        name=who.name if who else None, role=who.role if who else None, authenticated=True, csrf=csrf
    )


@ROUTER.delete("", status_code=204)
def end_session(request: Request) -> Response:
    """Log out."""
    shared = house(request)
    log_out(request, request.cookies.get(cookie_name(shared), ""))
    answer = Response(status_code=204)
    answer.delete_cookie(
        cookie_name(shared), path="/", secure=shared.settings.secure, httponly=True, samesite="strict"
    )
    return answer
