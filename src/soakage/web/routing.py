"""How a page or a part of the API is added: one file that declares ``ROUTER``."""

from __future__ import annotations

from types import ModuleType
from typing import Any, Literal

from fastapi import APIRouter

from soakage.discovery import declared

Place = Literal["", "head", "more"]


class Router(APIRouter):
    """Routes of one page or one thing of the API, with its word in the head of every page.

    Parameters
    ----------
    id : str
        Names it in the house; the word of the head is marked as current where a page gives this id.
    word, address : str
        Its word and where that leads; both empty for a page that is reached from others only.
    place : str
        ``head`` for a word in the head, ``more`` for one that stands under *More* on a phone.
    order : int
        From left to right.
    open : bool
        True where nobody needs to have logged in.
    developer : bool
        True to serve it only where the settings say so.
    """

    def __init__(
        self, id: str, *, word: str = "", address: str = "", place: Place = "", order: int = 0,  # noqa: A002
        open: bool = False, developer: bool = False, **options: Any,  # noqa: A002, ANN401
    ) -> None:  # fmt: skip
        super().__init__(**options)
        self.id, self.word, self.address, self.place = id, word, address, place
        self.order, self.open, self.developer = order, open, developer


def found(package: ModuleType, group: str) -> list[Router]:
    """Return the routers that files of a package or installed add-ons declare, in order.

    Raises
    ------
    DiscoveryError
        If two have one id.
    """
    routers: list[Router] = list(declared(package, "ROUTER", Router, group).values())
    return sorted(routers, key=lambda router: (router.order, router.id))
