"""Plans: what a test of an asset or a nameplate takes, in the shape of ``plan --json``; nothing is kept."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from soakage.app.plan_json import plan_json
from soakage.model.keys import KEYS
from soakage.web.planning import LONGEST, Asked, asked_of, planned
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.stored import Memory

ROUTER = Router("plans", prefix="/api/plans", tags=["sheets"])
Word = Annotated[str, Field(max_length=LONGEST)]


class PlanBody(Shape):
    """What is to be planned: an asset of the register or a nameplate as typed, and the tests."""

    asset: Annotated[str, Field(pattern="^[0-9a-f]{32}$")] | None = None
    values: dict[str, Word] = Field(default_factory=dict, max_length=len(KEYS))
    methods: list[Word] = Field(default_factory=list, max_length=12)


@ROUTER.post("")
def make_plan(memory: Memory, body: PlanBody) -> dict[str, Any]:
    """Return a plan; with a ``refusal`` nothing is planned."""
    asked = asked_of(Asked(body.asset, dict(body.values), tuple(body.methods)))
    return plan_json(planned(memory, asked).plan)
