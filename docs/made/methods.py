"""A page for each test method: what it tells, how it is done, what it needs, its cautions."""

from __future__ import annotations

from made.text import code, facts, ids, page, plain, proof, table
from soakage.app.cautions import STEPS, Caution, cautions
from soakage.methods import methods
from soakage.methods.base import Mark, Method, Shape
from soakage.quantities import lookup
from soakage.standards.library import Library
from soakage.units import format_quantity

SHAPES = {
    Shape.SPOT: "One reading, its time stated or not.",
    Shape.HOLD: "One constant voltage, held to the last mark.",
    Shape.DISCHARGE: "One constant voltage, then the short circuit through the instrument.",
    Shape.STEPS: "Rising in steps, each held.",
    Shape.RAMP: "Rising steadily.",
}


def method_pages(library: Library) -> dict[str, str]:
    """Return the page of each method and the page that lists them, by path."""
    known = methods().values()
    pages = {f"methods/{method.id}.md": _method(method, library) for method in known}
    rows = [(f"[{plain(m.title)}]({m.id}.md)", code(m.id), plain(m.purpose), ids(m.classes)) for m in known]
    pages["methods/index.md"] = page(
        "Test methods",
        "Before any of them: local codes, the permit and licensed practice come first.\n\n",
        table(("method", "id", "what it tells", "classes"), rows),
        "```{toctree}\n:hidden:\n\n",
        "".join(f"{method.id}\n" for method in known),
        "```\n",
    )
    return pages


def _method(method: Method, library: Library) -> str:
    steps = "".join(f"{number}. {plain(step)}\n" for number, step in enumerate(method.procedure, start=1))
    marks = [
        (
            plain(_mark(mark)),
            "yes" if mark.required else "",
            "discharge" if mark.after_discharge else "voltage on",
        )
        for mark in method.marks
    ]
    quantities = [
        (code(name), plain(lookup(name).name), plain(lookup(name).definition)) for name in method.quantities
    ]
    shown = "".join(
        f"- **{caution.step}**: {plain(caution.text)} ({plain(caution.source)}; {code(caution.verified)})\n"
        for caution in _cautions(method, library)
    )
    return page(
        plain(method.title),
        f"{plain(method.purpose)}\n\n",
        facts(
            [
                ("id", code(method.id)),
                ("made on", ids(method.classes)),
                ("voltage", SHAPES[method.shape]),
                ("how high", f"the table of {code(method.voltage_role)} voltages"),
                ("keys its judgements need", ids(method.needs)),
                ("limits of use", plain(method.limits_of_use)),
                ("where it stands", plain(method.source)),
                ("verified", proof(method.verified)),
            ]
        ),
        "## Cautions\n\nLocal codes and licensed practice come first. The cautions of every class the method is made "
        "on stand here; a plan shows those of its own class.\n\n",
        f"{shown}\n",
        f"## How it is done\n\nBetween the last caution and the earth:\n\n{steps}\n",
        "## Timed marks\n\n",
        table(("time", "required", "counted from"), marks) if marks else "None: every reading counts.\n\n",
        "## Quantities it is made for\n\n",
        table(("id", "name", "what"), quantities),
    )


def _cautions(method: Method, library: Library) -> list[Caution]:
    found: dict[str, Caution] = {}
    for asset_class in method.classes:
        overvoltage = method.voltage_role == "overvoltage"
        for caution in cautions(asset_class, method, overvoltage=overvoltage, library=library):
            found.setdefault(caution.text, caution)
    return sorted(found.values(), key=lambda caution: STEPS.index(caution.step))


def _mark(mark: Mark) -> str:
    return format_quantity(mark.time, "time")
