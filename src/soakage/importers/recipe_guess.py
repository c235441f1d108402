"""A recipe guessed from a file: what it says is taken, what it leaves open is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from soakage.importers.base import Notes, shown
from soakage.importers.columns import CURRENT, RESISTANCE, TIME, VOLTAGE
from soakage.importers.layout import DELIMITERS
from soakage.importers.recipe import (
    NONE,
    ColumnNote,
    ColumnRule,
    Dates,
    Empty,
    Guess,
    Kind,
    Layout,
    Question,
    Recipe,
)
from soakage.importers.recipe_columns import Seen, seen_columns
from soakage.importers.recipe_evidence import Headings, alike, date_order, decimal_mark, headings, is_units
from soakage.importers.recipe_grid import Grid, kind_of, open_grids, text_grid
from soakage.importers.recipe_headings import plain
from soakage.importers.text import decode
from soakage.methods import words
from soakage.model.keys import KEYS
from soakage.model.keys import Kind as KeyKind

SHOWN_ROWS = 12
_SAMPLE = 2000
_TOTALS = frozenset(
    (
        "total",
        "totals",
        "sum",
        "average",
        "mean",
        "minimum",
        "maximum",
        "min",
        "max",
        "median",
        "count",
        "summe",
        "mittel",
        "mittelwert",
        "anzahl",
        "durchschnitt",
    )
)
_GROUPS = ("site", "asset", "tag", "serial", "circuit", "section", "between", "visit", "started", "method")
_ORDERS = (
    (Dates.DAY_FIRST, "the day first, as in 31.12.2025"), (Dates.MONTH_FIRST, "the month first, as in 12/31/2025"),
)  # fmt: skip
_CENTURIES = (("1950", "1950 to 2049"), ("1970", "1970 to 2069"))
_MARKS = (
    (".", "a decimal point: 1,500 is fifteen hundred"),
    (",", "a decimal comma: 1,500 is one and a half"),
)


@dataclass(slots=True)
class _Work:
    """One guess while it is made."""

    recipe: Recipe
    grid: Grid
    head: Headings
    body: list[tuple[int, list[str]]]
    seen: list[Seen] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)

    def column(self, *keys: str) -> list[str]:
        """Return the filled cells of the columns of some keys."""
        return [cell for seen in self.seen if seen.rule.key in keys for cell in seen.cells if cell]

    def known(self) -> set[str]:
        """Return the keys that have a column."""
        return {seen.rule.key for seen in self.seen if seen.rule.key}

    def readings(self) -> set[str]:
        """Return the readings that have a column."""
        return {seen.rule.reading for seen in self.seen if seen.rule.reading}


def guess(data: bytes, name: str, delimiter: str | None = None) -> Guess:
    """Guess a recipe from a file.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name.
    delimiter : str, optional
        Of a text file, where it is known.

    Returns
    -------
    Guess
        A recipe that fits together once its required questions are answered, with the reasons.

    Raises
    ------
    InputError
        If the file cannot be opened, or holds no column that could be a reading.
    """
    kind = kind_of(data)
    remarks: list[str] = []
    if kind is Kind.CSV:
        text = decode(data, name)
        delimiter = delimiter or _delimiter(text, name)
        grids = [text_grid(text, name, delimiter)]
        remarks.append(f"The delimiter is the {DELIMITERS.get(delimiter, delimiter)}.")
    else:
        grids = open_grids(data, name, kind, "")
    notes = Notes(name)
    if not grids or not grids[0].rows:
        notes.fault(None, "", "", "The file is empty.", "a table", "Check that it was saved.")
        notes.settle()
    grid = max(grids, key=lambda each: headings(each).score)
    head = headings(grid)
    stem = name.replace("\\", "/").rpartition("/")[2].rpartition(".")[0] or name
    recipe = Recipe(stem, kind, Layout.ROW, delimiter=delimiter or ",", header_row=head.line or NONE)
    if head.score <= 0:
        notes.fault(
            None, "header_row", "", "No line names its columns in words that are known.",
            "headings such as Date, Asset, R 60 s (MΩ), Temperature",
            "Name the columns, or write the recipe by hand.",
        )  # fmt: skip
        notes.settle()
    work = _Work(recipe, grid, head, grid.rows[head.at + 1 :][:_SAMPLE], remarks=remarks)
    work.remarks.append(f"The headings stand in line {head.line}.")
    _sheets(work, grids)
    _units_and_totals(work)
    work.seen = seen_columns(head.cells, work.body, _unit_cells(work), work.grid.xml)
    if not work.readings() & {RESISTANCE, CURRENT}:
        notes.fault(
            head.line, "columns", ", ".join(filter(None, head.cells)),
            "No column looks like a resistance or a current.",
            "a heading such as R 60 s (MΩ)", "Name the column, or write the recipe by hand.",
        )  # fmt: skip
        notes.settle()
    _layout(work, len(grids))
    _figures(work)
    _dates(work)
    _open(work)
    _constants(work)
    recipe = replace(work.recipe, columns=tuple(seen.rule for seen in work.seen))
    return Guess(
        recipe,
        tuple(ColumnNote(seen.title, seen.confidence, seen.reason) for seen in work.seen),
        tuple(work.remarks),
        tuple(work.questions),
        tuple((line, tuple(cells)) for line, cells in grid.rows[: max(SHOWN_ROWS, head.at + 6)]),
    )


def _delimiter(text: str, name: str) -> str:
    """Return the delimiter under which most headings are told; of equals the one that splits most evenly."""
    top = "\n".join(text.split("\n", _SAMPLE)[:_SAMPLE]) + "\n"
    best, delimiter = (0, 0.0), ","
    for candidate in DELIMITERS:
        if candidate not in top:
            continue
        grid = text_grid(top, name, candidate)
        widths = [len(cells) for _, cells in grid.rows]
        even = max((widths.count(width) for width in set(widths) if width > 1), default=0)
        score = headings(grid).score, even / max(len(widths), 1)
        if score > best:
            best, delimiter = score, candidate
    return delimiter


def _sheets(work: _Work, grids: Sequence[Grid]) -> None:
    if len(grids) < 2:
        return
    same = [
        each.title
        for each in grids
        if any(line == work.head.line and alike(cells, work.head.cells) for line, cells in each.rows)
    ]
    if len(same) < len(grids):
        others = [each.title for each in grids if each.title not in same]
        work.recipe = replace(work.recipe, sheets=tuple(same))
        work.remarks.append(f"Sheets with other headings are not read: {', '.join(map(shown, others))}.")


def _unit_cells(work: _Work) -> Sequence[str]:
    return next((cells for line, cells in work.grid.rows if line == work.recipe.unit_row), [])


def _units_and_totals(work: _Work) -> None:
    if work.body and is_units(work.body[0][1]):
        work.recipe = replace(work.recipe, unit_row=work.body[0][0])
        work.remarks.append(f"Line {work.body[0][0]} holds the units.")
        work.body = work.body[1:]
    totals: dict[str, None] = {}
    kept = []
    for line, cells in work.body:
        first = next(filter(None, cells)).strip().rstrip(":. ")
        if plain(first) in _TOTALS:
            totals[first] = None
        elif not alike(cells, work.head.cells):
            kept.append((line, cells))
    if totals:
        work.recipe = replace(work.recipe, pass_over=tuple(totals))
        work.remarks.append(f"Lines that begin with {', '.join(totals)} are passed over.")
    work.body = kept


def _layout(work: _Work, sheets: int) -> None:
    marked = any(seen.rule.at for seen in work.seen)
    groups = tuple(key for key in _GROUPS if key in work.known())
    several = sheets > 1 and len(work.recipe.sheets) != 1
    if marked or TIME not in work.readings():
        layout, why = Layout.ROW, "Each row is a record."
        groups = ()
    elif groups:
        layout, why = Layout.GROUP, f"Rows that agree in {', '.join(groups)} are one record."
    elif several:
        layout, why = Layout.SHEET, "Each sheet is a record."
    else:
        layout, why = Layout.FILE, "The file is one record."
    work.recipe = replace(work.recipe, layout=layout, group_by=groups)
    if several and "asset" not in work.known():
        work.recipe = replace(work.recipe, sheet_key="asset")
        why += " The title of its sheet names the asset."
    work.remarks.append(why)
    if layout is not Layout.ROW:
        return
    places = [at for at, seen in enumerate(work.seen) if seen.rule.reading in (RESISTANCE, CURRENT)]
    bare = [
        line
        for number, (line, _) in enumerate(work.body)
        if not any(work.seen[at].cells[number] for at in places)
    ]
    if bare:
        work.recipe = replace(work.recipe, without_reading=Empty.SKIP)
        work.remarks.append(
            f"Rows without a reading are passed over: {len(bare)}, the first in line {bare[0]}."
        )


def _figures(work: _Work) -> None:
    """Settle the decimal mark, or ask."""
    cells = [
        cell
        for seen in work.seen
        if seen.rule.reading or seen.rule.ratio or _number(seen.rule)
        for cell in seen.cells
        if cell
    ]
    left, needed = decimal_mark(cells)
    if len(left) == 1:
        mark = next(iter(left))
        work.recipe = replace(work.recipe, decimal=mark)
        work.remarks.append(f"The decimal mark is the {'comma' if mark == ',' else 'point'}.")
    elif needed:
        work.questions.append(
            Question("decimal", "Which is the decimal mark? The file does not tell.", _MARKS)
        )
    elif not left:
        work.questions.append(
            Question(
                "decimal",
                "Decimal points and decimal commas are mixed. Which is meant?",
                _MARKS,
                required=False,
            )
        )


def _number(rule: ColumnRule) -> bool:
    return rule.key in KEYS and KEYS[rule.key].kind is KeyKind.NUMBER


def _dates(work: _Work) -> None:
    dated = [key for key, known in KEYS.items() if known.kind in (KeyKind.WHEN, KeyKind.DATE)]
    cells = work.column(*dated)
    left, needed, short = date_order(cells)
    if needed and len(left) == 1:
        order = next(iter(left))
        work.recipe = replace(work.recipe, dates=order)
        sure = (
            "are counts of days" if order is Dates.SERIAL else f"run {order}, as a day above the 12th tells"
        )
        work.remarks.append(f"Dates {sure}.")
    elif needed:
        ambiguous = next(cell for cell in cells if cell)
        problem = "can be read in two ways" if left else "contradict each other"
        work.questions.append(
            Question("dates", f"Dates such as {shown(ambiguous)} {problem}. Which comes first?", _ORDERS)
        )
    if short:
        work.questions.append(
            Question("first_year", "Years have two figures. Which hundred years are they of?", _CENTURIES)
        )
    if (
        work.recipe.kind is Kind.XLSX
        and needed
        and any(cell[:4].isdigit() and cell[4:5] == "-" for cell in cells)
    ):
        work.remarks.append(
            "Some dates are kept as dates, some as text: those kept as dates may have had day and month exchanged "
            "when the file was opened elsewhere. Compare them with the source."
        )


def _open(work: _Work) -> None:
    """Ask for what single columns leave open."""
    for number, seen in enumerate(work.seen, 1):
        if seen.unit_choices:
            work.questions.append(
                Question(
                    f"column.{number}.unit",
                    f"Which unit are the figures under {shown(seen.title)} in?",
                    tuple((name, name) for name in seen.unit_choices),
                )
            )
        if seen.gaps:
            work.questions.append(
                Question(
                    f"column.{number}.fill_down",
                    f"{shown(seen.title)} is empty in {seen.gaps} rows. Do they mean the cell above?",
                    (("true", "yes, the cell above holds"), ("false", "no, it is not stated")),
                )
            )


def _constants(work: _Work) -> None:
    keys = work.known() | {work.recipe.sheet_key}
    if "class" not in keys:
        choices = tuple((word, word.replace("-", " ")) for word in words(KEYS["class"]))
        work.questions.append(Question("constants.class", "What class of asset are these tests of?", choices))
    if not keys & {"asset", "tag", "serial", "circuit"}:
        work.questions.append(
            Question(
                "constants.asset",
                "Which asset are these tests of?",
                required=work.recipe.layout is Layout.ROW,
            )
        )
    if "test_voltage" not in keys and VOLTAGE not in work.readings():
        work.questions.append(
            Question("constants.test_voltage", "Which voltage was applied, such as 500 V?", required=False)
        )
