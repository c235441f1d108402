"""Criteria of a record: what decided or broke in full, what is only shown beside in one line each."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from soakage.model.verdict import Judgement, QuantityValue, Status, worst
from soakage.report.figures import DASH, printed
from soakage.report.tables import cited, name_of
from soakage.standards.criterion import Verified

Table = dict[str, Any]
_MET = "Met."
_RUNG = "(sound|watch|investigate|unfit)$"
_BANDS = re.compile(rf"(?:below|from) (.+?) {_RUNG}|(.+?) to (.+?) {_RUNG}")


def criteria(judgements: Sequence[Judgement], values: Mapping[str, QuantityValue]) -> Table:
    """Return the criteria, the worst first, with what each rests on.

    Parameters
    ----------
    judgements : sequence of Judgement
        Neediest first.
    values : mapping of str to QuantityValue
        The quantities of the record.

    Returns
    -------
    dict
        `rows` in full, `beside` in a line each (they neither decide nor are the worst), and notes.
    """
    rows = [_criterion(judgement, values.get(judgement.quantity)) for judgement in judgements]
    notes = []
    if any(j.decides for j in judgements):
        notes.append("Deciding: the verdict cannot be better while it is not judged.")
    if not rows:
        notes.append("No criterion was found for this record, so nothing was judged.")
    reached = worst(judgement.status for judgement in judgements)
    beside = [_is_beside(judgement, reached) for judgement in judgements]
    return {
        "rows": [row for row, aside in zip(rows, beside, strict=True) if not aside],
        "beside": [row for row, aside in zip(rows, beside, strict=True) if aside],
        "notes": notes,
    }


def _is_beside(judgement: Judgement, reached: Status | None) -> bool:
    """Return True for what neither decides nor reaches the worst status of the record."""
    if judgement.decides or judgement.user_limit:
        return False
    if judgement.status is Status.WATCH:
        return reached is not Status.WATCH
    return judgement.status in (Status.SOUND, Status.NOT_APPLICABLE, Status.NOT_JUDGED)


def _criterion(judgement: Judgement, quantity: QuantityValue | None) -> Table:
    value = DASH
    if judgement.value is not None and math.isfinite(judgement.value):
        same = quantity is not None and math.isclose(quantity.value, judgement.value, rel_tol=1e-9)
        shown = (
            quantity
            if same and quantity is not None
            else QuantityValue(judgement.quantity, judgement.value, judgement.bound)
        )
        value = printed(shown).whole
    text = judgement.limit.text if judgement.limit is not None else DASH
    banded = judgement.limit is not None and judgement.limit.kind == "band"
    source, verified = cited(judgement.source, Verified.USER if judgement.user_limit else judgement.verified)
    limit, _, aside = (merged_bands(text), "", "") if banded else text.partition(" (")
    return {
        "id": judgement.criterion,
        "name": judgement.name,
        "quantity": name_of(judgement.quantity),
        "value": value,
        "limit": limit,
        "limit_note": f"Limit: {aside.removesuffix(')')}." if aside else "",
        "status": str(judgement.status),
        "reason": reason(judgement),
        "source": source,
        "verified": verified,
        "decides": judgement.decides,
        "own": judgement.user_limit,
        "chance": chance(judgement),
    }


def reason(judgement: Judgement) -> str:
    """Return why a criterion stands as it does; nothing where it is met or its limit says it."""
    said = judgement.reason
    if judgement.limit is not None:
        said = said.removeprefix(f"{judgement.limit.text}: ")
    return "" if said == _MET else said


def chance(judgement: Judgement) -> str:
    """Return the probability that the limit is met, in words; empty where it was not computed."""
    p = judgement.probability
    if p is None:
        return ""
    if p > 0.999:
        return "chance met above 99.9\u00a0%"
    return "chance met below 0.1\u00a0%" if p < 0.001 else f"chance met {100 * p:.3g}\u00a0%"


def merged_bands(text: str) -> str:
    """Return bands as text, neighbours of one status as one band."""
    bands: list[list[str]] = []
    for part in text.split(", "):
        found = _BANDS.match(part)
        if not found:
            return text
        edge, status, low, high, named = found.groups()
        if status is not None:
            low, high, named = ("", edge, status) if part.startswith("below") else (edge, "", status)
        if bands and bands[-1][2] == named:
            bands[-1][1] = high
        else:
            bands.append([low, high, named])
    return ", ".join(
        f"{low} to {high} {named}"
        if low and high
        else f"below {high} {named}"
        if high
        else f"from {low} {named}"
        for low, high, named in bands
    )
