"""Helps tests of plans and sheets: an invented motor, and a page that sends what happens."""

from __future__ import annotations

import itertools
from typing import Any

from fastapi.testclient import TestClient

from web_help import token

PLATE = {
    "asset": "Mill 2 motor", "site": "Alder Mill (invented)", "class": "rotating-machine", "rated_voltage": "6.6 kV",
    "winding": "form-wound", "insulation": "epoxy-mica", "thermal_class": "F", "year": "2010", "neutral": "opened",
}  # fmt: skip
TEN_MINUTES = (
    (15, "378 MΩ"),
    (30, "641 MΩ"),
    (60, "1.08 GΩ"),
    (190, "2.2 GΩ"),
    (300, "3,1 GΩ"),
    (600, "4.6 GΩ"),
)
_keys = itertools.count(10_000_000)


class Taking:
    """A sheet as a page takes it, over the API.

    Parameters
    ----------
    client : TestClient
        Of a running server.
    values : dict, optional
        Nameplate and questions as typed.
    **more : object
        More of what a sheet is begun with.
    """

    def __init__(self, client: TestClient, values: dict[str, str] | None = None, **more: Any) -> None:
        self.client = client
        self.state = self._post("/api/drafts", {"values": PLATE if values is None else values, **more}, 201)
        self.id = str(self.state["draft"])

    def _post(self, path: str, body: dict[str, Any], status: int = 200) -> dict[str, Any]:
        answer = self.client.post(path, json=body, headers=token(self.client))
        assert answer.status_code == status, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def send(self, kind: str, sheet: int = 0, status: int = 200, **body: Any) -> dict[str, Any]:
        """Send what happened under the next number; return the answer."""
        given = {
            "number": self.state["next"],
            "key": f"page-{next(_keys)}",
            "sheet": sheet,
            "kind": kind,
            **body,
        }
        said = self._post(f"/api/drafts/{self.id}/rows", given, status)
        if status == 200:
            self.state = said
        return said

    def sheet(self, place: int = 0) -> dict[str, Any]:
        """Return one sheet as it stands."""
        found: dict[str, Any] = self.state["sheets"][place]
        return found

    def begin(self, sheet: int = 0, ago: float = 0.0) -> None:
        """Say what was found and start the clock, so long ago."""
        self.send("found", sheet, dc="3 V", ac="0 V", apply="5 kV")
        self.send("started", sheet, ago=ago)

    def whole(self, sheet: int = 0) -> None:
        """Take ten minutes of readings, and end."""
        self.begin(sheet, 620.0)
        for time, text in TEN_MINUTES:
            self.send("reading", sheet, mark=float(time), time=float(time), text=text)
        self.send("ended", sheet, how="complete")

    def keep(self, status: int = 201) -> dict[str, Any]:
        """Receive it as tests."""
        return self._post(f"/api/drafts/{self.id}/keep", {}, status)
