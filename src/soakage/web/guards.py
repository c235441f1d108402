"""What is refused before any page is asked: other hosts, other sites, bodies too large."""

from __future__ import annotations

import json
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from soakage.app.contract_json import fault_json
from soakage.web.people import EXCHANGE, UNSAFE
from soakage.web.settings import Settings, is_loopback
from soakage.web.shapes import fault

_FILES = ("multipart/form-data", "application/octet-stream", "application/zip")


class Guards:
    """Middleware: what comes from another host name or another site never reaches a page.

    Parameters
    ----------
    app : ASGI app
        What is guarded.
    settings : Settings
        Host names it is reached by, and how large a body may be.
    """

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app, self._settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request that is refused; hand on every other."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._wrong_host(headers) or self._other_site(scope, headers) or self._body(scope, headers)
        if refused is None:
            await self._app(scope, receive, send)
            return
        await _answer(send, *refused)

    def _wrong_host(self, headers: Headers) -> tuple[int, str] | None:
        """Refuse another host name: a page elsewhere can give its own name our address."""
        named = headers.getlist("host")
        name = _host(named[0]) if len(named) == 1 else ""
        if name in self._settings.names or (is_loopback(name) and self._settings.on_loopback):
            return None
        if name and not self._settings.on_loopback and not self._settings.names:
            return None
        return 421, "This server is not reached by that name. Use the address it printed at its start."

    def _other_site(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Refuse what another site makes the browser send; following a link to a page is let through."""
        said = (403, "This came from another site. Open Soakage in its own tab.")
        unsafe = scope["method"] in UNSAFE
        origin = headers.get("origin")
        if origin is not None and (unsafe or origin == "null") and not self._same(origin, scope, headers):
            return said
        site = headers.get("sec-fetch-site")
        if site in (None, "same-origin") or (site == "none" and not unsafe):
            return None
        followed = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        return None if followed and not unsafe else said

    def _same(self, origin: str, scope: Scope, headers: Headers) -> bool:
        scheme = "https" if self._settings.secure else scope["scheme"]
        return origin == f"{scheme}://{headers.get('host', '')}"

    def _body(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        if "transfer-encoding" in headers:
            return 411, "A body without its length is not read. Send Content-Length."
        length = headers.get("content-length", "0")
        limit = self._settings.body_limit
        if scope["method"] in UNSAFE and headers.get("content-type", "").startswith(_FILES):
            limit = self._settings.upload_limit
        if scope["path"].startswith(f"{EXCHANGE}/"):
            limit = self._settings.exchange_limit
        if not length.isascii() or not length.isdigit():
            return 400, "Content-Length is no number."
        if len(length) > 15 or int(length) > limit:
            return 413, f"That is too large. Given: {length} bytes. Allowed: {limit}. Send it in parts."
        return None


def _host(header: str) -> str:
    try:
        return urlsplit(f"//{header}").hostname or ""
    except ValueError:
        return ""


async def _answer(send: Send, status: int, problem: str) -> None:
    body = json.dumps({"errors": [fault_json(fault(problem))]}, ensure_ascii=False).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    # The body that came with it was not read: the connection cannot be used again.
    headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
