"""Shapes of what the API takes and gives: strict, and nothing that JSON cannot carry."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import status
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from soakage.errors import Fault


class Shape(BaseModel):
    """Base of every body: unknown keys, text for a number, infinity and not-a-number are refused."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)


class FaultShape(Shape):
    """One thing wrong in what was given, said so that the reader can mend it."""

    file: str
    row: int | None
    field: str
    given: str
    problem: str
    allowed: str
    remedy: str


class Faults(Shape):
    """Answer of every request that could not be done."""

    errors: list[FaultShape]


def _text(value: object) -> object:
    if not isinstance(value, str | date):
        raise ValueError("write it as text, for example 2026-11-24")  # noqa: TRY004 - pydantic asks for it
    return value


# Strict models take a date only as a date, which JSON does not have.
Day = Annotated[date, BeforeValidator(_text), Field(strict=False)]
Moment = Annotated[datetime, BeforeValidator(_text), Field(strict=False)]

_SAID = {
    status.HTTP_400_BAD_REQUEST: "It cannot be read, or does not fit together.",
    status.HTTP_401_UNAUTHORIZED: "Nobody has logged in.",
    status.HTTP_403_FORBIDDEN: "The role, the token or where it came from does not allow it.",
    status.HTTP_404_NOT_FOUND: "There is none of that name.",
    status.HTTP_409_CONFLICT: "It was changed meanwhile.",
    status.HTTP_411_LENGTH_REQUIRED: "A body without its length is not read.",
    status.HTTP_413_CONTENT_TOO_LARGE: "The body is too large.",
    status.HTTP_422_UNPROCESSABLE_CONTENT: "A value is not allowed.",
    status.HTTP_429_TOO_MANY_REQUESTS: "Too many in too short a time.",
}
ANSWERS: dict[int | str, dict[str, Any]] = {
    code: {"model": Faults, "description": said} for code, said in _SAID.items()
}


def fault(problem: str, *, field: str = "", given: str = "", allowed: str = "", remedy: str = "") -> Fault:
    """Return a fault that is in no file."""
    return Fault(file="", row=None, field=field, given=given, problem=problem, allowed=allowed, remedy=remedy)
