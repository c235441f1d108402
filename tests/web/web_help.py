"""Small helpers of the tests of pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

from soakage.web.accounts import Account, MemoryAccounts, Role, account
from soakage.web.server import create_app
from soakage.web.settings import Settings

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

PASSWORD = "four lapped layers of paper"  # noqa: S105 - of invented people
OUTSIDE = "https://soakage.test"


def token(client: TestClient) -> dict[str, str]:
    """Return the header that a change carries."""
    return {"X-CSRF-Token": str(client.get("/api/session").json()["csrf"])}


def accounts(*given: tuple[str, Role]) -> MemoryAccounts:
    """Return accounts that all have one password."""
    return MemoryAccounts(*(_made(name, role) for name, role in given))


_hashed: dict[tuple[str, Role], Account] = {}


def _made(name: str, role: Role) -> Account:
    if (name, role) not in _hashed:
        _hashed[name, role] = account(name, PASSWORD, role)
    return _hashed[name, role]


def outside(*given: tuple[str, Role], **more: Any) -> FastAPI:
    """Return an app as it runs behind a proxy for others."""
    settings = Settings(host="0.0.0.0", behind_proxy=True, names=("soakage.test",), **more)  # noqa: S104
    return create_app(settings, accounts(*(given or (("R. Amsel", Role.ADMINISTER),))))


def outside_client(*given: tuple[str, Role], **more: Any) -> TestClient:
    """Return a client of such an app."""
    return TestClient(outside(*given, **more), base_url=OUTSIDE, follow_redirects=False)


def log_in(client: TestClient, name: str = "R. Amsel", password: str = PASSWORD) -> int:
    """Log in and return the status of the answer."""
    given = {"name": name, "password": password}
    return int(client.post("/api/session", json=given, headers=token(client)).status_code)


def described_operations() -> list[str]:
    """Return method and path of everything the API describes."""
    paths = create_app(Settings()).openapi()["paths"]
    return [f"{method.upper()} {path}" for path, methods in paths.items() for method in methods]


def no_violations(page: Page) -> None:
    """Hold a page against the rules of axe for WCAG 2.2 A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = Axe().run(page, options={"runOnly": tags})
    told = [
        f"{rule['id']}: {node['html'][:160]} {node['failureSummary']}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]
    assert told == []


def picture(page: Page, folder: Path, name: str) -> None:
    """Keep a picture of a whole page."""
    page.screenshot(path=folder / f"{name}.png", full_page=True)
