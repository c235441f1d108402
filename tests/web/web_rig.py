"""What tests of pages stand on: a client, a server that answers, a browser that reports what it did not like."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import pytest

if TYPE_CHECKING:
    from fastapi.testclient import TestClient
    from playwright.sync_api import Browser, ConsoleMessage, Page

    from soakage.web.run import Running
    from soakage.web.settings import Settings

CHROMIUM = "/usr/bin/chromium"
PORT = 8650
Scheme = Literal["light", "dark"]
Visit = Callable[..., "Page"]


@pytest.fixture(scope="session")
def web_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep the chart library for the whole run; another run finds it where SOAKAGE_TEST_CACHE says."""
    kept = os.environ.get("SOAKAGE_TEST_CACHE")
    return Path(kept) if kept else tmp_path_factory.mktemp("cache")


@pytest.fixture(autouse=True)
def store_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have no test of pages touch the store of whoever runs it."""
    monkeypatch.setenv("SOAKAGE_STORE", str(tmp_path / "store.sqlite"))


@pytest.fixture
def web_settings(web_cache: Path, tmp_path: Path) -> Settings:
    """Return settings of the loopback address, the page of components served."""
    from soakage.web.settings import Settings

    store = str(tmp_path / "store.sqlite")
    return Settings(port=PORT, store=store, developer=True, stated_name="R. Amsel", cache=web_cache)


@pytest.fixture
def client(web_settings: Settings) -> Iterator[TestClient]:
    """Yield a client of a fresh server, as a program on this machine would be."""
    from fastapi.testclient import TestClient

    from soakage.web.run import let_go
    from soakage.web.server import create_app

    app = create_app(web_settings)
    with TestClient(app, base_url=f"http://127.0.0.1:{PORT}") as opened:
        yield opened
    let_go(app)


@pytest.fixture(scope="session")
def live(web_cache: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Yield a server on a free port of the loopback address."""
    from soakage.web.run import Running
    from soakage.web.settings import Settings

    store = str(tmp_path_factory.mktemp("live") / "store.sqlite")
    settings = Settings(port=0, store=store, developer=True, stated_name="R. Amsel", cache=web_cache)
    with Running(settings) as running:
        yield running


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Start the system's Chromium; in a container it has no sandbox of its own."""
    return {"executable_path": CHROMIUM, "args": ["--no-sandbox"], "headless": True}


@pytest.fixture(scope="session")
def shots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return where pictures of pages go: the folder SOAKAGE_SHOTS names, else a passing one."""
    named = os.environ.get("SOAKAGE_SHOTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("shots")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture
def visit(browser: Browser, live: Running) -> Iterator[Visit]:
    """Yield a way to open a page; at the end the browser must have had nothing to complain of.

    Anything written to the console, any script that broke, any load that failed or went elsewhere counts,
    and with them every breach of the content security policy.
    """
    opened, complaints = [], []

    def go(
        path: str,
        width: int = 1280,
        height: int = 800,
        scheme: Scheme = "light",
        *,
        status: int = 200,
        expected: str = "\0",
        **more: Any,
    ) -> Page:
        context = browser.new_context(
            color_scheme=scheme, viewport={"width": width, "height": height}, **more
        )
        opened.append(context)
        page = context.new_page()
        awaited = expected if status == 200 else f"status of {status}"

        def said(message: ConsoleMessage) -> None:
            if message.type in ("error", "warning") and awaited not in message.text:
                complaints.append(f"{message.type}: {message.text}")

        page.on("console", said)
        page.on("pageerror", lambda problem: complaints.append(f"script: {problem}"))
        page.on(
            "requestfailed",
            lambda request: (
                None
                if request.failure == "net::ERR_ABORTED"  # the page was left meanwhile, or a file was saved
                else complaints.append(f"not loaded: {request.url} {request.failure}")
            ),
        )
        page.on(
            "request",
            lambda request: (
                None
                if request.url.startswith((live.address, "data:", "blob:"))
                else complaints.append(f"outside: {request.url}")
            ),
        )
        answer = page.goto(live.address.rstrip("/") + path)
        assert answer is not None
        assert answer.status == status
        return page

    yield go
    for context in opened:
        context.close()
    assert complaints == []
