"""All plant: ranked, counted by class and status, spread among peers, exported."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Query, Request
from fastapi.responses import Response

from soakage.store.plant import By, counted, ranked
from soakage.web import plant_view
from soakage.web.filters import PAGE, Asked
from soakage.web.memo import remembered
from soakage.web.pages.plant import file_of
from soakage.web.plant_export import MEDIA, Form, row_json
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.stored import Memory

ROUTER = Router("all-plant", prefix="/api/plant", tags=["plant"])
Limit = Annotated[int, Query(ge=1, le=1000)]
Offset = Annotated[int, Query(ge=0, le=10_000_000)]


class RankedAsset(Shape):
    """Where an asset stands; values in SI, ``change`` is the newest resistance over the one before, less one."""

    id: str
    site: str | None
    asset: str | None
    tag: str | None
    serial: str | None
    rated_voltage: float | None
    status: str | None
    last_day: str | None
    tests: int
    unsigned: int
    resistance: float | None
    index: float | None
    change: float | None
    asset_class: str | None


class Ranking(Shape):
    """A part of the ranking, and whether there is more."""

    assets: list[RankedAsset]
    more: bool


class Count(Shape):
    """How many assets of a class have a status; null where none is stated, or where there is no test."""

    asset_class: str | None
    status: str | None
    count: int


class Counts(Shape):
    """How many assets in service there are of each class and status."""

    counts: list[Count]


class PeerGroup(Shape):
    """Like assets: class and rated voltage in words, how many, and their resistances."""

    name: str
    voltage: str
    count: int
    middle: str
    band: str
    lowest: list[dict[str, Any]]


class Peers(Shape):
    """The spread of like assets."""

    groups: list[PeerGroup]


@ROUTER.get("")
def read_ranking(
    memory: Memory, asked: Asked, by: By = "condition", limit: Limit = PAGE, offset: Offset = 0
) -> Ranking:
    """Return assets in service, the neediest first."""
    with memory.store.reading() as connection:
        rows = ranked(connection, asked.wanted, by=by, limit=limit + 1, offset=offset)
    return Ranking(assets=[_shape(row) for row in rows[:limit]], more=len(rows) > limit)


def _shape(row: dict[str, Any]) -> RankedAsset:
    told = row_json(row)
    return RankedAsset(asset_class=told.pop("class"), **told)


@ROUTER.get("/counts")
def read_counts(memory: Memory, asked: Asked) -> Counts:
    """Return how many assets there are of each class and status."""
    with memory.store.reading() as connection:
        found = counted(connection, asked.wanted)
    return Counts(
        counts=[Count(asset_class=one["class"], status=one["status"], count=one["count"]) for one in found]
    )


@ROUTER.get("/peers")
def read_peers(request: Request, memory: Memory, asked: Asked) -> Peers:
    """Return the spread of the newest resistances of like assets."""
    key = ("peers", asked.address(""))
    found = remembered(request, key, lambda: plant_view.peers(memory, asked))
    names = PeerGroup.model_fields
    return Peers(groups=[PeerGroup(**{name: one[name] for name in names}) for one in found["groups"]])


@ROUTER.get(
    "/export.{form}",
    response_class=Response,
    responses={200: {"content": {media.split(";")[0]: {} for media in MEDIA.values()}}},
)
def export_ranking(memory: Memory, asked: Asked, form: Form, by: By = "condition") -> Response:
    """Return the whole ranking as CSV, a spreadsheet or JSON; no text of it becomes a formula."""
    return file_of(memory, asked, form, by)
