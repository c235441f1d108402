"""Forms as a browser sends them: one text for each field, and the file that was chosen."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile


async def fields_of(request: Request) -> dict[str, str]:
    """Return the fields of a form by name; of several with one name the last."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}


async def file_of(request: Request) -> AsyncIterator[UploadFile | None]:
    """Yield the file of the field ``file``, None where none was chosen; it is let go at the end."""
    form = await request.form()
    found = form.get("file")
    try:
        yield found if isinstance(found, UploadFile) and found.filename else None
    finally:
        await form.close()


Typed = Annotated[dict[str, str], Depends(fields_of)]
Chosen = Annotated[UploadFile | None, Depends(file_of)]
