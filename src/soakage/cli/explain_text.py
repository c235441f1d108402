"""Explanations and profiles as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from soakage.app.explain import Explanation, condition_text
from soakage.app.explain_compute import Worked
from soakage.cli.wrapping import wrapped
from soakage.standards.criterion import sourced
from soakage.standards.library import Library
from soakage.standards.profile import Profile, profile


def explanation_text(explanation: Explanation, worked: Worked | None) -> Iterator[str]:
    """Yield the lines of an explanation."""
    yield wrapped(f"{explanation.title}  ({explanation.kind})", "  ", "")
    yield f"  id        {explanation.id}"
    yield wrapped(explanation.definition, "            ", "  what      ")
    if explanation.formula:
        yield wrapped(explanation.formula, "            ", "  formula   ")
    yield wrapped(sourced(explanation.source, explanation.verified), "            ", "  source    ")
    yield f"  verified  {explanation.verified}"
    if explanation.example:
        yield wrapped(explanation.example, "            ", "  example   ")
    for name, text in explanation.details:
        yield wrapped(f"{name}: {text}", "      ", "    - ")
    if worked is not None:
        yield ""
        yield wrapped(worked.text, "            ", "  result    ")


def explanation_json(explanation: Explanation, worked: Worked | None) -> dict[str, Any]:
    """Return an explanation in the shape of the contract."""
    result: dict[str, Any] = {
        "id": explanation.id,
        "kind": explanation.kind,
        "title": explanation.title,
        "definition": explanation.definition,
        "formula": explanation.formula,
        "source": explanation.source,
        "verified": explanation.verified,
        "example": explanation.example,
        "details": [{"name": name, "text": text} for name, text in explanation.details],
    }
    if worked is not None:
        result |= {
            "value": worked.value,
            "unit": worked.unit,
            "inputs": dict(worked.inputs),
            "text": worked.text,
        }
        if worked.status:
            result["status"] = worked.status
    return result


def profile_text(shown: Profile, library: Library) -> Iterator[str]:
    """Yield a profile line by line; what differs from the default is marked."""
    base = profile("default")
    yield f"{shown.title}  (profile {shown.id})"
    yield wrapped(shown.description, "  ")
    for change in shown.changes:
        new = f" to {change.limit}" if change.limit else ""
        yield wrapped(f"{change.kind}: {change.criterion}{new}. Reason: {change.reason}", "    ", "  * ")
    if shown.demanded:
        yield f"  * demands: {', '.join(shown.demanded)}"
    for name, text in shown.wording.items():
        yield wrapped(f"report {name}: {text}", "    ", "  * ")
    yield ""
    yield "  Temperature rules"
    for rule in shown.temperatures:
        where = "; ".join(condition_text(c) for c in rule.applies)
        mark = " " if rule in base.temperatures else "*"
        yield wrapped(
            f"{where}: {rule.rule}, base {rule.base:g} degC. {rule.reason}", "      ", f"  {mark} - "
        )
    yield ""
    yield "  Criteria (* differs from the default)"
    for use in shown.uses:
        where = "; ".join(condition_text(c) for c in use.applies) or "every class"
        how = "shown only" if use.shown else f"decides {', '.join(use.decides)}" if use.decides else "counts"
        cap = f"; at most {use.cap}" if use.cap else ""
        mark = " " if use in base.uses else "*"
        yield wrapped(
            f"{where}: {', '.join(use.criteria)}; {how}{cap}. {use.reason}", "      ", f"  {mark} - "
        )
    left = [use for use in base.uses if use not in shown.uses]
    for use in left:
        yield wrapped(f"not in this profile: {', '.join(use.criteria)}", "      ", "  * - ")
    yield ""
    yield wrapped(f"{len(library.criteria)} criteria are known; 'soakage explain ID' shows each.", "  ")
