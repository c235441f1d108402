"""Files of a test that a person saves or looks at: the original, attachments, reports."""

from __future__ import annotations

from typing import Literal

from fastapi.responses import Response

from soakage.web.routing import Router
from soakage.web.stored import Memory
from soakage.web.test_files import attachment, original, report
from soakage.web.test_view import found_page

# A report takes seconds: these routes are plain functions, which the server runs outside its event loop.
ROUTER = Router("test-files", order=98)


@ROUTER.get("/tests/{test}/file")
def file(memory: Memory, test: str) -> Response:
    """Return the file the test came in."""
    return original(memory, found_page(memory, test))


@ROUTER.get("/tests/{test}/attachments/{sha256}")
def attached(memory: Memory, test: str, sha256: str) -> Response:
    """Return a file that was added to the test; a picture is shown."""
    return attachment(memory, found_page(memory, test), sha256)


@ROUTER.get("/tests/{test}/report.{ending}")
def reported(
    memory: Memory,
    test: str,
    ending: Literal["pdf", "html", "xlsx"],
    paper: Literal["a4", "letter"] = "a4",
    visit: bool = False,  # noqa: FBT001, FBT002 - a query has names
) -> Response:
    """Return the report of the test, or of its whole visit."""
    return report(memory, found_page(memory, test), ending, paper, whole=visit)
