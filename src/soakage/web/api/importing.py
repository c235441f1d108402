"""Import: files brought, looked at, read by recipes, tried, taken in; what the page does."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Path, Request, UploadFile
from fastapi.responses import Response
from pydantic import Field

from soakage.app.contract_json import fault_json
from soakage.app.intake_json import intake_json
from soakage.importers.recipe_file import recipe_parts
from soakage.web import importing as doing
from soakage.web.api.jobs import JobShape, shape
from soakage.web.batches import Batch, Brought, Table
from soakage.web.house import house
from soakage.web.import_view import refused_csv
from soakage.web.jobs import Job
from soakage.web.people import Tester
from soakage.web.routing import Router
from soakage.web.shapes import FaultShape, Shape
from soakage.web.stored import Memory
from soakage.web.test_files import sent
from soakage.web.view import counted

ROUTER = Router("api-import", prefix="/api/import", tags=["import"])
Json = dict[str, Any]
Key = Annotated[str, Path(pattern="^[A-Za-z0-9_-]{20,80}$", description="Id of what was brought.")]
Number = Annotated[int, Path(ge=1, le=100_000)]


class FileShape(Shape):
    """A file: what it is, how many records it holds as it stands, what is wrong with it."""

    number: int
    file: str
    size: int
    kind: str
    records: int
    titles: list[str]
    errors: list[FaultShape]


class ColumnShape(Shape):
    """What is thought of a column, and why."""

    title: str
    confidence: str
    reason: str


class ChoiceShape(Shape):
    """One answer and what it means."""

    value: str
    meaning: str


class QuestionShape(Shape):
    """What the file does not tell."""

    setting: str
    sentence: str
    choices: list[ChoiceShape]
    required: bool


class TableShape(Shape):
    """Files of the same columns and the recipe that reads them; ``tried`` is what it makes of the first."""

    number: int
    files: list[str]
    recipe: Json
    kept: str
    columns: list[ColumnShape]
    remarks: list[str]
    questions: list[QuestionShape]
    tried: Json | None


class BatchShape(Shape):
    """What was brought; ``ready`` where it can be taken in."""

    id: str
    ready: bool
    files: list[FileShape]
    tables: list[TableShape]
    job: JobShape | None


class ReadingBody(Shape):
    """How a table is read: by a kept recipe, by one as TOML, then with answers by setting; kept under a name."""

    kept: Annotated[str, Field(max_length=200)] = ""
    toml: Annotated[str, Field(max_length=1_000_000)] = ""
    answers: Annotated[dict[str, Annotated[str, Field(max_length=400)]], Field(max_length=500)] = Field(
        default_factory=dict
    )
    keep: Annotated[str, Field(max_length=120)] = ""


class RunBody(Shape):
    """Whether nothing is to be kept."""

    dry_run: bool = False


@ROUTER.post("", status_code=202)
def bring(request: Request, memory: Memory, person: Tester, files: list[UploadFile]) -> BatchShape:
    """Bring files and begin to look at them; nothing is kept in the store."""
    shared = house(request)
    batch = doing.brought(shared, person, files)

    def work(job: Job) -> str:
        doing.look(memory, batch, job)
        return f"/api/import/{batch.id}"

    batch.job = shared.jobs.begin(person, f"Looking at {counted(len(batch.files), 'file')}", work).id
    return _shape(request, batch)


@ROUTER.get("/{batch_id}")
def read_batch(request: Request, person: Tester, batch_id: Key) -> BatchShape:
    """Return what the files are, and how the tables among them are read."""
    return _shape(request, doing.batch_of(house(request), person, batch_id))


@ROUTER.delete("/{batch_id}", status_code=204)
def forget(request: Request, person: Tester, batch_id: Key) -> None:
    """Forget the files."""
    shared = house(request)
    shared.batches.drop(doing.batch_of(shared, person, batch_id))


@ROUTER.put("/{batch_id}/tables/{number}")
def read_by(
    request: Request, memory: Memory, person: Tester, batch_id: Key, number: Number, body: ReadingBody
) -> TableShape:
    """Say how a table is read, and see what comes of the first file; nothing but the recipe is kept."""
    shared = house(request)
    table = doing.table_of(doing.batch_of(shared, person, batch_id), number)
    if body.toml:
        doing.use_text(table, "recipe.toml", body.toml.encode())
    elif body.kept:
        doing.use_kept(memory, table, body.kept)
    doing.answer(table, body.answers)
    if body.keep:
        doing.keep(memory, table, body.keep)
    doing.try_table(shared.batches, table)
    return _table(table)


@ROUTER.post("/{batch_id}/outcomes", status_code=202)
def run(request: Request, memory: Memory, person: Tester, batch_id: Key, body: RunBody) -> JobShape:
    """Begin to take the files in, or to see what would come of it."""
    shared = house(request)
    batch = doing.batch_of(shared, person, batch_id)
    doing.ready(batch)

    def work(job: Job) -> str:
        doing.run(memory, batch, job, dry_run=body.dry_run)
        return f"/api/import/{batch.id}/outcome"

    said = f"{'Trying' if body.dry_run else 'Taking in'} {counted(len(batch.files), 'file')}"
    job = shared.jobs.begin(person, said, work)
    batch.job = job.id
    return shape(job)


@ROUTER.get("/{batch_id}/{what}", responses={200: {"content": {"text/csv": {}}}})
def read_outcome(
    request: Request, person: Tester, batch_id: Key, what: Literal["outcome", "refused.csv"]
) -> Any:  # noqa: ANN401 - JSON or a file
    """Return what came of it last, in the shape of ``import --json``; or what was refused, as CSV."""
    batch = doing.batch_of(house(request), person, batch_id)
    if what == "refused.csv":
        return sent(refused_csv(batch.outcome), "refused.csv", media_type="text/csv; charset=utf-8")
    return Response(status_code=204) if batch.outcome is None else intake_json(batch.outcome)


def _shape(request: Request, batch: Batch) -> BatchShape:
    job = house(request).jobs.get(batch.job)
    return BatchShape(
        id=batch.id,
        ready=batch.looked_at and not batch.waiting,
        files=[_file(file) for file in batch.files],
        tables=[_table(table) for table in batch.tables],
        job=None if job is None else shape(job),
    )


def _file(file: Brought) -> FileShape:
    looked = file.looked
    return FileShape(
        number=file.number,
        file=file.name,
        size=file.size,
        kind=looked.kind if looked else "not readable" if file.trouble else "not looked at",
        records=looked.records if looked else 0,
        titles=list(looked.titles) if looked else [],
        errors=[FaultShape(**fault_json(one)) for one in file.faults],
    )


def _table(table: Table) -> TableShape:
    return TableShape(
        number=table.number,
        files=[file.name for file in table.files],
        recipe=recipe_parts(table.recipe),
        kept=table.kept,
        columns=[ColumnShape(title=n.title, confidence=n.confidence, reason=n.reason) for n in table.notes],
        remarks=list(table.remarks),
        questions=[
            QuestionShape(
                setting=question.setting,
                sentence=question.sentence,
                choices=[
                    ChoiceShape(value=str(value), meaning=meaning) for value, meaning in question.choices
                ],
                required=question.required,
            )
            for question in table.questions
        ],
        tried=table.tried,
    )
