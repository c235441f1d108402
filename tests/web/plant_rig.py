"""A server with part of the invented plant in its store, for the tests of start, assets and all plant."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from kept_rig import copied

if TYPE_CHECKING:
    from fastapi.testclient import TestClient

    from soakage.web.run import Running
    from soakage.web.settings import Settings

PAGE = {"Accept": "text/html"}
ASSETS = ("mill-1-motor", "ash-pump-2-motor", "ash-pump-1-motor", "mill-2-motor", "kiln-fan-1-motor", "intake-cable",
          "house-board", "set-transformer", "old-exhauster-motor")  # fmt: skip


@pytest.fixture(scope="session")
def small_plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep nine assets of the invented history in a store, once for the whole run."""
    from soakage.app.intake import Incoming, take_in
    from soakage.demo.history import history_files
    from soakage.importers.reading import read_bytes
    from soakage.wiring import rules
    from soakage.wiring.memory import memory

    where = tmp_path_factory.mktemp("plant") / "store.sqlite"
    hands = memory(str(where), "T. Ester")
    with hands.store:
        files = {
            name: text.encode()
            for name, text in history_files().items()
            if any(f"/{asset}/" in f"/{name}" for asset in ASSETS)
        }
        take_in(
            hands, (Incoming(name, data, read_bytes(data, name)) for name, data in files.items()), rules()
        )
    return where


class Plant:
    """A client of a server, with a store of its own."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self._token = ""

    def page(self, address: str, status: int = 200) -> str:
        """Return a page as text, as a browser would ask for it."""
        answer = self.client.get(address, headers=PAGE)
        assert answer.status_code == status, answer.text[:300]
        return str(answer.text)

    def json(self, address: str, status: int = 200) -> Any:
        """Return an answer of the API."""
        answer = self.client.get(address)
        assert answer.status_code == status, answer.text[:300]
        return answer.json()

    def id(self, name: str) -> str:
        """Return the id of the asset of a name."""
        (found,) = [one for one in self.json("/api/assets?limit=1000")["assets"] if one["asset"] == name]
        return str(found["id"])

    @property
    def token(self) -> str:
        """Token that changes carry."""
        self._token = self._token or str(self.client.get("/api/session").json()["csrf"])
        return self._token

    def post(self, address: str, fields: dict[str, str], **more: Any) -> Any:
        """Send a form as a page does."""
        data = {"csrf": self.token, **fields}
        return self.client.post(address, data=data, headers=PAGE, follow_redirects=False, **more)

    def send(self, method: str, address: str, body: Any, **more: Any) -> Any:
        """Send a change to the API."""
        return self.client.request(method, address, json=body, headers={"X-CSRF-Token": self.token}, **more)


@pytest.fixture
def plant(small_plant: Path, web_settings: Settings) -> Iterator[Plant]:
    """Yield a client of a server with a copy of the invented plant."""
    from fastapi.testclient import TestClient

    from soakage.web.server import create_app

    copied(small_plant, Path(web_settings.store))
    app = create_app(web_settings)
    with TestClient(app, base_url=f"http://127.0.0.1:{web_settings.port}") as opened:
        yield Plant(opened)
    app.state.store.close()


@pytest.fixture
def bare(client: TestClient) -> Plant:
    """Return a client of a server with an empty store."""
    return Plant(client)


@pytest.fixture(scope="session")
def plant_live(
    small_plant: Path, web_cache: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Running]:
    """Yield a server of the invented plant on a free port."""
    from soakage.web.run import Running
    from soakage.web.settings import Settings

    store = copied(small_plant, tmp_path_factory.mktemp("live-plant") / "store.sqlite")
    with Running(Settings(port=0, store=str(store), stated_name="R. Amsel", cache=web_cache)) as running:
        yield running
