"""Standards: every criterion with its source, the rule set in use, and what another would change."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, HTTPException, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.app.explain import explain
from soakage.app.rules import Rules
from soakage.errors import UsageError
from soakage.model.keys import CLASSES
from soakage.standards.library import library
from soakage.standards.profile import profile
from soakage.web.batches import name_of
from soakage.web.house import house
from soakage.web.jobs import Job
from soakage.web.people import Reader, Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.standards_view import profile_lines, shelves
from soakage.web.stored import Memory
from soakage.web.trials import tried
from soakage.wiring.house_rules import LONGEST_PROFILE, own_profile, usual
from soakage.wiring.rejudging import Choice

ROUTER = Router("standards", word="Standards", address="/standards", place="more", order=40)


@ROUTER.get("/standards", name="standards")
def standards(
    request: Request,
    memory: Memory,
    find: str = "",
    asset_class: str = "",
    used: bool = False,  # noqa: FBT001, FBT002
) -> HTMLResponse:
    """Show the criteria, all or some."""
    default = usual(memory).profile
    found = shelves(library(), default, text=find.strip(), asset_class=asset_class, used=used)
    return page(
        request,
        "standards.html",
        title="Standards",
        current="standards",
        shelves=found,
        number=sum(len(shelf.rows) for shelf in found),
        of=len(library().criteria),
        classes=CLASSES,
        find=find.strip(),
        asset_class=asset_class,
        used=used,
        profile=default,
    )


@ROUTER.get("/standards/rules", name="rule set")
def rule_set(request: Request, memory: Memory) -> HTMLResponse:
    """Show the rule set in use, and offer to try another."""
    default = usual(memory).profile
    return page(
        request,
        "rules.html",
        title="Rule set",
        current="standards",
        profile=default,
        lines=list(profile_lines(default, profile())),
        job=request.query_params.get("job", ""),
    )


@ROUTER.post("/standards/rules/try", name="try a rule set")
async def try_rules(
    request: Request, person: Tester, memory: Memory, file: UploadFile, site: Annotated[str, Form()] = ""
) -> Response:
    """Judge history by another rule set; nothing of it is kept."""
    content = await file.read(LONGEST_PROFILE + 1)
    other = own_profile(name_of(file.filename, "profile.toml"), content)
    trials = house(request).trials

    def work(job: Job) -> str:
        trials.keep(job.id, tried(memory, Rules(other, library()), Choice(site=site.strip() or None), job))
        return f"/standards/rules/trials/{job.id}"

    job = house(request).jobs.begin(person, f"Judging by {other.title}", work)
    return RedirectResponse(f"/standards/rules?job={job.id}", 303)


@ROUTER.get("/standards/rules/trials/{key}", name="trial")
def trial(request: Request, key: str, _person: Reader) -> HTMLResponse:
    """Show which verdicts would be others."""
    found = house(request).trials.get(key)
    if found is None:
        raise HTTPException(404, "This trial is no longer remembered. Try the rule set again.")
    return page(request, "trial.html", title="What would change", current="standards", trial=found)


@ROUTER.get("/standards/{name}", name="standard entry")
def entry(request: Request, name: str) -> HTMLResponse:
    """Show one criterion, rule, table, quantity or method with its source and a worked example."""
    try:
        found = explain(name, library())
    except UsageError as problem:
        raise HTTPException(404, str(problem)) from None
    return page(request, "standard.html", title=found.title, current="standards", found=found)
