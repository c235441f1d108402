"""Sheets taken by hand: begun on a plan, filled row by row, received as tests.  Nothing here switches anything on."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Path, Query, Request
from fastapi.responses import Response
from pydantic import Field

from soakage.app.capture import read_value
from soakage.app.intake_json import intake_json
from soakage.errors import InputError, QuantityError
from soakage.model.keys import KEYS
from soakage.store.store import microseconds
from soakage.units import format_quantity
from soakage.web import taking_actions as actions
from soakage.web.house import house
from soakage.web.people import Tester
from soakage.web.planning import Asked, asked_of, planned
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.stored import Memory
from soakage.web.taking_view import state
from soakage.wiring.sheets import begin_sheet

ROUTER = Router("drafts", prefix="/api", tags=["sheets"])
Json = dict[str, Any]
Draft = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of a sheet.")]
Asset = Annotated[str, Field(pattern="^[0-9a-f]{32}$")]
Word = Annotated[str, Field(max_length=actions.LONGEST)]
Seconds = Annotated[float, Field(ge=0, le=1e7)]
KINDS = Literal["found", "started", "reading", "changed", "undone", "answered", "ended", "earthed"]


class BeginBody(Shape):
    """What is to be taken: an asset of the register or a nameplate, the tests, and which connections of the plan."""

    asset: Asset | None = None
    values: dict[str, Word] = Field(default_factory=dict, max_length=len(KEYS))
    methods: list[Word] = Field(default_factory=list, max_length=12)
    connections: list[Annotated[int, Field(ge=0, le=200)]] = Field(default_factory=list, max_length=200)
    ticks: list[Word] = Field(default_factory=list, max_length=100)


class RowBody(Shape):
    """One thing that happened: its number and a key of its own, how long ago, and what belongs to its kind."""

    number: Annotated[int, Field(ge=1, le=10_000)]
    key: Annotated[str, Field(pattern="^[0-9A-Za-z-]{8,64}$")]
    sheet: Annotated[int, Field(ge=0, le=200)]
    kind: KINDS
    ago: Seconds = 0.0
    mark: Seconds | None = None
    time: Seconds | None = None
    text: Annotated[str, Field(max_length=100)] = ""
    of: Annotated[int, Field(ge=1, le=10_000)] | None = None
    dc: Annotated[str, Field(max_length=60)] = ""
    ac: Annotated[str, Field(max_length=60)] = ""
    apply: Annotated[str, Field(max_length=60)] = ""
    how: Annotated[str, Field(max_length=40)] = ""
    voltage: Annotated[str, Field(max_length=60)] = ""


class HeaderBody(Shape):
    """Conditions, instrument and people, as typed; an empty text takes one away."""

    values: dict[str, Word] = Field(max_length=len(KEYS))


class TickBody(Shape):
    """Something ticked off in the name of who asks, or that taken back."""

    item: Word
    on: bool = True


@ROUTER.get("/reading")
def read_reading(text: Annotated[str, Query(max_length=100)]) -> Json:
    """Return how a reading is read, without keeping it: a resistance or a current in whatever unit it has."""
    try:
        quantity, value = read_value(text)
    except QuantityError as problem:
        raise InputError([problem.fault(field="text")]) from None
    return {
        "quantity": quantity,
        "value": value.value,
        "bound": value.bound.value if value.bound else None,
        "shown": format_quantity(value, quantity, digits=4, trim=True),
    }


@ROUTER.post("/drafts", status_code=201)
def begin(request: Request, memory: Memory, person: Tester, body: BeginBody) -> Json:
    """Begin a sheet on a plan."""
    del person
    asked = Asked(body.asset, dict(body.values), tuple(body.methods))
    ticks = {item: actions.tick_by(memory) for item in body.ticks}
    made = begin_sheet(memory, planned(memory, asked_of(asked)), body.connections, ticks)
    return _state(request, memory, made)


@ROUTER.get("/drafts/{draft}")
def read_draft(request: Request, memory: Memory, draft: Draft) -> Json:
    """Return where a sheet stands."""
    return _state(request, memory, draft)


@ROUTER.post("/drafts/{draft}/rows")
def add(request: Request, memory: Memory, person: Tester, draft: Draft, body: RowBody) -> Json:
    """Add what happened; it is on the disk with the answer.  Sent twice with one number and key it is kept once."""
    del person
    actions.row_added(memory, draft, body.model_dump(), house(request).settings.clock_scale)
    return _state(request, memory, draft)


@ROUTER.patch("/drafts/{draft}/header")
def change_header(request: Request, memory: Memory, person: Tester, draft: Draft, body: HeaderBody) -> Json:
    """Set conditions, instrument and people."""
    del person
    actions.header_changed(memory, draft, body.values)
    return _state(request, memory, draft)


@ROUTER.post("/drafts/{draft}/ticks")
def tick(request: Request, memory: Memory, person: Tester, draft: Draft, body: TickBody) -> Json:
    """Tick something off, or take that back."""
    del person
    actions.ticked(memory, draft, body.item, on=body.on)
    return _state(request, memory, draft)


@ROUTER.post("/drafts/{draft}/keep", status_code=201)
def keep(memory: Memory, person: Tester, draft: Draft) -> Json:
    """Receive the sheet as tests, in the shape of ``import --json``; it is put away once they are kept."""
    del person
    return intake_json(actions.kept(memory, draft))


@ROUTER.delete("/drafts/{draft}", status_code=204)
def remove(memory: Memory, person: Tester, draft: Draft) -> Response:
    """Put a sheet away without keeping a test."""
    del person
    actions.put_away(memory, draft)
    return Response(status_code=204)


def _state(request: Request, memory: Memory, draft: str) -> Json:
    return state(actions.the_draft(memory, draft), microseconds(), house(request).settings.clock_scale)
