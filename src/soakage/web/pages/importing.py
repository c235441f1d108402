"""Import: choose files, see what each is, correct how a table is read, try, take in, see what was refused and why."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Query, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from soakage.errors import InputError, UsageError
from soakage.importers.recipe_file import LARGEST
from soakage.web import importing as doing
from soakage.web.batches import MOST_FILES, Batch
from soakage.web.forms import Typed
from soakage.web.house import house
from soakage.web.import_view import keys_by_group, outcome_view, refused_csv, table_view
from soakage.web.jobs import Job
from soakage.web.people import Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.shapes import fault
from soakage.web.stored import Memory
from soakage.web.test_files import sent
from soakage.web.view import counted
from soakage.wiring.recipes import kept_recipes

ROUTER = Router("import")
_CSV = "text/csv; charset=utf-8"


def _to(batch: Batch, more: str = "", job: Job | None = None) -> RedirectResponse:
    if job is not None:
        batch.job = job.id
    return RedirectResponse(f"/import/{batch.id}{more}", 303)


@ROUTER.get("/import", name="import")
def choose(request: Request, memory: Memory, person: Tester) -> Response:
    """Show where files are chosen, and what was chosen before and is not taken in yet."""
    shared = house(request)
    return page(
        request,
        "import.html",
        title="Import",
        current="start",
        before=shared.batches.of(person.name),
        most=counted(MOST_FILES, "file"),
        megabytes=shared.settings.upload_limit >> 20,
        recipes=[row["name"] for row in kept_recipes(memory)],
    )


@ROUTER.post("/import", name="import-files")
async def bring(request: Request, memory: Memory, person: Tester) -> Response:
    """Keep the files in a passing folder and look at them."""
    form = await request.form(max_files=MOST_FILES + 1)
    files = [file for file in form.getlist("files") if not isinstance(file, str)]
    shared = house(request)
    batch = await run_in_threadpool(doing.brought, shared, person, files)

    def work(job: Job) -> str:
        doing.look(memory, batch, job)
        return f"/import/{batch.id}"

    return _to(batch, job=shared.jobs.begin(person, f"Looking at {counted(len(files), 'file')}", work))


@ROUTER.get("/import/{batch_id}", name="import-batch")
def show(request: Request, person: Tester, batch_id: str) -> Response:
    """Show what each file is, and what comes next."""
    shared = house(request)
    batch = doing.batch_of(shared, person, batch_id)
    job = shared.jobs.get(batch.job)
    return page(
        request, "import_batch.html", title="Import", current="start", batch=batch,
        job=job if job is not None and job.state in ("waiting", "running") else None,
        ended=job if job is not None and job.state in ("cancelled", "failed") else None,
    )  # fmt: skip


@ROUTER.get("/import/{batch_id}/tables/{number}", name="import-table")
def show_table(
    request: Request, memory: Memory, person: Tester, batch_id: str, number: int,
    said: Annotated[str, Query(max_length=10)] = "",
) -> Response:  # fmt: skip
    """Show how a table is read, and its first records."""
    return _table_page(request, memory, person, batch_id, number, said=said)


def _table_page(
    request: Request, memory: Memory, person: Tester, batch_id: str, number: int, *,
    said: str = "", problem: Exception | None = None, status: int = 200,
) -> Response:  # fmt: skip
    shared = house(request)
    batch = doing.batch_of(shared, person, batch_id)
    table = doing.table_of(batch, number)
    doing.try_table(shared.batches, table)
    faults = problem.faults if isinstance(problem, InputError) else [fault(str(problem))] if problem else []
    return page(
        request, "import_table.html", title=f"How {table.files[0].name} is read", current="start", batch=batch,
        table=table, shown=table_view(table), keys=keys_by_group(), faults=faults, said=said, status=status,
        recipes=[row["name"] for row in kept_recipes(memory)],
    )  # fmt: skip


@ROUTER.post("/import/{batch_id}/tables/{number}", name="import-table-correct")
def correct(
    request: Request, memory: Memory, person: Tester, batch_id: str, number: int, typed: Typed
) -> Response:
    """Answer what is open and correct what a column is read as; also keep the recipe where it is named."""
    table = doing.table_of(doing.batch_of(house(request), person, batch_id), number)
    answers = {name[2:]: value for name, value in typed.items() if name.startswith("q-") and value.strip()}
    answers |= {
        name[2:]: value
        for name, value in typed.items()
        if name.startswith("s-") and value != typed.get(f"was-{name}")
    }
    try:
        doing.answer(table, doing.corrections(table.recipe, typed) | answers)
        if "keep" in typed:
            doing.keep(memory, table, typed.get("name", ""))
    except (InputError, UsageError) as problem:
        return _table_page(request, memory, person, batch_id, number, problem=problem, status=422)
    return RedirectResponse(
        f"/import/{batch_id}/tables/{number}?said={'kept' if 'keep' in typed else 'read'}#preview", 303
    )


@ROUTER.post("/import/{batch_id}/tables/{number}/recipe", name="import-table-recipe")
def use_recipe(
    request: Request,
    memory: Memory,
    person: Tester,
    batch_id: str,
    number: int,
    kept: Annotated[str, Form(max_length=200)] = "",
    file: UploadFile | None = None,
) -> Response:
    """Read a table by a recipe that is kept, or by one in a file."""
    table = doing.table_of(doing.batch_of(house(request), person, batch_id), number)
    try:
        if file is not None and file.filename:
            doing.use_text(table, file.filename, file.file.read(LARGEST + 1))
        else:
            doing.use_kept(memory, table, kept)
    except (InputError, UsageError) as problem:
        return _table_page(request, memory, person, batch_id, number, problem=problem, status=422)
    return RedirectResponse(f"/import/{batch_id}/tables/{number}?said=read#preview", 303)


@ROUTER.get("/import/{batch_id}/tables/{number}/recipe.toml", name="import-recipe-file")
def recipe_file(request: Request, person: Tester, batch_id: str, number: int) -> Response:
    """Return the recipe of a table as a file to share."""
    table = doing.table_of(doing.batch_of(house(request), person, batch_id), number)
    return sent(table.text.encode(), f"{table.recipe.name or 'recipe'}.toml", media_type="application/toml")


@ROUTER.post("/import/{batch_id}/{what}", name="import-run")
def run(request: Request, memory: Memory, person: Tester, batch_id: str, what: str) -> Response:
    """Try what would come of the files, take them in, or forget them."""
    shared = house(request)
    batch = doing.batch_of(shared, person, batch_id)
    if what == "forget":
        shared.batches.drop(batch)
        return RedirectResponse("/import", 303)
    dry_run = what != "take"
    doing.ready(batch)

    def work(job: Job) -> str:
        doing.run(memory, batch, job, dry_run=dry_run)
        return f"/import/{batch.id}/result"

    said = f"{'Trying' if dry_run else 'Taking in'} {counted(len(batch.files), 'file')}"
    return _to(batch, job=shared.jobs.begin(person, said, work))


@ROUTER.get("/import/{batch_id}/result", name="import-result")
def result(request: Request, person: Tester, batch_id: str) -> Response:
    """Show what came of it: taken in with verdicts, refused with reasons."""
    batch = doing.batch_of(house(request), person, batch_id)
    if batch.outcome is None:
        return _to(batch)
    return page(
        request, "import_result.html", title="What came of it", current="start", batch=batch,
        shown=outcome_view(batch.outcome, len(batch.files)),
    )  # fmt: skip


@ROUTER.get("/import/{batch_id}/refused.csv", name="import-refused")
def refused(request: Request, person: Tester, batch_id: str) -> Response:
    """Return what was refused and why, as a file whose cells are never formulas."""
    batch = doing.batch_of(house(request), person, batch_id)
    return sent(refused_csv(batch.outcome), "refused.csv", media_type=_CSV)
