"""One test: all that is known of it, why, beside others, its files; and everything that can be done with it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Path, Query, Request, UploadFile
from fastapi.responses import Response
from pydantic import Field

from soakage import __version__
from soakage.app.changes_json import rejudged_json, remark_json, revised_json, signed_json
from soakage.app.contract_json import CONTRACT
from soakage.app.remarks import LARGEST
from soakage.web import test_actions as actions
from soakage.web import test_files as files
from soakage.web import test_view_beside as compared
from soakage.web.people import Reviewer, Tester
from soakage.web.routing import Router
from soakage.web.shapes import Shape
from soakage.web.stored import Memory
from soakage.web.test_view import found_page
from soakage.web.test_view_charts import kept_test, plots_of
from soakage.web.test_view_why import why

ROUTER = Router("tests", prefix="/api/tests/{test}", tags=["tests"])
Json = dict[str, Any]
Test = Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="Whole id of a test.")]
Content = Annotated[str, Field(pattern="^([0-9a-f]{64})?$")]
Text = Annotated[str, Field(max_length=actions.LONGEST)]
Value = Annotated[str, Field(max_length=20_000)]
_EXTRAS = ("sisters", "earlier", "withdrawals")


class NoteBody(Shape):
    """A note; it changes no verdict."""

    text: Text


class RevisionBody(Shape):
    """What is corrected, as typed; ``content`` is the revision looked at, where a newer one is to be refused."""

    reason: Text
    values: dict[str, Value] = Field(default_factory=dict, max_length=200)
    clear: list[str] = Field(default_factory=list, max_length=200)
    readings: Annotated[str, Field(max_length=2_000_000)] | None = None
    content: Content = ""


class WithdrawalBody(Shape):
    """A withdrawal, or one taken back."""

    reason: Text
    back: bool = False
    content: Content = ""


class SignatureBody(Shape):
    """A review or a sign-off; another status than the tool's needs a text."""

    action: Literal["reviewed", "signed"]
    status: Annotated[str, Field(max_length=40)] | None = None
    text: Text = ""
    content: Content = ""


class JudgingBody(Shape):
    """Judging again: tried, or kept."""

    profile: Annotated[str, Field(max_length=60)] = ""
    reason: Text = ""
    dry_run: bool = False


@ROUTER.get("")
def read_test(memory: Memory, test: Test) -> Json:
    """Return all that is known of a test, in the shape of ``show --json``."""
    page = found_page(memory, test)
    page = {name: value for name, value in page.items() if name not in _EXTRAS}
    return {"soakage": __version__, "contract": CONTRACT, "kind": "test", **page}


@ROUTER.get("/charts")
def read_charts(request: Request, memory: Memory, test: Test) -> Json:
    """Return what is drawn of a test, as plots in SI; the network of its visit among them where there is one."""
    return {"test": test, "charts": plots_of(request, memory, kept_test(memory, test))}


@ROUTER.get("/why/{quantity}")
def read_why(memory: Memory, test: Test, quantity: Annotated[str, Path(pattern="^[a-z0-9_]{1,80}$")]) -> Json:
    """Return why a quantity is what it is: formula, inputs, source, budget of its uncertainty, criteria."""
    told = why(found_page(memory, test), quantity)
    return {**told, "shown": str(told["shown"])}


@ROUTER.get("/beside")
def read_beside(
    memory: Memory,
    test: Test,
    beside: Annotated[
        list[Annotated[str, Query(pattern="^[0-9a-f]{32}$")]] | None, Query(max_length=12)
    ] = None,
) -> Json:
    """Return a test beside its sister sections and earlier tests; those chosen unless others are named."""
    page = found_page(memory, test)
    found = compared.choices(page, beside)
    chosen = [one for one in found if one["chosen"]]
    return compared.json_of(page, found, compared.plot(memory, test, chosen))


@ROUTER.get("/file", response_class=Response, responses={200: {"content": {"application/octet-stream": {}}}})
def read_file(memory: Memory, test: Test) -> Response:
    """Return the file the test came in, byte for byte."""
    return files.original(memory, found_page(memory, test))


@ROUTER.get("/report.{ending}", response_class=Response)
def read_report(
    memory: Memory,
    test: Test,
    ending: Literal["pdf", "html", "xlsx"],
    paper: Literal["a4", "letter"] = "a4",
    visit: bool = False,  # noqa: FBT001, FBT002 - a query has names
) -> Response:
    """Return the report of the test, or of its whole visit."""
    return files.report(memory, found_page(memory, test), ending, paper, whole=visit)


@ROUTER.post("/notes", status_code=201)
def add_note(memory: Memory, person: Tester, test: Test, note: NoteBody) -> Json:
    """Add a note, in the shape of ``note --json``."""
    del person
    return remark_json(actions.noted(memory, test, note.text))


@ROUTER.post("/attachments", status_code=201)
def add_attachment(memory: Memory, person: Tester, test: Test, file: UploadFile) -> Json:
    """Keep a file with the test, exactly as it is, in the shape of ``attach --json``."""
    del person
    content = file.file.read(LARGEST + 1)
    return remark_json(actions.attached(memory, test, file.filename or "", file.content_type or "", content))


@ROUTER.get("/attachments/{sha256}", response_class=Response)
def read_attachment(
    memory: Memory, test: Test, sha256: Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
) -> Response:
    """Return a file that was added to the test."""
    return files.attachment(memory, found_page(memory, test), sha256)


@ROUTER.post("/revisions", status_code=201)
def revise(memory: Memory, person: Tester, test: Test, body: RevisionBody) -> Json:
    """Correct the test by a revision, in the shape of ``amend --json``; what was there before stays."""
    del person
    correction = actions.Correction(body.reason, body.values, body.clear, body.readings, None, body.content)
    return revised_json(actions.revised(memory, test, correction))


@ROUTER.post("/withdrawals", status_code=201)
def withdraw(memory: Memory, person: Tester, test: Test, body: WithdrawalBody) -> Json:
    """Withdraw the test or take that back, in the shape of ``withdraw --json``."""
    del person
    return revised_json(actions.withdrawn(memory, test, body.reason, body.content, back=body.back))


@ROUTER.post("/signatures", status_code=201)
def sign(memory: Memory, person: Reviewer, test: Test, body: SignatureBody) -> Json:
    """Review or sign the test, in the shape of ``sign --json``."""
    done = actions.signed_off(
        memory, test, signed=body.action == "signed", status=body.status, text=body.text, content=body.content
    )
    return signed_json([done], person.name)


@ROUTER.post("/verdicts")
def judge_again(memory: Memory, person: Tester, test: Test, body: JudgingBody) -> Json:
    """Judge the test and its visit again, in the shape of ``rejudge --json``; verdicts given before stay."""
    del person
    told = actions.judged_again(memory, test, body.reason, keep=not body.dry_run, profile=body.profile)
    return rejudged_json(len(told), [one for one in told if one.changed], dry_run=body.dry_run)
