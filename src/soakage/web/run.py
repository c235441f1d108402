"""Runs the server until it is told to stop."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Self

import uvicorn
from fastapi import FastAPI

from soakage.errors import UsageError
from soakage.web import logs
from soakage.web.accounts import Accounts
from soakage.web.server import create_app
from soakage.web.settings import Settings


class Running:
    """A server in a thread of its own, for tests and for programs that open a page.

    Parameters
    ----------
    settings : Settings
        What it is started with; port 0 picks a free one.
    accounts : Accounts or None
        Who may log in.
    """

    def __init__(self, settings: Settings, accounts: Accounts | None = None) -> None:
        self._socket = listening(settings)
        self.settings = replace(settings, port=self._socket.getsockname()[1])
        self.address = address(self.settings)
        self.app = create_app(self.settings, accounts)
        self._server = uvicorn.Server(_config(self.settings, self.app))
        self._thread = threading.Thread(target=self._server.run, args=([self._socket],), daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        while not self._server.started and self._thread.is_alive():
            self._thread.join(0.01)
        return self

    def __exit__(self, *problem: object) -> None:
        self._server.should_exit = True
        self._thread.join(10)
        self._socket.close()
        let_go(self.app)


def serve(settings: Settings, accounts: Accounts | None = None, ready: Callable[[str], None] = print) -> None:
    """Serve until interrupted.

    Parameters
    ----------
    settings : Settings
        What it is started with; port 0 picks a free one.
    accounts : Accounts or None
        Who may log in.
    ready : callable
        Told the address when it answers there.

    Raises
    ------
    UsageError
        When the address is taken, or open to others without accounts and TLS.
    """
    logs.set_up()
    with listening(settings) as taken:
        settings = replace(settings, port=taken.getsockname()[1])
        app = create_app(settings, accounts)
        try:
            _Told(_config(settings, app), lambda: ready(address(settings))).run([taken])
        finally:
            let_go(app)


def let_go(app: FastAPI) -> None:
    """End the long work of an app, remove files that were brought, and close its store."""
    app.state.house.jobs.close()
    app.state.house.batches.close()
    app.state.store.close()


def listening(settings: Settings) -> socket.socket:
    """Return a socket that listens at the address of the settings.

    Raises
    ------
    UsageError
        When it is taken or is none of this machine's.
    """
    try:
        family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
        return socket.create_server((settings.host, settings.port), family=family, backlog=256)
    except OSError as problem:
        raise UsageError(
            f"Cannot listen at {settings.host}, port {settings.port}: {problem.strerror or problem}. "
            "Another program may be there. Give another with --port, or --port 0 for any that is free."
        ) from None


def address(settings: Settings) -> str:
    """Return the address that a browser opens."""
    scheme = "https" if settings.certificate else "http"
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"{scheme}://{host}:{settings.port}/"


class _Told(uvicorn.Server):
    """A server that says when it answers."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()


def _config(settings: Settings, app: FastAPI) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        # An open event stream would hold the server for ever.
        timeout_graceful_shutdown=1,
        server_header=False,
        proxy_headers=settings.behind_proxy,
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.key,
        lifespan="off",
    )
