"""What a plan is asked for on a page, and the plan that comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from fastapi import HTTPException, Request

from soakage.app.register import IDENTITY, NAMEPLATE
from soakage.errors import InputError
from soakage.methods import methods
from soakage.model.keys import CLASSES
from soakage.store.memory import StoreMemory
from soakage.web.filters import clean
from soakage.web.shapes import fault
from soakage.wiring.house_rules import usual
from soakage.wiring.sheets import ASKED, Planned, plan_for

PLATE = (*IDENTITY, *NAMEPLATE, "neutral", "circuit")
LONGEST = 400


@dataclass(frozen=True, slots=True)
class Asked:
    """What a plan is asked for.

    Parameters
    ----------
    asset : str or None
        Id of the asset; None for a nameplate as typed.
    values : mapping of str to str
        Purpose and the like, and the nameplate, as typed.
    methods : tuple of str
        Tests asked for; empty for the usual ones.
    """

    asset: str | None
    values: Mapping[str, str] = field(default_factory=dict)
    methods: tuple[str, ...] = ()

    def address(self, path: str = "", **more: str) -> str:
        """Return the address of the page of this plan, or of a file beside it."""
        start = f"/assets/{self.asset}/plan" if self.asset else "/plan"
        query = [*self.values.items(), *(("method", name) for name in self.methods), *more.items()]
        return f"{start}{path}?{urlencode(query)}" if query else f"{start}{path}"


def asked_of(given: Asked) -> Asked:
    """Return what is asked with every text cleaned, once each word is one that a plan knows.

    Raises
    ------
    InputError
        If a key or a method is none of a plan's.
    """
    values = {clean(key): clean(text)[:LONGEST] for key, text in given.values.items()}
    faults = [
        fault("A plan does not ask for this.", field=key, allowed=", ".join((*ASKED, *PLATE)))
        for key in values
        if key not in ASKED and key not in PLATE
    ]
    faults += [
        fault("No method is called so.", field="method", given=clean(name)[:60], allowed=", ".join(methods()))
        for name in given.methods
        if name not in methods()
    ]
    if faults:
        raise InputError(faults)
    return Asked(given.asset, {key: text for key, text in values.items() if text}, given.methods)


def of_query(request: Request, asset: str | None = None) -> Asked:
    """Return what the address of a page asks for; what it has beside that is passed over."""
    keys = (*ASKED, *PLATE)
    values = {key: request.query_params[key] for key in keys if request.query_params.get(key)}
    chosen = tuple(dict.fromkeys(name for name in request.query_params.getlist("method") if name))
    return asked_of(Asked(asset, values, chosen))


def planned(memory: StoreMemory, asked: Asked) -> Planned:
    """Return the plan.

    Raises
    ------
    HTTPException
        404 where there is no such asset.
    InputError, UsageError
        If something typed cannot be read, or no plan can be made of it.
    """
    if asked.asset is not None and not memory.assets([asked.asset]):
        raise HTTPException(
            404, "There is no asset of this id. It may have been purged, or come from another store."
        )
    return plan_for(memory, asked.asset, asked.values, asked.methods, usual(memory))


def methods_for(asset_class: str | None) -> list[Any]:
    """Return the methods made on a class; all of them where it is not known."""
    known = asset_class in CLASSES
    return [one for one in methods().values() if not known or asset_class in one.classes]
