"""Judge a test again: what would change, then kept or not; every verdict given before stays."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Request
from fastapi.responses import RedirectResponse, Response

from soakage.web import test_actions as actions
from soakage.web.people import Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.test_rules import choices, rules_of
from soakage.web.test_view_charts import kept_test

ROUTER = Router("test-again", order=98)


@ROUTER.get("/tests/{test}/again")
def show(request: Request, memory: Memory, person: Tester, test: str, profile: str = "") -> Response:
    """Show what would change by a profile: nothing is kept."""
    del person
    known = kept_test(memory, test)
    chosen = profile or rules_of(memory, known).profile.id
    told = actions.judged_again(memory, test, keep=False, profile=chosen)
    return page(
        request, "test_again.html", current="assets", title=f"Judge again: {known.record.title}", test=test,
        of=known.record.title, profiles=choices(memory), chosen=chosen, told=told, signed=known.review == "signed",
    )  # fmt: skip


@ROUTER.post("/tests/{test}/again")
def judge(
    memory: Memory, person: Tester, test: str,
    profile: Annotated[str, Form()] = "", reason: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Judge again and keep the verdicts that are news."""
    del person
    told = actions.judged_again(memory, test, reason, keep=True, profile=profile)
    done = "judged" if any(one.kept for one in told) else "same"
    return RedirectResponse(f"/tests/{test}?done={done}#history", 303)
