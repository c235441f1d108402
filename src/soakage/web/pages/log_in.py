"""Log in and log out, where there are accounts."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Request
from fastapi.responses import RedirectResponse, Response

from soakage.web.house import house
from soakage.web.logging_in import Refused, local
from soakage.web.logging_in import log_in as logged_in
from soakage.web.logging_in import log_out as ended
from soakage.web.people import cookie_name, set_session
from soakage.web.rendering import page
from soakage.web.routing import Router

ROUTER = Router("log-in", open=True)


@ROUTER.get("/log-in", name="log-in")
def show(request: Request, to: str = "/") -> Response:
    """Show the form."""
    return page(request, "log_in.html", title="Log in", to=local(to), problem="")


@ROUTER.post("/log-in")
def log_in(
    request: Request,
    name: Annotated[str, Form()],
    password: Annotated[str, Form()],
    to: Annotated[str, Form()] = "/",
) -> Response:
    """Log in and go on to where the person wanted to be."""
    answer = logged_in(request, name, password)
    if isinstance(answer, Refused):
        return page(
            request,
            "log_in.html",
            title="Log in",
            to=local(to),
            problem=answer.sentence,
            status=answer.status,
        )
    going = RedirectResponse(local(to), 303)
    set_session(going, house(request), answer)
    return going


@ROUTER.post("/log-out")
def log_out(request: Request) -> Response:
    """End the session."""
    shared = house(request)
    ended(request, request.cookies.get(cookie_name(shared), ""))
    going = RedirectResponse("/", 303)
    going.delete_cookie(
        cookie_name(shared), path="/", secure=shared.settings.secure, httponly=True, samesite="strict"
    )
    return going
