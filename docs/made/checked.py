"""What is checked against the world outside, and the shapes of JSON."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from made.text import code, page, plain, table
from soakage.app.changes_schema import (
    purge_schema,
    register_schema,
    rejudge_schema,
    remark_schema,
    revision_schema,
    sign_schema,
)
from soakage.app.contract_schema import explain_schema, judge_schema
from soakage.app.exchange_schema import bundle_schema, conflicts_schema, merge_schema, settle_schema
from soakage.app.plan_schema import plan_schema
from soakage.app.store_schema import export_schema, import_schema, list_schema, show_schema
from soakage.app.trend_schema import trend_schema
from soakage.importers.exchange_schema import records_schema
from soakage.importers.schema import record_schema

SCHEMAS = {
    "judge": judge_schema, "plan": plan_schema, "explain": explain_schema, "record": record_schema,
    "trend": trend_schema, "records": records_schema,
    "register": register_schema, "revision": revision_schema, "remark": remark_schema, "sign": sign_schema,
    "rejudge": rejudge_schema, "purge": purge_schema,
    "import": import_schema, "list": list_schema, "show": show_schema, "export": export_schema,
    "bundle": bundle_schema, "merge": merge_schema, "conflicts": conflicts_schema, "settle": settle_schema,
}  # fmt: skip
LIBRARIES = (
    ("psychrolib", "dew point", "follows the ASHRAE Handbook"),
    ("pvlib", "dew point and humidity", "its own constants and tests"),
    ("pint", "every unit and prefix", "its own table of SI units"),
    ("uncertainties", "propagation of uncertainty", "linear propagation by derivatives"),
    ("scipy", "integrals, differential equations, distributions", "solves them numerically"),
    ("hypothesis", "properties that hold for any input", "searches for what breaks them"),
    ("jsonschema", "the shapes of JSON", "JSON Schema, draft 2020-12"),
    ("pypdf", "what stands in a report", "reads it back from the PDF"),
    ("ngspice", "circuits of layers and branches", "solves the circuit itself"),
)


def schemas() -> dict[str, str]:
    """Return the JSON Schemas by file name."""
    return {f"{name}.schema.json": json.dumps(made(), indent=1) + "\n" for name, made in SCHEMAS.items()}


def cases_page(references: Path) -> str:
    """Return the page of all reference cases.

    Parameters
    ----------
    references : Path
        Folder of the reference files.
    """
    parts = [
        (
            "Each line is a figure from outside that a test recomputes on every run. `derived` means that it follows "
            "from a definition or from other figures by arithmetic that stands beside it.\n\n"
        ),
    ]
    counts: dict[str, int] = {}
    for file in sorted(references.glob("*.toml")):
        rows = []
        for case in _cases(file):
            status = str(case["status"])
            counts[status] = counts.get(status, 0) + 1
            rows.append((code(case["function"]), plain(case["source"]), code(status)))
        parts.append(f"## {file.stem.capitalize()}\n\n")
        parts.append(table(("function of soakage.physics", "source of the figure", "status"), rows))
    total = ", ".join(f"{number} {code(status)}" for status, number in sorted(counts.items()))
    parts.insert(1, f"{sum(counts.values())} cases: {total}.\n\n")
    return page("Figures from outside", *parts)


def _cases(file: Path) -> Iterator[dict[str, Any]]:
    yield from tomllib.loads(file.read_text(encoding="utf-8")).get("case", [])


def libraries_table() -> str:
    """Return the table of outside programs that results are held against."""
    return table(("program", "holds", "why it may"), LIBRARIES)


def benchmarks(results: Path) -> str:
    """Return the measured times, or that none were measured here.

    Parameters
    ----------
    results : Path
        Folder with one JSON file a run.
    """
    rows = []
    for file in sorted(results.glob("[0-9]*.json")):
        found = json.loads(file.read_text(encoding="utf-8"))
        rows += [(plain(file.stem), plain(name), plain(value)) for name, value in _flat(found)]
    if not rows:
        return "No run is kept with these pages. `python3 go.py bench` measures on your machine.\n"
    return table(("run", "what", "measured"), rows)


def confusion(results: Path) -> str:
    """Return how often each hidden cause was ranked first as which, in simulated visits.

    Parameters
    ----------
    results : Path
        Folder that holds ``validate-causes.json``.
    """
    found = json.loads((results / "validate-causes.json").read_text(encoding="utf-8"))
    rows = [
        (plain(hidden), ", ".join(f"{plain(first)} {count}" for first, count in counts.items()))
        for hidden, counts in found["table"].items()
    ]
    total = f"First-ranked is the hidden cause in {found['share']:.0%} of them.\n\n"
    return total + table(("hidden", "ranked first, of " + str(found["each"])), rows)


def _flat(value: object, name: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(inner, f"{name} {key}".strip())
    elif isinstance(value, list):
        for place, inner in enumerate(value, start=1):
            yield from _flat(inner, f"{name} {place}".strip())
    else:
        yield name, f"{value:.4g}" if isinstance(value, float) else str(value)
