"""What a report says of the whole curve and of probable causes: ranked, with what speaks for and against."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from soakage.app.archive import backing_sentence
from soakage.app.diagnose import COVERAGE
from soakage.app.result import Evaluated, Fit, Forecast
from soakage.errors import UsageError
from soakage.methods import method
from soakage.model.verdict import Judgement
from soakage.report.figures import NBSP, quantity_text
from soakage.report.tables import cited, name_of
from soakage.standards.causes import Ranked
from soakage.units import format_quantity

Content = dict[str, Any]

RANKED = "Ranked by evidence; no probabilities are computed."
NONE_STANDS_OUT = "No cause stands out: the record holds too little that speaks for any of those looked for."
_NOTHING = "nothing found"


def causes(evaluated: Evaluated) -> Content | None:
    """Return the probable causes, heaviest first; None where none were looked for.

    Parameters
    ----------
    evaluated : Evaluated
        The record with its ranked causes.

    Returns
    -------
    dict or None
        ``rows`` and a ``note``. The words *likely* and *possible* follow the rank only.
    """
    if not evaluated.causes_sought:
        return None
    heaviest = max((ranked.weight for ranked in evaluated.causes), default=0.0)
    rows = [_cause(ranked, first=ranked.weight >= heaviest) for ranked in evaluated.causes]
    return {"rows": rows, "note": RANKED if rows else NONE_STANDS_OUT}


def _cause(ranked: Ranked, *, first: bool) -> Content:
    cause = ranked.cause
    source, verified = cited(cause.source, cause.verified)
    return {
        "word": "likely" if first else "possible",
        "name": cause.name,
        "description": cause.description,
        "pro": "; ".join(ranked.pro) or _NOTHING,
        "con": "; ".join(ranked.con) or _NOTHING,
        "confirm_by": cause.confirm_by,
        "next_test": _test_name(cause.next_test),
        "source": source,
        "verified": verified,
        "weight": ranked.weight,
    }


def _test_name(method_id: str) -> str:
    try:
        return method(method_id).title.lower()
    except UsageError:
        return method_id


def fit_sentence(fit: Fit | None) -> str:
    """Say whether the whole curve follows absorption and conduction, and with what figures."""
    if fit is None:
        return ""
    if not fit.follows_model:
        return (
            f"The current does not follow the model of absorption and conduction: {fit.reason.rstrip('.')}."
        )
    return (
        "The current follows absorption and conduction: it falls as the power "
        f"{fit.absorption_exponent:.2f} of time over a conductance of "
        f"{quantity_text(fit.conductance, 'conductance')}; the readings scatter by {_share(fit.scatter)}."
    )


def _share(value: float) -> str:
    return format_quantity(value, "fraction", digits=2)


def forecast_sentences(forecast: Forecast | None, judgements: Sequence[Judgement]) -> list[str]:
    """Say what an index would become if nothing changes, how sure that is, and that it judges nothing.

    Parameters
    ----------
    forecast : Forecast or None
        Of a record that ended before the mark.
    judgements : sequence of Judgement
        The one on the same quantity names the limit.

    Returns
    -------
    list of str
        Sentences in their order; empty without a forecast.
    """
    if forecast is None:
        return []
    seen, at = format_quantity(forecast.seen_until, "time"), format_quantity(forecast.at, "time")
    low, high = f"{forecast.lower:.2f}", f"{forecast.upper:.2f}"
    name = name_of(forecast.quantity)
    foreseen = (
        f"Forecast, not a judgement: from the readings up to {seen} the {name[0].lower()}{name[1:]} would be "
        f"{forecast.estimate:.2f} at {at}, {low} to {high} with 90{NBSP}% coverage."
    )
    said = [foreseen, COVERAGE]
    limit = next(
        (j.limit.text for j in judgements if j.quantity == forecast.quantity and j.limit is not None), ""
    )
    if forecast.probability_meets is not None:
        said.append(f"Chance of {limit or 'meeting its limit'}: {chance_text(forecast.probability_meets)}.")
    elif forecast.reason:
        said.append(forecast.reason)
    if behind := backing_sentence(forecast):
        said.append(behind)
    return said


def chance_text(probability: float) -> str:
    """Return a probability in per cent; its ends as above and below."""
    if probability > 0.999:
        return f"above 99.9{NBSP}%"
    if probability < 0.001:
        return f"below 0.1{NBSP}%"
    return f"{100 * probability:.3g}{NBSP}%"
