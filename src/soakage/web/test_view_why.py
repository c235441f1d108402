"""Why a figure is what it is: formula, what went in, source, what makes up its uncertainty, what judged it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import HTTPException

from soakage.app.explain import explain
from soakage.errors import UsageError
from soakage.report.tables import name_of
from soakage.standards.library import library
from soakage.units import format_quantity
from soakage.web import view
from soakage.web.test_view import criteria
from soakage.web.test_view_figures import value_of

Row = Mapping[str, Any]


def why(page: Row, name: str) -> dict[str, Any]:
    """Return why a quantity of a test is what it is.

    Parameters
    ----------
    page : mapping
        From :func:`soakage.web.test_view.found_page`.
    name : str
        Id of the quantity.

    Raises
    ------
    HTTPException
        404 where the verdict that stands has no such quantity.
    """
    quantity = (page["result"] or {"quantities": {}})["quantities"].get(name)
    if quantity is None:
        raise HTTPException(404, f"The verdict that stands has no quantity {name[:60]!r}.")
    value = value_of(name, quantity)
    told = _explained(name)
    base = quantity.get("base_temperature")
    values = page["result"]["quantities"]
    return {
        "id": name,
        "name": name_of(name),
        "shown": view.of(value),
        "bound": {"lower": "The truth lies at or above it.", "upper": "The truth lies at or below it."}.get(
            quantity["bound"] or "", ""
        ),
        "definition": told["definition"],
        "formula": quantity["formula"],
        "general": told["formula"] if told["formula"] != quantity["formula"] else "",
        "inputs": [
            {
                "name": name_of(key) if key in values else key.replace("_", " "),
                "value": text,
                "id": key if key in values else "",
            }
            for key, text in quantity.get("inputs", {}).items()
        ],
        "source": quantity["source"],
        "verified": told["verified"],
        "rule": _rule(quantity.get("rule")),
        "base": format_quantity(base, "temperature", trim=True) if base else "",
        "uncertainty_reason": quantity.get("uncertainty_reason", ""),
        "budget": [
            {
                "name": part["name"],
                "share": format_quantity(part["share"], "fraction", digits=2),
                "part": part["share"],
            }
            for part in quantity.get("budget", ())
        ],
        "criteria": [
            row
            for row, judgement in zip(criteria(page["result"]), page["result"]["judgements"], strict=True)
            if judgement["quantity"] == name
        ],
    }


def _explained(name: str) -> dict[str, str]:
    try:
        found = explain(name, library())
    except UsageError:
        return {"definition": "", "formula": "", "verified": ""}
    return {"definition": found.definition, "formula": found.formula, "verified": found.verified}


def _rule(rule_id: str | None) -> dict[str, str] | None:
    rule = library().temperature_rules.get(rule_id or "")
    if rule is None:
        return None
    source = explain(rule.id, library()).source
    return {"id": rule.id, "name": rule.name, "source": source, "verified": str(rule.verified)}
