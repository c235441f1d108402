"""Look around first: ten years of an invented plant, put into an empty store only after a clear question."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from fastapi import HTTPException, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from soakage.app.intake import Incoming, take_in
from soakage.store.waiting import held
from soakage.web.house import house
from soakage.web.jobs import Job
from soakage.web.people import Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.stored import Memory, store_of
from soakage.wiring.house_rules import usual

ROUTER = Router("demo")


@ROUTER.get("/demo", name="demo")
def ask(
    request: Request, memory: Memory, person: Tester, job: Annotated[str, Query(max_length=80)] = ""
) -> HTMLResponse:
    """Ask before anything is put into the store, and show how far it is."""
    del person
    begun = house(request).jobs.get(job) if job else None
    with memory.store.reading() as connection:
        assets = held(connection)["assets"]
    path = store_of(request).where.path
    return page(
        request,
        "demo.html",
        title="An invented plant",
        current="start",
        assets=assets,
        where=path.name if path else "a database",
        job=begun,
    )


@ROUTER.post("/demo", name="demo-begin")
def begin(request: Request, memory: Memory, person: Tester) -> Response:
    """Put the invented plant into this store; only where it is empty."""
    with memory.store.reading() as connection:
        if held(connection)["assets"]:
            raise HTTPException(
                409,
                "This store holds assets already; invented ones would stand among them. Nothing was done.",
            )

    def work(job: Job) -> str:
        from soakage.demo.history import history_files

        job.tell("Making up ten years of tests", 0, 1)
        files = history_files()

        def each() -> Iterator[Incoming]:
            from soakage.importers.reading import read_bytes

            for number, (name, text) in enumerate(sorted(files.items())):
                job.tell(f"Keeping invented tests, {number} of {len(files)}", number, len(files))
                data = text.encode()
                yield Incoming(name, data, tuple(read_bytes(data, name)))

        take_in(memory, each(), usual(memory))
        return "/"

    job = house(request).jobs.begin(person, "Making up ten years of tests", work)
    return RedirectResponse(f"/demo?job={job.id}", 303)
