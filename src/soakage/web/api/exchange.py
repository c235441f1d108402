"""Exchange with another store: what this one holds, what the other lacks, what it sends."""

from __future__ import annotations

import tempfile
from typing import Annotated, Any

from fastapi import Depends, Query, Request
from fastapi.responses import StreamingResponse
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from soakage import __version__
from soakage.app.contract_json import CONTRACT
from soakage.app.exchange import Merged
from soakage.app.exchange_json import merge_json
from soakage.app.holdings import holdings_of, holdings_plain
from soakage.store.holding import holdings
from soakage.store.memory import StoreMemory
from soakage.store.merging import merge
from soakage.store.unbundle import BundleReader
from soakage.web.accounts import Role
from soakage.web.exchangers import EXCHANGE, exchanger
from soakage.web.flow import Flow
from soakage.web.routing import Router
from soakage.web.sessions import Person
from soakage.web.shapes import Shape
from soakage.web.stored import store_of
from soakage.wiring.exchanging_far import lacking
from soakage.wiring.memory import in_hands

ROUTER = Router("exchange", open=True, prefix=EXCHANGE, tags=["exchange"])
Puller = Annotated[Person, Depends(exchanger(Role.READ))]
Pusher = Annotated[Person, Depends(exchanger(Role.TEST))]
OCTETS = "application/octet-stream"
_BUNDLE: dict[str, Any] = {OCTETS: {"schema": {"type": "string", "format": "binary"}}}
_IN_MEMORY = 4 << 20


class Held(Shape):
    """What a store holds: spans of each chain (first, last, some hashes by number)."""

    holdings: Annotated[dict[str, list[Any]], Field(max_length=100_000)]


class Holds(Held):
    """What this store holds, and which it is."""

    soakage: str
    contract: int
    store: str


def _hands(request: Request, person: Person) -> StoreMemory:
    return in_hands(store_of(request), person.name, authenticated=person.authenticated)


@ROUTER.get("/holdings")
def read_holdings(request: Request, _person: Puller) -> Holds:
    """Return what this store holds, so that only what it lacks is sent."""
    store = store_of(request)
    with store.reading() as connection:
        held = holdings_plain(holdings(connection))
    return Holds(soakage=__version__, contract=CONTRACT, store=store.id, holdings=held)


@ROUTER.post("/pull", response_class=StreamingResponse, responses={200: {"content": _BUNDLE}})
def pull(request: Request, person: Puller, held: Held) -> StreamingResponse:
    """Return what this store holds and the other does not, as a bundle that is sent while it is made."""
    theirs = holdings_of(held.holdings)
    hands = _hands(request, person)
    flow = Flow(lambda out: lacking(hands, theirs, out))
    return StreamingResponse(flow.pieces(), media_type=OCTETS)


@ROUTER.post("/push", openapi_extra={"requestBody": {"required": True, "content": _BUNDLE}})
async def push(
    request: Request,
    person: Pusher,
    dry_run: Annotated[bool, Query()] = False,  # noqa: FBT002 - a query has names
) -> dict[str, Any]:
    """Take a bundle, in the shape of ``merge --json``; one that is damaged or ends early changes nothing."""
    with tempfile.SpooledTemporaryFile(_IN_MEMORY) as bundle:
        async for piece in request.stream():
            await run_in_threadpool(bundle.write, piece)
        merged = await run_in_threadpool(_merged, _hands(request, person), bundle, dry_run=dry_run)
    return merge_json([("", merged)], dry_run=dry_run)


def _merged(hands: StoreMemory, bundle: Any, *, dry_run: bool) -> Merged:  # noqa: ANN401 - a file
    name = "What was sent"
    bundle.seek(0)
    for parcel in BundleReader(bundle, name).parcels():  # all of it is verified before any of it is taken
        for _ in parcel.blobs:
            pass
    bundle.seek(0)
    reader = BundleReader(bundle, name)
    return merge(
        hands.store, hands.person, reader.parcels(), source=reader.head.store, file="over the network",
        dry_run=dry_run, identity=hands.identity,
    )  # fmt: skip
