"""A page for each standard and edition: criteria, temperature rules, voltage tables, thresholds, tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from made.text import code, facts, ids, link, page, plain, proof, table, target
from soakage.app.explain import condition_text, explain, key_text
from soakage.model.keys import KEYS
from soakage.model.verdict import Limit
from soakage.quantities import lookup
from soakage.standards.criterion import (
    Criterion,
    Example,
    Reference,
    Standard,
    TemperatureRule,
    Threshold,
    VoltageTable,
    Waiver,
)
from soakage.standards.library import Library
from soakage.standards.limits import limit_for
from soakage.standards.parsing import key_dimension
from soakage.standards.profile import Profile
from soakage.units import Bound, Measured, format_quantity

Entry = Criterion | TemperatureRule | VoltageTable | Threshold | Reference


def standard_pages(library: Library, default: Profile) -> dict[str, str]:
    """Return the page of each standard and the page that lists them, by path.

    Parameters
    ----------
    library : Library
        The criteria files.
    default : Profile
        The default rule set: what it judges by is marked.

    Returns
    -------
    dict of str to str
        Markdown by path inside the folder of made pages.
    """
    used = {
        criterion.id
        for use in default.uses
        if not use.shown
        for name in use.criteria
        for criterion in library.members(name)
    }
    pages = {}
    rows = []
    for standard in sorted(library.standards.values(), key=lambda s: (s.name.lower(), s.id)):
        held = _held(library, standard)
        pages[f"standards/{standard.id}.md"] = _standard(standard, library, held, used)
        counts = ", ".join(f"{len(entries)} {name}" for name, entries in held.items() if entries)
        judges = "yes" if any(entry.id in used for entry in held["criteria"]) else ""
        rows.append((f"[{plain(standard.name)}]({standard.id}.md)", plain(standard.edition), counts, judges))
    pages["standards/index.md"] = page(
        "Criteria by standard",
        "Every figure a verdict can rest on, with clause, edition and how we came by it. What a standard says "
        "stands here in our own words; the document itself is what counts.\n\n",
        table(("standard", "edition", "what is known of it", "judges by default"), rows),
        "```{toctree}\n:hidden:\n\n",
        "".join(f"{name.removeprefix('standards/').removesuffix('.md')}\n" for name in pages),
        "```\n",
    )
    return pages


def _held(library: Library, standard: Standard) -> dict[str, list[Entry]]:
    shelves: dict[str, Mapping[str, Entry]] = {
        "criteria": library.criteria,
        "temperature rules": library.temperature_rules,
        "tables of test voltages": library.voltage_tables,
        "thresholds": library.thresholds,
        "tables for reading": library.references,
    }
    return {
        name: [entry for entry in shelf.values() if entry.standard.id == standard.id]
        for name, shelf in shelves.items()
    }


def _standard(standard: Standard, library: Library, held: Mapping[str, list[Entry]], used: set[str]) -> str:
    parts = [
        f"{plain(standard.title)}. "
        + (f"Edition {plain(standard.edition)}. " if standard.edition else "")
        + f"File {code(standard.file)}.\n\n",
        "Local codes and licensed practice come first; check every figure against your own copy.\n\n",
    ]
    groups: dict[str, list[Criterion]] = {}
    for entry in (entry for entry in held["criteria"] if isinstance(entry, Criterion)):
        groups.setdefault(entry.group, []).append(entry)
    for name, members in groups.items():
        group = library.groups.get(name)
        if group is not None:
            # a group may go on in another standard: its place is where it begins
            begins = library.members(name)[0].standard.id == standard.id
            parts.append(target(name) if begins else "")
            parts.append(f"## {plain(group.name)}\n\nGroup {code(name)}: one of these holds.")
            parts.append(f" Where none does: {plain(group.none)}\n\n" if group.none else "\n\n")
        parts += [_criterion(member, library, used, deeper=group is not None) for member in members]
    for heading, entries in held.items():
        if heading != "criteria" and entries:
            parts.append(f"## {heading.capitalize()}\n\n")
            parts += [_other(entry, library) for entry in entries]
    return page(plain(standard.name), *parts)


def _where(entry: Entry) -> list[tuple[str, str]]:
    clause = (
        f"{plain(entry.standard.name)}, {plain(entry.clause)}" if entry.clause else plain(entry.standard.name)
    )
    reported = f" Reported by: {plain(entry.reported_by)}." if entry.reported_by else ""
    return [("where it stands", clause), ("verified", proof(entry.verified) + reported)]


def _criterion(criterion: Criterion, library: Library, used: set[str], *, deeper: bool) -> str:
    said = explain(criterion.id, library)
    multiples = ", ".join(f"{plain(key)} {value:g}" for key, value in criterion.multipliers.items())
    rows = [
        ("id", code(criterion.id)),
        ("rule", plain(said.formula)),
        ("on", link(f"quantity-{criterion.quantity}", code(criterion.quantity)) if _listed(criterion) else
         code(criterion.quantity)),
        ("applies to", _applies(criterion)),
        ("methods", ids(criterion.methods)),
        ("base temperature", _kelvin(criterion.base_temperature)),
        (f"multiple by {criterion.multiplier_key}", f"{multiples} ({code(str(criterion.multiplier_verified))})"
         if multiples else ""),
        *_where(criterion),
        ("why", plain(criterion.rationale)),
        ("a breach", f"*{criterion.breach}*: {plain(criterion.breach_means)}"),
        *(("not applicable", plain(_waiver(waiver))) for waiver in criterion.waivers),
        ("note", plain(criterion.notes)),
        ("by default", "judges" if criterion.id in used else "known, not judged by"),
    ]  # fmt: skip
    return (
        f"{target(criterion.id)}{'###' if deeper else '##'} {plain(criterion.name)}\n\n{facts(rows)}"
        f"Examples: they are its tests.\n\n{_examples(criterion)}"
    )


def _listed(criterion: Criterion) -> bool:
    return lookup(criterion.quantity).id in _glossary()


def _glossary() -> Mapping[str, object]:
    from soakage.quantities import GLOSSARY

    return GLOSSARY


def _kelvin(value: float | None) -> str:
    return "" if value is None else plain(format_quantity(value, "temperature"))


def _applies(entry: Criterion | TemperatureRule | VoltageTable) -> str:
    return plain("; ".join(condition_text(condition) for condition in entry.applies) or "everything")


def _waiver(waiver: Waiver) -> str:
    when = [condition_text(condition) for condition in waiver.when]
    if waiver.above is not None:
        when.append(
            f"{waiver.quantity} above {format_quantity(waiver.above, lookup(waiver.quantity).dimension)}"
        )
    return f"{waiver.reason} (when {'; '.join(when)})" if when else waiver.reason


def _examples(criterion: Criterion) -> str:
    dimension = lookup(criterion.quantity).dimension
    rows = [
        (
            plain("; ".join(_fact(key, value, dimension) for key, value in example.facts.items())),
            plain(_measured(example, dimension)),
            plain(_limit(criterion, example, dimension)),
            f"*{example.status}*",
        )
        for example in criterion.examples
    ]
    return table(("of", "value", "limit", "status"), rows)


def _measured(example: Example, dimension: str) -> str:
    bound = Bound(example.bound) if example.bound else None
    return format_quantity(Measured(example.value, bound), dimension)


def _limit(criterion: Criterion, example: Example, dimension: str) -> str:
    if example.limit is not None:
        return format_quantity(example.limit, dimension)
    limit = limit_for(criterion, {}, {})
    return limit.text if isinstance(limit, Limit) else ""


def _fact(key: str, value: object, dimension: str) -> str:
    if isinstance(value, float) and key == "reference":
        return f"{key} {format_quantity(value, dimension)}"
    if isinstance(value, float) and (key in KEYS or key_dimension(key) != "ratio"):
        return f"{key} {key_text(key, value)}"
    return f"{key} {value}"


def _other(entry: Entry, library: Library) -> str:
    said = explain(entry.id, library)
    rows = [("id", code(entry.id)), *_where(entry), ("why", plain(entry.rationale))]
    tail = ""
    if isinstance(entry, Threshold):
        rows.insert(1, ("value", plain(said.formula)))
    elif isinstance(entry, Reference):
        rows.append(("caution", plain(entry.caution)))
        tail = table([plain(c) for c in entry.columns], ([plain(cell) for cell in row] for row in entry.rows))
    elif isinstance(entry, TemperatureRule):
        rows.insert(1, ("applies to", _applies(entry)))
        base = "any" if entry.base is None else f"{entry.base:g} °C"
        rows.append(("base", base))
        rows += [(name, plain(text)) for name, text in said.details]
        rows.append(("note", plain(entry.notes)))
        worked = ((f"{t:g} °C", f"{b:g} °C", f"{k:.4g}") for t, b, k in entry.examples)
        tail = table(("temperature", "base", "K"), worked)
    elif isinstance(entry, VoltageTable):
        rows.insert(1, ("role", code(entry.role)))
        rows += [(name, plain(text)) for name, text in said.details]
        tail = table((entry.of, "test with"), _voltages(entry))
    return f"{target(entry.id)}### {plain(entry.name)}\n\n{facts(rows)}{tail}"


def _voltages(entry: VoltageTable) -> Iterator[tuple[str, str]]:
    for given, low, high in entry.examples:
        ends = [format_quantity(value, "voltage", trim=True) for value in dict.fromkeys((low, high))]
        yield plain(key_text(entry.of, given)), plain(" to ".join(ends))
