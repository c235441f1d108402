"""What is answered when something cannot be done: faults in JSON for the API, a page for people."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from soakage.app.contract_json import fault_json
from soakage.errors import Fault, InputError, QuantityError, SoakageError
from soakage.web.people import LogInNeededError
from soakage.web.rendering import page
from soakage.web.shapes import fault

_log = logging.getLogger("soakage.web")
_HEADS = {
    400: "That cannot be read.",
    401: "Log in first.",
    403: "That is not allowed.",
    404: "There is no such page.",
    405: "That is not done here.",
    409: "It was changed meanwhile.",
    413: "That is too large.",
    422: "Something in it is not allowed.",
    429: "Too often.",
    500: "Soakage could not do that.",
}
_SECRET = ("password", "csrf", "token")


def register(app: FastAPI) -> None:
    """Have an app answer every failure in one shape."""
    app.add_exception_handler(LogInNeededError, _log_in)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(SoakageError, _ours)


def failed(
    request: Request, status: int, faults: Iterable[Fault], headers: Mapping[str, str] | None = None
) -> Response:
    """Return the answer to what could not be done.

    Parameters
    ----------
    request : Request
        A page is answered to a browser, JSON to everything else.
    status : int
        HTTP status.
    faults : iterable of Fault
        Everything that was wrong.
    headers : mapping or None
        More to say.
    """
    listed = list(faults)
    asks_page = "text/html" in request.headers.get("accept", "")
    if not asks_page or request.url.path.startswith("/api/"):
        return JSONResponse({"errors": [fault_json(one) for one in listed]}, status, headers)
    head = _HEADS.get(status, "That cannot be done.")
    return page(request, "error.html", title=head, head=head, faults=listed, status=status, headers=headers)


async def _log_in(request: Request, problem: Exception) -> Response:
    del problem
    if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
        wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return RedirectResponse(f"/log-in?{urlencode({'to': wanted})}", 303)
    return failed(request, 401, [fault("Nobody has logged in.", remedy="Log in, then do it again.")])


async def _http(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, HTTPException)  # noqa: S101 - registered for it
    said = {404: "Nothing is kept at this address.", 405: "This address does not do that."}
    text = said.get(problem.status_code, str(problem.detail))
    if problem.detail != "Not Found" and problem.status_code == 404:
        text = str(problem.detail)
    return failed(request, problem.status_code, [fault(text)], problem.headers)


async def _not_valid(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, RequestValidationError)  # noqa: S101 - registered for it
    return failed(request, 422, [_fault_of(error) for error in problem.errors()])


def _fault_of(error: Mapping[str, object]) -> Fault:
    place = error.get("loc", ())
    steps = [str(step) for step in place] if isinstance(place, tuple | list) else []
    field = ".".join(steps[1:]) if len(steps) > 1 else "".join(steps)
    hidden = any(word in step.lower() for step in steps for word in _SECRET)
    given = "" if hidden or error.get("type") == "missing" else _short(error.get("input"))
    return fault(f"{error.get('msg')}.", field=field, given=given)


def _short(value: object) -> str:
    text = value if isinstance(value, str) else repr(value)
    text = text.encode("utf-8", "replace").decode()
    return text if len(text) <= 120 else f"{text[:119]}…"


async def _ours(request: Request, problem: Exception) -> Response:
    if isinstance(problem, InputError):
        return failed(request, 422, problem.faults)
    if isinstance(problem, QuantityError):
        return failed(request, 422, [problem.fault()])
    return failed(request, 400, [fault(str(problem))])


def unforeseen(request: Request, problem: Exception) -> Response:
    """Return the answer to a fault in Soakage itself, and write it down."""
    number = str(getattr(request.state, "request", ""))
    _log.error("failure", exc_info=problem, extra={"told": {"request": number}})
    told = fault(
        "A fault in Soakage itself; nothing of this request was kept.",
        remedy=f"Try again. If it comes again, look in the log for request {number}.",
    )
    return failed(request, 500, [told])
