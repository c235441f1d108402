"""Everything the page of a test shows, put together from its parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import Request

from soakage.store.memory import StoreMemory
from soakage.web import test_view as told
from soakage.web.test_view_charts import frames
from soakage.web.test_view_figures import quantities

Row = Mapping[str, Any]


def shown(
    request: Request, memory: StoreMemory, page: Row, only: str, beside: Sequence[str] | None
) -> dict[str, Any]:
    """Return what the template of a test's page shows.

    Parameters
    ----------
    request : Request
        For whom.
    memory : StoreMemory
        The store in their hands.
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    only : str
        Status whose criteria are shown; all unless given.
    beside : sequence of str or None
        Ids of the tests it is compared with; chosen for the reader unless given.
    """
    test, result = page["test"], page["result"]
    counts = told.tally(result)
    before = page["earlier"][0] if page["earlier"] else None
    return {
        "title": told.title(page),
        "test": test,
        "asset": page["asset"],
        "facts": told.facts(page),
        "said": told.said(page),
        "standing": test["status"] or "not judged",
        "counts": counts,
        "only": only if counts.get(only) else "",
        "result": result,
        "quantities": quantities(result, test["method"], test["id"], before, page["sisters"]) if result else None,
        "charts": frames(request, page),
        "causes": told.causes(result, test["status"]) if result else None,
        "criteria": told.criteria(result) if result else [],
        "findings": told.findings(result) if result else None,
    }
