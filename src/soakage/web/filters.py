"""What a list of assets is to hold, as the address of a page or of the API says it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Depends, Query

from soakage.errors import UsageError
from soakage.model.keys import CLASSES
from soakage.store.queries import Wanted
from soakage.wiring.looking import day_given, status_given

_Word = Annotated[str, Query(max_length=200)]
PAGE = 25


@dataclass(frozen=True, slots=True)
class Filters:
    """What was asked for, as typed, and what it means to the store."""

    typed: Mapping[str, str]
    wanted: Wanted

    @property
    def any(self) -> bool:
        """Whether anything narrows the list."""
        return any(self.typed.values())

    @property
    def only_text(self) -> bool:
        """Whether it is a text that was looked for, and nothing else."""
        return [name for name, value in self.typed.items() if value] == ["find"]

    def address(self, path: str, **more: object) -> str:
        """Return an address with these filters; what is empty is left out."""
        given = {
            name: str(value) for name, value in {**self.typed, **more}.items() if value not in ("", None)
        }
        return f"{path}?{urlencode(given)}" if given else path


def filters(
    find: _Word = "",
    site: _Word = "",
    asset_class: Annotated[str, Query(alias="class", max_length=40)] = "",
    status: Annotated[str, Query(max_length=40)] = "",
    since: Annotated[str, Query(max_length=20)] = "",
    until: Annotated[str, Query(max_length=20)] = "",
    unsigned: Annotated[str, Query(pattern="^(|yes|no|true|false)$")] = "",
) -> Filters:
    """Return the filters of a request.

    Raises
    ------
    UsageError
        If a class, status or day is none.
    """
    text = clean(find)
    if asset_class and asset_class not in CLASSES:
        raise UsageError(f"class {asset_class}: no such class. One of: {', '.join(CLASSES)}.")
    only = unsigned in ("yes", "true")
    wanted = Wanted(
        text=text,
        site=clean(site) or None,
        asset_class=asset_class or None,
        status=status_given(clean(status) or None),
        since=day_given("since", clean(since) or None),
        until=day_given("until", clean(until) or None),
        unsigned=only,
    )
    typed = {
        "find": text, "site": wanted.site, "class": wanted.asset_class, "status": wanted.status,
        "since": wanted.since, "until": wanted.until, "unsigned": "yes" if only else "",
    }  # fmt: skip
    return Filters({name: value or "" for name, value in typed.items()}, wanted)


def clean(text: str) -> str:
    """Return text without spare blanks and signs that no name has."""
    return " ".join("".join(c for c in text if c.isprintable() or c.isspace()).split())


Asked = Annotated[Filters, Depends(filters)]
PageNumber = Annotated[int, Query(ge=1, le=100_000)]
