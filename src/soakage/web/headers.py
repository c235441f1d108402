"""What every answer says to the browser, and what is written down about it."""

from __future__ import annotations

import logging
import time
from collections.abc import MutableMapping
from typing import Any

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from soakage.web.failures import unforeseen
from soakage.web.house import House
from soakage.web.people import cookie_name
from soakage.web.sessions import new_id

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; media-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_EVERY = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # with none at all a browser says its forms come from nowhere
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
_log = logging.getLogger("soakage.web")


class Answers:
    """Middleware: headers of every answer, one line in the log, one count.

    Parameters
    ----------
    app : ASGI app
        What answers.
    shared : House
        Settings and metrics.
    """

    def __init__(self, app: ASGIApp, shared: House) -> None:
        self._app, self._shared = app, shared

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand on a request and complete its answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began, status = time.perf_counter(), 0
        scope.setdefault("state", {})["request"] = new_id()[:12]

        async def complete(message: MutableMapping[str, Any]) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                self._complete(scope, MutableHeaders(scope=message))
            await send(message)

        try:
            await self._app(scope, receive, complete)
        except Exception as problem:
            if status:  # the answer is on its way: nothing else can be said
                raise
            await unforeseen(Request(scope), problem)(scope, receive, complete)
        finally:
            seconds = time.perf_counter() - began
            route = getattr(scope.get("route"), "path", "other")
            self._shared.metrics.add(scope["method"], route, status, seconds)
            # Never the query, the headers or the body: they hold names, tokens and passwords.
            _log.info(
                "request",
                extra={
                    "told": {
                        "request": scope["state"]["request"],
                        "method": scope["method"],
                        "route": route,
                        "status": status,
                        "milliseconds": round(1000 * seconds, 1),
                    }
                },
            )

    def _complete(self, scope: Scope, headers: MutableHeaders) -> None:
        for name, value in _EVERY.items():
            headers[name] = value
        headers.setdefault("Content-Security-Policy", POLICY)
        headers.setdefault("Cache-Control", "no-store")
        settings = self._shared.settings
        if settings.secure:
            headers["Strict-Transport-Security"] = "max-age=31536000"
        begun = scope["state"].get("new_session")
        if begun and "set-cookie" not in headers:
            secure = "; Secure" if settings.secure else ""
            headers.append(
                "Set-Cookie",
                f"{cookie_name(self._shared)}={begun}; HttpOnly; Path=/; SameSite=Strict{secure}",
            )
