"""Revise a test: the record with its keys and cells, and why."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable, Mapping
from typing import Annotated

from fastapi import Depends, HTTPException, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile as Sent

from soakage.app.ports import KnownTest
from soakage.app.remarks import LARGEST
from soakage.errors import Fault, InputError, SoakageError
from soakage.web import test_actions as actions
from soakage.web.people import Tester
from soakage.web.rendering import page
from soakage.web.routing import Router
from soakage.web.shapes import fault
from soakage.web.stored import Memory
from soakage.web.test_view_charts import kept_test
from soakage.web.test_view_revise import correction, form

ROUTER = Router("test-revise", order=98)


async def _sent(request: Request) -> AsyncIterator[dict[str, str | Sent]]:
    """Yield the fields of the form: which there are depends on the record."""
    form = await request.form()
    yield {name: value for name, value in form.items() if name != "csrf"}
    await form.close()


@ROUTER.get("/tests/{test}/revise")
def show(request: Request, memory: Memory, person: Tester, test: str) -> Response:
    """Show the form."""
    del person
    return _shown(request, kept_test(memory, test), {}, ())


@ROUTER.post("/tests/{test}/revise")
def revise(
    request: Request,
    memory: Memory,
    person: Tester,
    test: str,
    sent: Annotated[dict[str, str | Sent], Depends(_sent)],
) -> Response:
    """Revise the test and judge it; where that is refused, show the form with why."""
    del person
    fields = {name: value for name, value in sent.items() if isinstance(value, str)}
    given = sent.get("file")
    file = None
    if isinstance(given, UploadFile | Sent) and given.filename:
        file = (given.filename, given.file.read(LARGEST + 1))
    known = kept_test(memory, test)
    try:
        actions.revised(memory, test, correction(known, fields, file))
    except HTTPException as problem:
        return _shown(request, known, fields, [fault(str(problem.detail))], problem.status_code)
    except InputError as problem:
        return _shown(request, known, fields, problem.faults, 422)
    except SoakageError as problem:
        return _shown(request, known, fields, [fault(str(problem))], 400)
    return RedirectResponse(f"/tests/{test}?done=revised", 303)


def _shown(
    request: Request, test: KnownTest, given: Mapping[str, str], faults: Iterable[Fault], status: int = 200
) -> Response:
    told = list(faults)
    return page(
        request, "test_revise.html", current="assets", title=f"Revise: {test.record.title}", status=status,
        test=test.id, of=test.record.title, form=form(test, given), faults=told,
        wrong={one.field: one for one in told if one.field},
        signed=test.review == "signed", withdrawn=test.withdrawn,
    )  # fmt: skip
