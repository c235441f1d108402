"""A test as its page shows it: the verdict that stands, in words, figures and rows; nothing is judged here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from fastapi import HTTPException
from sqlalchemy import select

from soakage.errors import UsageError
from soakage.methods import method
from soakage.model.verdict import Judgement, Limit, QuantityValue, Status
from soakage.report.content_record import parted, upper_first
from soakage.report.criteria import chance, merged_bands, reason
from soakage.report.figures import DASH, NBSP, printed
from soakage.report.tables import name_of
from soakage.store import schema
from soakage.store.memory import StoreMemory
from soakage.store.neighbours import neighbours, withdrawals
from soakage.store.pages import test_page
from soakage.units import Bound
from soakage.web import view

Row = Mapping[str, Any]
_PASSED_OVER = ("unknown_key",)  # shown with what was stated


def found_page(memory: StoreMemory, test: str) -> dict[str, Any]:
    """Return all that is known of a test, and what it stands beside.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    test : str
        Its whole id.

    Returns
    -------
    dict
        As ``show --json``, with ``sisters``, ``earlier`` and ``withdrawals``.

    Raises
    ------
    HTTPException
        404 where there is none.
    """
    with memory.store.reading() as connection:
        there = connection.execute(select(schema.test.c.id).where(schema.test.c.id == test)).first()
        if there is None:
            raise HTTPException(404, f"No test has the id {test[:40]}.")
        page = test_page(memory.store, connection, test)
        page["sisters"], page["earlier"] = neighbours(connection, test)
        page["withdrawals"] = withdrawals(connection, test)
    return page


def title(page: Row) -> str:
    """Return what a person would call the thing that was tested."""
    asset, stated = page["asset"] or {}, page["record"]["stated"]
    named = next((asset[key] for key in ("asset", "tag", "serial") if asset.get(key)), None)
    named = named or next(
        (stated[key] for key in ("asset", "tag", "serial") if stated.get(key)), "Unnamed asset"
    )
    return ", ".join(part for part in (named, page["test"]["section"]) if part)


def said(page: Row) -> dict[str, str]:
    """Return the verdict as one sentence a person could say aloud, and what follows it."""
    test = page["test"]
    status = test["status"] or str(Status.NOT_JUDGED)
    lead = f"{upper_first(status)}."
    if not test["sentence"]:
        return {"lead": lead, "reason": "No verdict has been given yet.", "more": ""}
    whole = without_title(page, test["sentence"])
    parts = parted(whole)
    # the status is said already
    reason = upper_first(parts["sentence"].removeprefix(f"{upper_first(status)}: "))
    if reason.rstrip(".") == upper_first(status):
        reason, parts["more"] = parts["more"] or reason, ""
    return {"lead": lead, "reason": reason, "more": parts["more"]}


def without_title(page: Row, sentence: str) -> str:
    """Return the sentence of a verdict without the title it begins with."""
    asset, stated = page["asset"] or {}, page["record"]["stated"]
    names = [
        n
        for n in (
            *(asset.get(k) for k in ("asset", "tag", "serial")),
            stated.get("asset"),
            stated.get("circuit"),
        )
        if n
    ]
    for name in names:
        if sentence.startswith(name):
            rest = sentence[len(name) :]
            head, colon, tail = rest.partition(": ")
            if colon and ". " not in head:
                return tail
    return sentence


def tally(result: Row | None) -> dict[str, int]:
    """Return how many criteria stand at each status."""
    return dict(Counter(j["status"] for j in result["judgements"])) if result else {}


def criteria(result: Row) -> list[dict[str, Any]]:
    """Return the criteria as the page lists them, the neediest first."""
    return [_criterion(row, result["quantities"]) for row in result["judgements"]]


def _criterion(row: Row, quantities: Row) -> dict[str, Any]:
    judgement = judgement_of(row)
    known = quantities.get(judgement.quantity)
    measured = DASH
    if row["value"] is not None:
        bound = Bound(known["bound"]) if known and known["bound"] else None
        same = known is not None and known["value"] == row["value"]
        doubt = known["uncertainty"] if same and known is not None else None
        measured = printed(QuantityValue(judgement.quantity, row["value"], bound, doubt)).with_uncertainty
    text = judgement.limit.text if judgement.limit else DASH
    banded = judgement.limit is not None and judgement.limit.kind == "band"
    limit, _, aside = (merged_bands(text), "", "") if banded else text.partition(" (")
    notes = [
        name_of(judgement.quantity),
        reason(judgement),
        f"{aside.removesuffix(')')}" if aside else "",
        chance(judgement),
    ]
    return {
        "id": judgement.criterion,
        "name": judgement.name,
        "notes": [upper_first(note) for note in notes if note],
        "decides": judgement.decides,
        "measured": measured,
        "asked": limit,
        "status": row["status"],
        "source": judgement.source,
        "verified": "user" if judgement.user_limit else judgement.verified,
    }


def judgement_of(row: Row) -> Judgement:
    """Return a judgement of the result as a value."""
    limit = row["limit"]
    return Judgement(
        criterion=row["criterion"], name=row["name"], quantity=row["quantity"],
        limit=None if limit is None else Limit(**limit),
        status=Status(row["status"]), reason=row["reason"], source=row["source"], verified=row["verified"],
        decides=row["decides"], user_limit=row["user_limit"], value=row["value"], probability=row.get("probability"),
    )  # fmt: skip


def causes(result: Row, status: str | None) -> dict[str, Any] | None:
    """Return the probable causes with what speaks for and against; None where none were looked for."""
    rows = [
        {
            "name": cause.get("name") or cause["id"],
            "weight": cause["weight"],
            "pro": [text for text in cause["evidence"] if not text.startswith("against: ")],
            "con": [
                text.removeprefix("against: ") for text in cause["evidence"] if text.startswith("against: ")
            ],
            "confirm_by": cause["confirm_by"],
            "next_test": _method_title(cause.get("next_test", "")),
            "source": cause["source"],
            "verified": cause["verified"],
        }
        for cause in result["causes"]
    ]
    if not rows and status in (None, str(Status.SOUND), str(Status.NOT_JUDGED)):
        return None
    return {"rows": rows}


def _method_title(method_id: str) -> str:
    try:
        return method(method_id).title.lower() if method_id else ""
    except UsageError:
        return method_id


def findings(result: Row) -> dict[str, Any]:
    """Return the findings on the reading itself, and how many checks found nothing."""
    rows = [found for found in result["findings"] if found["code"] not in _PASSED_OVER]
    return {"rows": rows, "made": result["checks"]["made"], "passed": result["checks"]["passed"]}


def moment(text: str | None) -> str:
    """Return a time of the store in words; a day alone stays one."""
    if not text:
        return DASH
    if len(text) == len("2026-11-24"):
        return view.day(date.fromisoformat(text))
    return view.moment(datetime.fromisoformat(text))


def sized(size: int) -> str:
    """Return the size of a file in words."""
    for unit, scale in (("MB", 1_000_000), ("kB", 1_000)):
        if size >= scale:
            return f"{size / scale:.3g}{NBSP}{unit}"
    return f"{size}{NBSP}bytes"


def facts(page: Row) -> list[str]:
    """Return the line over the sentence: section, method, day."""
    test = page["test"]
    volts = test["test_voltage"]
    title_of_method = _method_title(test["method"])
    if volts:
        title_of_method += f" at {view.quantity(volts, 'voltage', trim=True)}"
    return [
        part for part in (test["section"], title_of_method, moment(test["started"] or test["day"])) if part
    ]
