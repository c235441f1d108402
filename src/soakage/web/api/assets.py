"""Assets: found, listed, added; and one of them with its tests, trends and everything that can be done with it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Path, Query, UploadFile
from fastapi.responses import Response
from pydantic import Field

from soakage import __version__
from soakage.app.changes_json import edited_json, remark_json
from soakage.app.contract_json import CONTRACT
from soakage.app.remarks import LARGEST
from soakage.app.trend_json import trend_json
from soakage.store.pages import asset_page
from soakage.store.queries import listed_assets
from soakage.web import asset_actions as actions
from soakage.web import asset_history
from soakage.web.asset_files import attachment
from soakage.web.asset_view import the_asset
from soakage.web.filters import PAGE, Asked
from soakage.web.people import Tester
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.stored import Memory

ROUTER = Router("all-assets", prefix="/api/assets", tags=["assets"])
Json = dict[str, Any]
Asset = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of an asset.")]
Text = Annotated[str, Field(max_length=actions.LONGEST)]
Typed = Annotated[dict[str, Annotated[str, Field(max_length=20_000)]], Field(max_length=200)]
Limit = Annotated[int, Query(ge=1, le=1000)]
Offset = Annotated[int, Query(ge=0, le=10_000_000)]


class ListedAsset(Shape):
    """One asset of a list, in the words of ``list --json``."""

    id: str
    site: str | None
    asset: str | None
    tag: str | None
    serial: str | None
    retired: bool
    tests: int
    last_day: str | None
    status: str | None
    asset_class: str | None


class AssetList(Shape):
    """A part of the list, and whether there is more."""

    assets: list[ListedAsset]
    more: bool


class NewAsset(Shape):
    """A new asset: keys of the record file with their values as typed, for example ``rated_voltage: 6.6 kV``."""

    values: Typed


class PlateChange(Shape):
    """Keys with their values as typed, keys whose value is taken away, and why."""

    values: Typed = Field(default_factory=dict)
    clear: Annotated[list[Annotated[str, Field(max_length=100)]], Field(max_length=200)] = Field(
        default_factory=list
    )
    reason: Text = ""


class NoteBody(Shape):
    """A note."""

    text: Text


class EventBody(Shape):
    """What happened to it, on which day."""

    event: Annotated[str, Field(max_length=40)]
    on: Annotated[str, Field(max_length=20)]
    text: Text = ""


class SectionBody(Shape):
    """A new section."""

    name: Annotated[str, Field(max_length=200)]
    text: Text = ""


class RetirementBody(Shape):
    """That it is retired, or back in service."""

    back: bool = False
    reason: Text = ""


class SettlementBody(Shape):
    """Which of the values in conflict stands: the field, and the entry that claims it."""

    field: Annotated[str, Field(max_length=100)]
    entry: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    reason: Text = ""


@ROUTER.get("")
def list_assets(memory: Memory, asked: Asked, limit: Limit = PAGE, offset: Offset = 0) -> AssetList:
    """Return assets by site and name, retired ones too."""
    with memory.store.reading() as connection:
        found = listed_assets(connection, asked.wanted, limit=limit + 1, offset=offset)
    told = [ListedAsset(asset_class=one.pop("class"), **one) for one in found[:limit]]
    return AssetList(assets=told, more=len(found) > limit)


@ROUTER.post("", status_code=201)
def add_asset(memory: Memory, person: Tester, body: NewAsset) -> Json:
    """Add an asset, in the shape of ``register add --json``."""
    del person
    return edited_json(actions.added(memory, body.values))


@ROUTER.get("/{asset}")
def read_asset(memory: Memory, asset: Asset) -> Json:
    """Return all that is known of an asset, in the shape of ``show --json``."""
    the_asset(memory, asset)
    with memory.store.reading() as connection:
        page = asset_page(connection, asset)
    return {"soakage": __version__, "contract": CONTRACT, "kind": "asset", **page}


@ROUTER.patch("/{asset}")
def change_asset(memory: Memory, person: Tester, asset: Asset, body: PlateChange) -> Json:
    """Change its nameplate, in the shape of ``register edit --json``."""
    del person
    known, _ = the_asset(memory, asset)
    return edited_json(actions.changed(memory, known, body.values, body.clear, body.reason))


@ROUTER.get("/{asset}/trends")
def read_trends(memory: Memory, asset: Asset, peers: bool = True) -> Json:  # noqa: FBT001, FBT002 - a query has names
    """Return its trends, in the shape of ``trend --json``."""
    known, _ = the_asset(memory, asset)
    found = asset_history.remembered(memory, asset, with_peers=peers)
    names = {key: known.values.get(key) for key in ("site", "asset", "tag", "serial")}
    return trend_json({"id": asset, **names}, found.trends, found.due)


@ROUTER.post("/{asset}/notes", status_code=201)
def add_note(memory: Memory, person: Tester, asset: Asset, body: NoteBody) -> Json:
    """Add a note, in the shape of ``note --json``."""
    del person
    return remark_json(actions.noted(memory, the_asset(memory, asset)[0], body.text))


@ROUTER.post("/{asset}/events", status_code=201)
def add_event(memory: Memory, person: Tester, asset: Asset, body: EventBody) -> Json:
    """Add what happened to it, in the shape of ``event --json``."""
    del person
    known, _ = the_asset(memory, asset)
    return remark_json(actions.event_added(memory, known, body.event, body.on, body.text))


@ROUTER.post("/{asset}/sections", status_code=201)
def add_section(memory: Memory, person: Tester, asset: Asset, body: SectionBody) -> Json:
    """Add a section, in the shape of ``register add --json``."""
    del person
    return edited_json(actions.section_added(memory, the_asset(memory, asset)[0], body.name, body.text))


@ROUTER.post("/{asset}/retirement")
def retire_asset(memory: Memory, person: Tester, asset: Asset, body: RetirementBody) -> Json:
    """Retire it or take that back, in the shape of ``register retire --json``."""
    del person
    return edited_json(actions.retired(memory, the_asset(memory, asset)[0], body.reason, back=body.back))


@ROUTER.post("/{asset}/settlements")
def settle_conflict(memory: Memory, person: Tester, asset: Asset, body: SettlementBody) -> Json:
    """Let one of the values in conflict stand."""
    del person
    done = actions.settled(memory, the_asset(memory, asset)[0], body.field, body.entry, body.reason)
    return {"kind": "asset", "id": asset, "field": done.conflict.field, "value": done.value}


@ROUTER.post("/{asset}/attachments", status_code=201)
def add_attachment(memory: Memory, person: Tester, asset: Asset, file: UploadFile) -> Json:
    """Keep a file with it, exactly as it is, in the shape of ``attach --json``."""
    del person
    known, _ = the_asset(memory, asset)
    content = file.file.read(LARGEST + 1)
    return remark_json(actions.attached(memory, known, file.filename or "", file.content_type or "", content))


@ROUTER.get(
    "/{asset}/attachments/{sha256}",
    response_class=Response,
    responses={200: {"content": {"application/octet-stream": {}}}},
)
def read_attachment(
    memory: Memory, asset: Asset, sha256: Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
) -> Response:
    """Return a file kept with it."""
    return attachment(memory, asset, sha256)
