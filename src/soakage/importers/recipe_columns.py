"""The columns of a table seen one by one: what each seems to hold, how sure that is, and what it leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soakage.importers.base import shown
from soakage.importers.columns import RESISTANCE, TIME
from soakage.importers.recipe import ColumnRule
from soakage.importers.recipe_check import dimension
from soakage.importers.recipe_evidence import has_figure, is_figure
from soakage.importers.recipe_headings import READING_WORDS, Meaning, meaning, plain, unit_alone, unit_in
from soakage.importers.workbook import SheetXml, cell_column
from soakage.methods import words
from soakage.model.keys import KEYS, Kind

CERTAIN, LIKELY, NOT_READ = "certain", "likely", "not read"
_UNITS = {
    "resistance": ("MOhm", "GOhm", "kOhm", "TOhm", "Ohm"), "current": ("uA", "nA", "mA", "A"),
    "voltage": ("V", "kV"), "temperature": ("degC", "degF", "K"), "humidity": ("%",),
    "power": ("kW", "MW", "kVA", "MVA"),
    "length": ("m", "km"), "capacitance": ("nF", "uF", "pF"),
}  # fmt: skip
_MAY_FILL = ("site", "asset", "tag", "serial", "started", "visit")


@dataclass(frozen=True, slots=True)
class Seen:
    """One column: its rule, what to call it, how sure, why, its cells, and what must be asked.

    Parameters
    ----------
    rule : ColumnRule
        What it seems to hold.
    title : str
        Its heading.
    confidence : str
        ``certain``, ``likely`` or ``not read``.
    reason : str
        Why, in words.
    cells : tuple of str
        One for each row of the body.
    unit_choices : tuple of str
        Units to choose from where none is stated.
    gaps : int
        Rows in which a key that most rows state is empty.
    """

    rule: ColumnRule
    title: str
    confidence: str
    reason: str
    cells: tuple[str, ...]
    unit_choices: tuple[str, ...] = ()
    gaps: int = 0


def seen_columns(
    heads: Sequence[str], body: Sequence[tuple[int, list[str]]], units: Sequence[str], xml: SheetXml | None
) -> list[Seen]:
    """Return every column that has a heading or a filled cell.

    Parameters
    ----------
    heads : sequence of str
        Headings.
    body : sequence of (int, list of str)
        Rows of figures.
    units : sequence of str
        Line of units; empty where there is none.
    xml : SheetXml or None
        Of a workbook, its merged cells.

    Returns
    -------
    list of Seen
        In the order of the table.
    """
    width = max([len(heads), *(len(cells) for _, cells in body)])
    merged = {cell_column(span) - 1 for span in xml.merged} if xml else set()
    found = []
    plains = [plain(cell) for cell in heads]
    for index in range(width):
        head = heads[index] if index < len(heads) else ""
        cells = tuple(row[index] if index < len(row) else "" for _, row in body)
        if not head and not any(cells):
            continue
        place = None if head and plains.count(plain(head)) == 1 else index + 1
        bare = ColumnRule(head, place)
        below = units[index] if index < len(units) else ""
        found.append(_seen(bare, cells, below, filled_down=index in merged))
    return _apart(found)


def _seen(bare: ColumnRule, cells: tuple[str, ...], below: str, *, filled_down: bool) -> Seen:
    told = meaning(bare.heading) if bare.heading else None
    filled = [cell for cell in cells if cell]
    reason = _against(told, filled)
    if told is None or reason:
        rule = replace(bare, ignore=True)
        return Seen(rule, bare.title, NOT_READ, reason, cells)
    rule = replace(
        bare, key=told.key, reading=told.reading, at=told.at, ratio=told.ratio,
        fill_down=filled_down and told.key in _MAY_FILL,
    )  # fmt: skip
    measured = dimension(rule.key, rule.reading)
    choices: tuple[str, ...] = ()
    stated = unit_in(bare.heading, measured) or unit_alone(below, measured) if measured else ""
    if stated and not unit_in(bare.heading, measured):
        stated = f"{stated}, from the line of units"
    needs = measured in _UNITS and rule.key != "hours_out_of_service"
    if needs and not stated and any(is_figure(cell) for cell in filled):
        choices = _UNITS[measured]
    gaps = 0
    if rule.key in _MAY_FILL and not rule.fill_down and cells and cells[0]:
        gaps = sum(not cell for cell in cells)
    ratio = f"the ratio {rule.ratio}, compared with the readings" if rule.ratio else ""
    what = ratio or rule.key.replace("_", " ") or rule.reading
    if rule.at:
        what += f" at {rule.at}"
    said = f"Read as {what}{', in ' + stated if stated else ''}."
    return Seen(rule, bare.title, CERTAIN if told.sure else LIKELY, said, cells, choices, gaps)


def _against(told: Meaning | None, filled: Sequence[str]) -> str:
    """Return why a column is not read; empty where it is."""
    if told is None:
        return "No word of the heading is known."
    if told.worked_out:
        return "The heading speaks of a corrected or required figure; only readings are read."
    figures = sum(has_figure(cell) for cell in filled)
    if told.reading and filled and figures * 2 < len(filled):
        return f"The heading speaks of a {told.reading}, the cells hold words."
    known = KEYS.get(told.key)
    if known and known.kind is Kind.WORD and filled:
        allowed = words(known)
        strange = next((cell for cell in filled if plain(cell).replace(" ", "-") not in allowed), "")
        if strange and known.name != "thermal_class":
            return f"{known.name} takes {', '.join(allowed)}; {shown(strange)} is none of them."
    if known and known.kind is Kind.NUMBER and filled and figures * 2 < len(filled):
        return f"{known.name} is a figure, the cells hold words."
    return ""


def _apart(found: list[Seen]) -> list[Seen]:
    """Tell columns of one reading and mark apart by section, or leave the later ones out."""
    groups: dict[tuple[str, str], list[int]] = {}
    for at, seen in enumerate(found):
        if seen.rule.reading:
            groups.setdefault((seen.rule.reading, seen.rule.at), []).append(at)
    has_section = any(seen.rule.key == "section" for seen in found)
    timed = any(seen.rule.reading == TIME for seen in found)
    made = list(found)
    for (reading, _), places in groups.items():
        if len(places) < 2:
            continue
        names = [_section(found[at].title) for at in places]
        if (
            reading == RESISTANCE
            and not has_section
            and not timed
            and all(names)
            and len(set(names)) == len(names)
        ):
            for at, name in zip(places, names, strict=True):
                seen = found[at]
                reason = f"{seen.reason.rstrip('.')}, of section {name}."
                made[at] = replace(
                    seen, rule=replace(seen.rule, section=name), confidence=LIKELY, reason=reason
                )
            continue
        for at in places[1:]:
            seen = found[at]
            rule = ColumnRule(seen.rule.heading, seen.rule.place, ignore=True)
            reason = f"The same reading as {shown(found[places[0]].title)} already."
            made[at] = Seen(rule, seen.title, NOT_READ, reason, seen.cells)
    return _joined(made)


def _joined(found: list[Seen]) -> list[Seen]:
    """Leave out a second column of one key, unless it is the time of day beside a date."""
    seen_keys: set[str] = set()
    made = []
    for seen in found:
        key = seen.rule.key
        again = key in seen_keys and not (key == "started" and any(":" in cell for cell in seen.cells))
        if key and again and key != "notes":
            rule = ColumnRule(seen.rule.heading, seen.rule.place, ignore=True)
            made.append(
                Seen(
                    rule,
                    seen.title,
                    NOT_READ,
                    f"Another column is {key.replace('_', ' ')} already.",
                    seen.cells,
                )
            )
            continue
        if key:
            seen_keys.add(key)
        made.append(seen)
    return made


def _section(title: str) -> str:
    """Return what a heading says beside reading, mark and unit: the section, such as U or L1-PE."""
    kept = []
    for word in title.replace("(", " (").replace("[", " [").split():
        bare = word.strip("[]()").strip(".,:")
        named = plain(bare) in READING_WORDS and plain(bare) not in ("u", "v")
        if not bare or named or unit_alone(bare, RESISTANCE):
            continue
        told = meaning(bare)
        if told is not None and told.at:
            continue
        kept.append(bare)
    return " ".join(kept)
