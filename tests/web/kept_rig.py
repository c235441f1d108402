"""A server with the invented scenario in its store, for the tests of the pages of a test."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from fastapi.testclient import TestClient
    from httpx import Response

    from soakage.web.settings import Settings

PAGE = {"Accept": "text/html"}
OVER_RANGE = "board-2-l3.csv"


@pytest.fixture(scope="session")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Import the files of the scenario into a store, once for the whole run."""
    from soakage.demo.make import demo_files
    from soakage.wiring import rules
    from soakage.wiring.memory import memory
    from soakage.wiring.taking import import_files

    folder = tmp_path_factory.mktemp("scenario")
    paths = []
    for name, text in demo_files().items():
        (folder / name).write_text(text, encoding="utf-8")
        paths.append(str(folder / name))
    hands = memory(str(folder / "store.sqlite"), "T. Ester")
    with hands.store:
        import_files(hands, paths, rules())
    return folder / "store.sqlite"


def copied(source: Path, target: Path) -> Path:
    """Copy a store with everything that is in it."""
    with sqlite3.connect(source) as old, sqlite3.connect(target) as new:
        old.backup(new)
    old.close()
    new.close()
    return target


def ids_in(store: Path) -> dict[str, str]:
    """Return the ids of the tests of a store by the name of the file they came in; rows with their line."""
    with sqlite3.connect(store) as opened:
        found = opened.execute('select file, "row", id from test order by id').fetchall()
    opened.close()
    return {f"{Path(file).name}{'' if row is None else f':{row}'}": test for file, row, test in found}


@dataclass
class Kept:
    """A client of a server, and the ids of the tests in its store.

    Parameters
    ----------
    client : TestClient
        Of the server.
    ids : dict
        Id by file, and by file and line in a schedule.
    """

    client: TestClient
    ids: dict[str, str]
    _token: str = field(default="", repr=False)

    @property
    def token(self) -> str:
        """Token that changes carry."""
        self._token = self._token or str(self.client.get("/api/session").json()["csrf"])
        return str(self._token)

    def page(self, name: str, more: str = "", status: int = 200) -> str:
        """Return a page of a test as text."""
        answer = self.client.get(f"/tests/{self.ids.get(name, name)}{more}", headers=PAGE)
        assert answer.status_code == status, answer.text[:400]
        return str(answer.text)

    def post(self, name: str, form: str, /, files: Any = None, **fields: str) -> Response:
        """Send a form of a test; what it leads to is not followed."""
        answer: Response = self.client.post(
            f"/tests/{self.ids.get(name, name)}/{form}", data={"csrf": self.token, **fields}, files=files,
            headers=PAGE, follow_redirects=False,
        )  # fmt: skip
        return answer

    def api(self, name: str, more: str = "", body: Any = None, status: int = 200, **sent: Any) -> Any:
        """Ask the API for a test, or have it do something."""
        path = f"/api/tests/{self.ids.get(name, name)}{more}"
        if body is None and not sent:
            answer = self.client.get(path)
        else:
            answer = self.client.post(path, json=body, headers={"X-CSRF-Token": self.token}, **sent)
        assert answer.status_code == status, answer.text[:400]
        return answer.json()

    def form(self, name: str) -> dict[str, str]:
        """Return the fields of the form a test is revised with, as a browser would send them back."""
        text = self.page(name, "/revise")
        found = re.findall(r'name="((?:key|cell)-[^"]+)" value="([^"]*)"', text)
        return {field: unescape(value) for field, value in found}


@pytest.fixture
def kept(scenario: Path, web_settings: Settings, client: TestClient) -> Kept:
    """Return a server with the scenario in its store, fresh for this test."""
    store = copied(scenario, Path(str(web_settings.store)))
    return Kept(client, ids_in(store))


def words(text: str) -> str:
    """Return a page as a person reads it: no tags, no-break spaces as plain ones, one space between words."""
    plain = re.sub(r"<(script|style)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", plain)).replace("\u00a0", " ").split())


def faults(text: str) -> list[str]:
    """Return what a page says that was wrong."""
    return [
        words(found) for found in re.findall(r'<div class="error" role="alert">(.*?)</div>', text, re.DOTALL)
    ]
