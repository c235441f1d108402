"""Pages from templates: every page has the same head, token and look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from fastapi import Request
from fastapi.responses import HTMLResponse

from soakage import __version__
from soakage.web import view
from soakage.web.house import House, house
from soakage.web.marks import big_mark, curve, mark
from soakage.web.people import form_token, person
from soakage.web.sessions import Person
from soakage.web.statics import address

TEMPLATES = Path(__file__).parent / "templates"
LOOK_COOKIE = "soakage-look"
LOOKS = ("system", "light", "dark", "sunlight")


@dataclass(frozen=True, slots=True)
class Shell:
    """What the frame of a page needs.

    Parameters
    ----------
    house : House
        What the pages share.
    person : Person or None
        Who asks.
    csrf : str
        Token for forms and scripts.
    look : str
        One of :data:`LOOKS`.
    current : str
        Id of the router whose word is marked.
    path : str
        Where the page is.
    """

    house: House
    person: Person | None
    csrf: str
    look: str
    current: str
    path: str

    @property
    def words(self) -> list[dict[str, Any]]:
        """Words of the head, in order."""
        return [
            {"word": r.word, "address": r.address, "current": r.id == self.current, "more": r.place == "more"}
            for r in self.house.routers
            if r.place and (not r.developer or self.house.settings.developer)
        ]


def page(
    request: Request,
    template: str,
    *,
    current: str = "",
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    **values: object,
) -> HTMLResponse:
    """Return a page.

    Parameters
    ----------
    request : Request
        Who asks, in which look.
    template : str
        File of the templates.
    current : str
        Id of the router whose word is marked in the head.
    status : int
        HTTP status.
    headers : mapping or None
        More to say.
    **values : object
        What the template shows; ``title`` is always needed.
    """
    shell = Shell(
        house=house(request),
        person=person(request),
        csrf=form_token(request),
        look=look_of(request),
        current=current,
        path=request.url.path,
    )
    text = environment().get_template(template).render(shell=shell, **values)
    return HTMLResponse(text, status, headers)


def look_of(request: Request) -> str:
    """Return the look the browser asks for, one of :data:`LOOKS`."""
    asked = request.cookies.get(LOOK_COOKIE, "")
    return asked if asked in LOOKS else "system"


@cache
def environment() -> jinja2.Environment:
    """Return what templates are rendered in: escaped, and a name that is not there is an error."""
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {
        "address": address, "mark": mark, "big_mark": big_mark, "curve": curve, "view": view, "version": __version__
    }  # fmt: skip
    return made
