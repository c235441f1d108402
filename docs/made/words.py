"""Pages of words: keys of the record file, quantities, formulas, finding codes, the default rule set."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path

import soakage.app
import soakage.importers
from made.text import code, facts, ids, link, page, plain, proof, table, target
from soakage.app.explain import condition_text, formula_of
from soakage.methods import words
from soakage.model.keys import KEYS, Key, Kind
from soakage.physics.formula import Formula, catalogue
from soakage.quantities import GLOSSARY, Quantity
from soakage.standards.criterion import Condition
from soakage.standards.library import Library
from soakage.standards.profile import Profile, TemperatureUse, Use, VoltageUse

OPEN = "\N{HORIZONTAL ELLIPSIS}"  # a figure or a name inside a sentence
PARTS = {
    "paper": "Papers, people and remarks",
    "asset": "The asset and its nameplate",
    "conditions": "Conditions",
    "test": "The test",
    "instrument": "The instrument",
}


def keys_page() -> str:
    """Return the page of every key of the record file."""
    parts = [
        (
            "Every key a record file may state, and every option of the command line: `rated_voltage` in a file is "
            "`--rated-voltage` there. Only `class` and `method` must be stated, and `soakage` in a file. What the "
            "others cost when they are missing is said with the record.\n\n"
        ),
    ]
    for part, heading in PARTS.items():
        rows = [_key(key) for key in KEYS.values() if key.part == part]
        parts.append(f"## {heading}\n\n")
        parts.append(table(("key", "value", "meaning", "words allowed"), rows))
    return page("Keys of the record file", *parts)


def _key(key: Key) -> tuple[str, str, str, str]:
    kinds = {Kind.WORD: "a word of the list", Kind.NUMBER: f"a figure with a unit of {key.dimension}",
             Kind.NUMBERS: f"figures of {key.dimension} by name"}  # fmt: skip
    return code(key.name), kinds.get(key.kind, str(key.kind)), plain(key.meaning), ids(words(key))


def quantities_page(library: Library) -> str:
    """Return the glossary."""
    parts = [
        (
            "Each quantity has one id, in files, in JSON and in criteria. Ids that carry times are made as they are "
            "needed: `insulation_resistance_90s`, `insulation_resistance_90s_corrected`, "
            "`resistance_ratio_120s_30s`. Values are in SI; the command line and reports print units people use.\n\n"
        ),
    ]
    parts += [_quantity(quantity, library) for quantity in GLOSSARY.values()]
    return page("Quantities", *parts)


def _quantity(quantity: Quantity, library: Library) -> str:
    judged = [c.id for c in library.criteria.values() if c.quantity == quantity.id]
    formula = formula_of(quantity.id)
    rows = [
        ("id", code(quantity.id)),
        ("symbol", plain(quantity.symbol)),
        ("unit", plain(quantity.unit)),
        ("what", plain(quantity.definition)),
        ("formula", code(quantity.expression)),
        ("where it stands", plain(quantity.source)),
        ("verified", proof(quantity.verified)),
        ("worked example", link(f"formula-{formula.id}") if formula else ""),
        ("judged by", ", ".join(link(name) for name in judged)),
    ]
    return f"{target(f'quantity-{quantity.id}')}## {plain(quantity.name)}\n\n{facts(rows)}"


def formulas_page() -> str:
    """Return the page of all formulas."""
    parts = [
        (
            "Each can be worked with your own figures: `soakage explain ID --with NAME=VALUE`. Outside the range it "
            "holds in a formula gives no value.\n\n"
        ),
    ]
    parts += [_formula(formula) for formula in catalogue().values()]
    return page("Formulas", *parts)


def _formula(formula: Formula) -> str:
    example = formula.example
    given = ", ".join(f"{name} = {text}" for name, text in example.inputs.items())
    rows = [
        ("id", code(formula.id)),
        ("formula", code(formula.expression)),
        ("gives", plain(formula.unit)),
        ("holds for", plain(formula.validity)),
        ("where it stands", plain(formula.source)),
        ("verified", proof(formula.verified)),
        (
            "worked example",
            f"{plain(given)} gives {example.expected:g} {plain(formula.unit)}; {plain(example.source)}",
        ),
    ]
    inputs = (
        (
            code(e.name),
            plain(e.unit),
            plain(e.definition),
            ""
            if e.default is None
            else f"{e.default:g} unless given".replace("-inf", "none").replace("inf", "none"),
        )
        for e in formula.inputs
    )
    whole = f"{target(f'formula-{formula.id}')}## {plain(formula.name)}\n\n{facts(rows)}"
    return whole + table(("input", "unit", "what", "default"), inputs)


def findings_page() -> str:
    """Return every finding code with its sentence, taken from where it is made."""
    parts = [("What is noticed about the reading itself. A finding with a status keeps the verdict from being better "
             "than that; one without informs. An ellipsis stands for a figure or a name.\n\n")]  # fmt: skip
    for heading, package in (("When judging", soakage.app), ("When reading a file", soakage.importers)):
        folder = Path(inspect.getfile(package)).parent
        rows = sorted({row for file in sorted(folder.glob("*.py")) for row in _made_in(file)})
        parts.append(f"## {heading}\n\n")
        parts.append(table(("code", "best verdict left", "what is said"), map(_finding, rows)))
    return page("Findings", *parts)


def _finding(row: tuple[str, str, str]) -> tuple[str, str, str]:
    return code(row[0]), f"*{row[1]}*" if row[1] else "", plain(row[2])


def _made_in(file: Path) -> Iterator[tuple[str, str, str]]:
    """Yield code, status and sentence of every finding a file makes."""
    module = ast.parse(file.read_text(encoding="utf-8"))
    for function in (node for node in ast.walk(module) if isinstance(node, ast.FunctionDef)):
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call)):
            if ast.unparse(call.func) not in ("Finding", "notes.finding", "own.finding"):
                continue
            status = next(
                (_status(a) for a in [*call.args, *(k.value for k in call.keywords)] if _status(a)), ""
            )
            said = (ast.get_docstring(function) or "").partition("\n")[0]
            sentence = _sentence(call.args[1]) if len(call.args) > 1 else said
            if sentence == OPEN and not list(_listed(function)):
                sentence = said
            for name in _codes(call.args[0], function):
                yield (name, *_told(name, status, sentence, function))


def _status(node: ast.expr) -> str:
    text = ast.unparse(node)
    return text.removeprefix("Status.").lower().replace("_", " ") if text.startswith("Status.") else ""


def _codes(node: ast.expr, function: ast.FunctionDef) -> list[str]:
    """Return the codes a call can give: its constant, or those its function lists in tuples."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    return [value[0] for value in _listed(function)]


def _told(name: str, status: str, sentence: str, function: ast.FunctionDef) -> tuple[str, str]:
    for code_, said, listed in ((v[0], v[1], v[2]) for v in _listed(function)):
        if code_ == name:
            return listed or status, said if sentence in ("", OPEN, f"{OPEN}{OPEN}.") else sentence
    return status, sentence


def _listed(function: ast.FunctionDef) -> Iterator[tuple[str, str, str]]:
    """Yield (code, words, status) of the tuples in a function that begin with a code."""
    for node in ast.walk(function):
        if not isinstance(node, ast.Tuple) or len(node.elts) < 2:
            continue
        words = [
            part.value for part in node.elts if isinstance(part, ast.Constant) and isinstance(part.value, str)
        ]
        code_ = next((word for word in words if "_" in word or word in ("tripped", "stopped")), "")
        if code_ and len(words) > 1:
            status = next((_status(part) for part in node.elts if _status(part)), "")
            yield code_, next((word for word in words if " " in word), ""), status


def _sentence(node: ast.expr) -> str:
    """Return a sentence with its figures left open."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(str(p.value) if isinstance(p, ast.Constant) else OPEN for p in node.values)
    if isinstance(node, ast.BinOp):
        return _sentence(node.left) + _sentence(node.right)
    return _sentence(node.body) if isinstance(node, ast.IfExp) else OPEN


def profile_page(shown: Profile, library: Library) -> str:
    """Return the default rule set with its reasons."""
    return page(
        plain(shown.title),
        f"{plain(shown.description)} Used unless you say otherwise with `--profile`; `soakage explain profile` "
        f"prints the same. {len(library.criteria)} criteria are known; those it does not name judge nothing.\n\n",
        "## Criteria\n\nEvery criterion counts up to its cap. For the methods it *decides* the verdict is held back "
        "while the criterion could not be judged.\n\n",
        *map(_use, shown.uses),
        "## Temperature rules\n\n",
        *map(_temperature, shown.temperatures),
        "## Test voltages\n\nAn overvoltage table is for step and ramp tests, with the conditions and cautions of "
        "an overvoltage test.\n\n",
        *map(_voltage, shown.voltages),
    )


def _for(applies: tuple[Condition, ...]) -> str:
    return plain("; ".join(map(condition_text, applies)) or "every class")


def _use(use: Use) -> str:
    decides = "nothing: shown beside the others" if use.shown else ids(use.decides) or "nothing, but counts"
    rows = [("for", _for(use.applies)), ("decides", decides), ("at most", f"*{use.cap}*" if use.cap else ""),
            ("why", plain(use.reason))]  # fmt: skip
    return f"### {', '.join(link(name) for name in use.criteria)}\n\n{facts(rows)}"


def _temperature(use: TemperatureUse) -> str:
    rows = [("for", _for(use.applies)), ("base", f"{use.base:g} °C"), ("why", plain(use.reason))]
    return f"### {link(use.rule)}\n\n{facts(rows)}"


def _voltage(use: VoltageUse) -> str:
    rows = [
        ("for", _for(use.applies)),
        ("by the rating", ", ".join(map(link, use.tables))),
        ("overvoltage", ", ".join(map(link, use.overvoltage))),
    ]
    return facts(rows)
