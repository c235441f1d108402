"""What waits for somebody, and what falls due."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Query, Request

from soakage import __version__
from soakage.app.contract_json import CONTRACT
from soakage.app.due import WorkItem
from soakage.app.trend_json import due_json
from soakage.web.filters import Asked
from soakage.web.pages.start import worked_out
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.start_view import TOLD, waiting
from soakage.web.stored import Memory
from soakage.wiring.looking import day_given

ROUTER = Router("waiting", prefix="/api", tags=["start"])
Json = dict[str, Any]


class Work(Shape):
    """One section to test; ``asset_id`` beside the words of ``due --json``."""

    asset_id: str
    asset: str
    section: str
    due: str
    why: str
    last_status: str
    last: str
    source: str


class WorkList(Shape):
    """What falls due up to a day, and how many assets were looked at with all their history."""

    soakage: str
    contract: int
    by: str
    looked_at: int
    dated: int
    bound: str
    due: list[Work]


@ROUTER.get("/waiting")
def read_waiting(memory: Memory, most: Annotated[int, Query(ge=1, le=200)] = TOLD) -> Json:
    """Return what needs a decision, what is in conflict and what is unfinished; at most so many of each in full."""
    return {"soakage": __version__, "contract": CONTRACT, **waiting(memory, most)}


@ROUTER.get("/due")
def read_due(
    request: Request, memory: Memory, asked: Asked, by: Annotated[str, Query(max_length=20)] = ""
) -> WorkList:
    """Return what falls due up to a day, the earliest first; ``bound`` says what was not looked at."""
    found = worked_out(request, memory, day_given("by", by.strip() or None), asked)
    return WorkList(
        soakage=__version__,
        contract=CONTRACT,
        by=found.by.isoformat(),
        looked_at=found.looked_at,
        dated=found.dated,
        bound=found.bound,
        due=[_work(asset, item) for asset, item in found.items],
    )


def _work(asset: str, item: WorkItem) -> Work:
    return Work(asset_id=asset, **due_json([item])[0])
