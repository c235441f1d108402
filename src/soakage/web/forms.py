"""Forms as a browser sends them: one text for each field, and the file that was chosen."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile


async def fields_of(request: Request) -> dict[str, str]:
    """Return the fields of a form by name; of several with one name the last."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}


async def file_of(request: Request) -> UploadFile | None:
    """Return the file of the field ``file``; None where none was chosen."""
    found = (await request.form()).get("file")
    return found if isinstance(found, UploadFile) and found.filename else None


Typed = Annotated[dict[str, str], Depends(fields_of)]
Chosen = Annotated[UploadFile | None, Depends(file_of)]
