"""Everything the page of a test shows, put together from its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from soakage.app.signing import STATEMENT
from soakage.errors import Fault
from soakage.model.verdict import Status
from soakage.report.diagnosis import chance_text
from soakage.report.tables import name_of
from soakage.store.memory import StoreMemory
from soakage.units import format_quantity
from soakage.web import test_view as told
from soakage.web.accounts import Role
from soakage.web.charts import drawn
from soakage.web.people import person
from soakage.web.rendering import look_of, page
from soakage.web.sessions import Person
from soakage.web.test_rules import profiles
from soakage.web.test_view_beside import choices, plot, table
from soakage.web.test_view_charts import frames
from soakage.web.test_view_figures import quantities
from soakage.web.test_view_record import PICTURES, afterwards, readings, stated

Row = Mapping[str, Any]
_STATED = "The name is stated, not authenticated, and this is no electronic signature in law."
_ACCOUNT = "The name is that of the account logged in; this is no electronic signature in law."
TOLD = {
    "signed": "Signed.", "reviewed": "Reviewed.", "withdrawn": "Withdrawn.", "back": "The withdrawal was taken back.",
    "noted": "The note was added.", "attached": "The file was added.",
    "revised": "Revised and judged. It is a draft until it is signed.",
    "judged": "Judged again.", "same": "Judged again: nothing changed, so no verdict was added.",
}  # fmt: skip


def answer(
    request: Request,
    memory: StoreMemory,
    test: str,
    *,
    only: str = "",
    beside: Sequence[str] | None = None,
    faults: Iterable[Fault] = (),
    typed: Mapping[str, str] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return the page of a test.

    Parameters
    ----------
    request : Request
        From whom.
    memory : StoreMemory
        The store in their hands.
    test : str
        Id of the test.
    only : str
        Status whose criteria are shown; all unless given.
    beside : sequence of str or None
        Ids of the tests it is compared with; chosen for the reader unless given.
    faults : iterable of Fault
        What could not be done, told on the page it was asked on.
    typed : mapping or None
        What was typed then, so that nothing is lost.
    status : int
        HTTP status.

    Raises
    ------
    HTTPException
        404 where there is no such test.
    """
    found = told.found_page(memory, test)
    shown = {
        **_verdict(found, only),
        **_evidence(request, memory, found, beside),
        **_trail(request, found),
    }
    return page(
        request, "test.html", current="assets", status=status, faults=list(faults), typed=dict(typed or {}),
        told=TOLD.get(request.query_params.get("done", ""), ""), **shown,
    )  # fmt: skip


def _verdict(found: Row, only: str) -> dict[str, Any]:
    test, result = found["test"], found["result"]
    counts = told.tally(result)
    before = found["earlier"][0] if found["earlier"] else None
    standing = test["status"] or str(Status.NOT_JUDGED)
    return {
        "title": told.title(found),
        "test": test,
        "asset": found["asset"],
        "facts": told.facts(found),
        "said": told.said(found),
        "standing": standing,
        "stands_by": _stands_by(found),
        "counts": counts,
        "only": only if counts.get(only) else "",
        "result": result,
        "decay": _decay(result),
        "quantities": quantities(result, test["method"], test["id"], before, found["sisters"])
        if result
        else None,
        "actions": result["verdict"]["actions"] if result else [],
        "causes": told.causes(result, test["status"]) if result else None,
        "criteria": told.criteria(result) if result else [],
        "findings": told.findings(result) if result else None,
        "not_tested": result["not_tested"] if result else [],
        "statuses": [str(status) for status in Status],
    }


def _stands_by(found: Row) -> str:
    given = next((one for one in found["verdicts"] if one["stands"]), None)
    if given is None:
        return "No verdict stands."
    title = profiles().get(given["profile"], given["profile"])
    return f"Verdict of {told.moment(given['at'])}, by the profile “{title}”. It gives no leave to energise."


def _decay(result: Row | None) -> dict[str, float]:
    """Return how steep and how flat the rule under the head is: as the current of this record."""
    values = result["quantities"] if result else {}
    fitted = [
        values.get(f"{name}_fitted")
        for name in ("absorption_exponent", "absorption_coefficient", "conductance")
    ]
    if not all(fitted):
        return {"exponent": 0.85, "settled": 0.12}
    exponent, absorbed, steady = (abs(one["value"]) for one in fitted if one)
    return {
        "exponent": min(1.4, max(0.3, exponent)),
        "settled": min(0.9, steady / ((absorbed + steady) or 1.0)),
    }


def _evidence(
    request: Request, memory: StoreMemory, found: Row, beside: Sequence[str] | None
) -> dict[str, Any]:
    test, result = found["test"], found["result"]
    near = choices(found, beside) if result else []
    chosen = [one for one in near if one["chosen"]]
    curves = plot(memory, test["id"], chosen) if chosen else None
    return {
        "charts": frames(request, found, beside=bool(result) and bool(told.causes(result, test["status"]))),
        "network": _network(request, found),
        "fit": _fit(result),
        "forecast": _forecast(result),
        "choices": near,
        "compared": drawn(request, curves) if curves else None,
        "comparison": table(found, chosen) if chosen else [],
        "sisters": found["sisters"],
        "stated": stated(memory, found),
        "readings": readings(found),
        "afterwards": afterwards(found),
    }


def _network(request: Request, found: Row) -> dict[str, Any] | None:
    if found["test"]["method"] != "terminal-set" or not found["sisters"]:
        return None
    at = f"/tests/{found['test']['id']}/charts/network.svg?look=screen-"
    look = look_of(request)
    sources = [("(prefers-color-scheme: dark)", f"{at}dark")] if look == "system" else []
    return {"image": f"{at}{'dark' if look == 'dark' else 'light'}", "sources": sources}


def _fit(result: Row | None) -> str:
    fit = (result or {}).get("fit")
    if not fit:
        return "Drawn from the readings."
    if not fit["follows_model"]:
        return f"Not the model of absorption and conduction: {fit['reason']}"
    return f"Follows the model: scatter {format_quantity(fit['scatter'], 'fraction', digits=2)}."


def _forecast(result: Row | None) -> str:
    seen = (result or {}).get("forecast")
    if not seen:
        return ""
    name, at = name_of(seen["quantity"]), format_quantity(seen["at"], "time")
    said = (
        f"Forecast, not a judgement: {name} at {at} {seen['estimate']:.2f}, {seen['lower']:.2f} to {seen['upper']:.2f} "
        "with 90\u00a0% coverage."
    )
    chance = seen["probability_meets"]
    return f"{said} Chance that its limit is met: {chance_text(chance)}." if chance is not None else said


def _trail(request: Request, found: Row) -> dict[str, Any]:
    test, who = found["test"], person(request)
    turns = [_when(one, "at") for one in found["withdrawals"]]
    gone = test["state"] == "withdrawn"
    origin = found["origin"]
    return {
        "withdrawn": (turns[-1] if turns else {"reason": "", "person": "", "when": ""}) if gone else None,
        "turns": turns,
        "sign": _sign(found, who),
        "reviews": [
            _when(one, "said_at") | {"now": one.get("content") == test["content"]} for one in found["reviews"]
        ],
        "may_test": who is not None and who.role.may(Role.TEST),
        "origin": origin | {"name": PurePosixPath(str(origin["file"] or "").replace("\\", "/")).name},
        "notes": [_when(one, "said_at") for one in found["notes"]],
        "attachments": [
            _when(one, "said_at")
            | {"sized": told.sized(one["size"]), "picture": one["media_type"] in PICTURES}
            for one in found["attachments"]
        ],
        "verdicts": [_when(one, "at") for one in found["verdicts"]][::-1],
        "revisions": [_when(one, "at") for one in found["revisions"]][::-1],
    }


def _when(row: Row, key: str) -> dict[str, Any]:
    return {**row, "when": told.moment(row[key])}


def _sign(found: Row, who: Person | None) -> dict[str, Any]:
    test = found["test"]
    why_not = ""
    if test["state"] == "withdrawn":
        why_not = "Nothing to sign: the test is withdrawn."
    elif test["status"] is None:
        why_not = "Nothing to sign: no verdict has been given. Judge it first."
    elif test["review"] == "signed":
        why_not = "Signed. Only a revision changes it now."
    elif who is None or not who.role.may(Role.REVIEW):
        why_not = "To review or sign you need the role review."
    first = _ACCOUNT if who is not None and who.authenticated else _STATED
    return {"form": not why_not, "why_not": why_not, "statement": STATEMENT.replace(_STATED, first)}
