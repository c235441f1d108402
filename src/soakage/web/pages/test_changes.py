"""Forms on the page of a test: sign, withdraw, note, attach.  What is refused is told there, what was typed stays."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated

from fastapi import Form, HTTPException, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from soakage.app.remarks import LARGEST
from soakage.errors import InputError, SoakageError
from soakage.store.memory import StoreMemory
from soakage.web import test_actions as actions
from soakage.web.people import Reviewer, Tester
from soakage.web.routing import Router
from soakage.web.shapes import fault
from soakage.web.stored import Memory
from soakage.web.test_view_page import answer

ROUTER = Router("test-changes", order=98)
Field = Annotated[str, Form()]


@ROUTER.post("/tests/{test}/sign")
def sign(
    request: Request, memory: Memory, person: Reviewer, test: str,
    action: Field = "signed", text: Field = "", status: Annotated[str | None, Form()] = None, content: Field = "",
    form: Field = "sign",
) -> Response:  # fmt: skip
    """Sign the test, or record a review of it."""
    del person

    def done() -> str:
        return actions.signed_off(
            memory, test, signed=action == "signed", status=status, text=text, content=content
        ).action

    return _answered(
        request, memory, test, "sign", done, {"form": form, "text": text, "status": status or ""}
    )


@ROUTER.post("/tests/{test}/withdraw")
def withdraw(
    request: Request, memory: Memory, person: Tester, test: str,
    reason: Field = "", back: Field = "no", content: Field = "",
) -> Response:  # fmt: skip
    """Withdraw the test, or take that back."""
    del person

    def done() -> str:
        actions.withdrawn(memory, test, reason, content, back=back == "yes")
        return "back" if back == "yes" else "withdrawn"

    return _answered(request, memory, test, "history", done, {"form": "withdraw", "reason": reason})


@ROUTER.post("/tests/{test}/note")
def note(request: Request, memory: Memory, person: Tester, test: str, text: Field = "") -> Response:
    """Add a note."""
    del person

    def done() -> str:
        actions.noted(memory, test, text)
        return "noted"

    return _answered(request, memory, test, "notes", done, {"form": "note", "text": text})


@ROUTER.post("/tests/{test}/attach")
def attach(request: Request, memory: Memory, person: Tester, test: str, file: UploadFile) -> Response:
    """Keep a file with the test."""
    del person

    def done() -> str:
        content = file.file.read(LARGEST + 1)
        actions.attached(memory, test, file.filename or "", file.content_type or "", content)
        return "attached"

    return _answered(request, memory, test, "notes", done, {"form": "attach"})


def _answered(
    request: Request,
    memory: StoreMemory,
    test: str,
    place: str,
    done: Callable[[], str],
    typed: Mapping[str, str],
) -> Response:
    """Do it and lead back to the page; where it is refused, show the page with why and with what was typed."""
    try:
        told = done()
    except HTTPException as problem:
        if problem.status_code == 404:
            raise
        faults, status = [fault(str(problem.detail))], problem.status_code
    except InputError as problem:
        faults, status = list(problem.faults), 422
    except SoakageError as problem:
        faults, status = [fault(str(problem))], 400
    else:
        return RedirectResponse(f"/tests/{test}?done={told}#{place}", 303)
    return answer(request, memory, test, faults=faults, typed=typed, status=status)
