"""Standards: the criteria with source and status, and what is known of each id."""

from __future__ import annotations

from typing import Annotated

from fastapi import HTTPException, Path, Query

from soakage.app.explain import explain
from soakage.errors import UsageError
from soakage.model.keys import CLASSES
from soakage.standards.library import library
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.standards_view import shelves
from soakage.web.stored import Memory
from soakage.wiring.house_rules import usual

ROUTER = Router("api-standards", prefix="/api/standards", tags=["standards"])


class CriterionShape(Shape):
    """One criterion; ``verified`` is how its source is known, ``used`` whether the rule set in use judges by it."""

    id: str
    name: str
    quantity: str
    applies: str
    source: str
    verified: str
    used: bool


class StandardShape(Shape):
    """One edition of one standard."""

    id: str
    name: str
    title: str
    criteria: list[CriterionShape]


class StandardsShape(Shape):
    """The standards, and the rule set in use."""

    profile: str
    of: int
    standards: list[StandardShape]


class Entry(Shape):
    """What is known of an id: a criterion, rule, table, threshold, quantity, formula or method."""

    id: str
    kind: str
    title: str
    definition: str
    formula: str
    source: str
    verified: str
    example: str
    details: list[tuple[str, str]]


@ROUTER.get("")
def read_standards(
    memory: Memory,
    find: Annotated[str, Query(max_length=200)] = "",
    asset_class: Annotated[str, Query(alias="class", max_length=40)] = "",
    used: bool = False,  # noqa: FBT001, FBT002 - a query has names
) -> StandardsShape:
    """Return the criteria by edition, all or some."""
    if asset_class and asset_class not in CLASSES:
        raise UsageError(f"No class of asset is called {asset_class!r}. Known: {', '.join(CLASSES)}.")
    profile = usual(memory).profile
    found = shelves(library(), profile, text=find.strip(), asset_class=asset_class, used=used)
    return StandardsShape(
        profile=profile.id,
        of=len(library().criteria),
        standards=[
            StandardShape(
                id=shelf.standard.id,
                name=shelf.standard.name,
                title=shelf.standard.title,
                criteria=[
                    CriterionShape(
                        id=row.id, name=row.name, quantity=row.quantity, applies=row.applies, source=row.source,
                        verified=str(row.verified), used=row.used,
                    )
                    for row in shelf.rows
                ],
            )
            for shelf in found
        ],
    )  # fmt: skip


@ROUTER.get("/{name}")
def read_entry(name: Annotated[str, Path(max_length=200)]) -> Entry:
    """Return what is known of an id, as ``explain`` says it."""
    try:
        found = explain(name, library())
    except UsageError as problem:
        raise HTTPException(404, str(problem)) from None
    return Entry(
        id=found.id, kind=found.kind, title=found.title, definition=found.definition, formula=found.formula,
        source=found.source, verified=str(found.verified), example=found.example,
        details=[(key, text) for key, text in found.details],
    )  # fmt: skip
