"""A file read with a recipe: rows gathered into records of the same kind as every other importer's."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from hashlib import sha256

import numpy as np

from soakage.errors import Fault, InputError, QuantityError
from soakage.importers.base import NBSP, Notes
from soakage.importers.cells import Cells
from soakage.importers.columns import CURRENT, RESISTANCE, TIME, Column
from soakage.importers.layout import Entry
from soakage.importers.nameplate import Plate, read_plate
from soakage.importers.recipe import Empty, Layout, Recipe
from soakage.importers.recipe_check import mark, marks_of_ratio, recipe_faults
from soakage.importers.recipe_grid import Grid, open_grids
from soakage.importers.recipe_headings import plain
from soakage.importers.recipe_table import Laid, lay
from soakage.importers.recipe_values import Figures, cell_entries, column_entries, read_figures, take
from soakage.importers.rows import form, over_range
from soakage.importers.values import plain_key, quoted
from soakage.methods import words
from soakage.model.keys import KEYS
from soakage.model.readings import Readings
from soakage.model.record import Origin, Record
from soakage.units import parse

_APART = 0.05  # ours, practice: as for a resistance and the current beside it
_DECIMALS = re.compile(r"[.,]([0-9]+)")
_MINUTE, _TEN_MINUTES = 60.0, 600.0


@dataclass(slots=True)
class Attempt:
    """What came of reading a file with a recipe: records, faults, lines passed over by (file, line, why)."""

    records: list[Record] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    passed_over: list[tuple[str, int, str]] = field(default_factory=list)


def read_with(
    recipe: Recipe, data: bytes, name: str, overrides: Mapping[str, str] | None = None
) -> tuple[Record, ...]:
    """Read a file with a recipe.

    Parameters
    ----------
    recipe : Recipe
        How its table becomes records.
    data : bytes
        The whole file.
    name : str
        Its name, for origins and messages.
    overrides : mapping of str to str, optional
        Keys of the record file given as options, as typed; they win over file and recipe.

    Returns
    -------
    tuple of Record
        In the order of the sheets and rows.

    Raises
    ------
    InputError
        If recipe or file have faults; holds every one, by row and column.
    """
    done = attempt(recipe, data, name, overrides)
    if done.faults:
        raise InputError(done.faults)
    return tuple(done.records)


def attempt(recipe: Recipe, data: bytes, name: str, overrides: Mapping[str, str] | None = None) -> Attempt:
    """Read what can be read with a recipe, and say what cannot; for a preview.

    Parameters
    ----------
    recipe, data, name, overrides
        As for :func:`read_with`.

    Returns
    -------
    Attempt
    """
    done = Attempt()
    faults = recipe_faults(recipe, f"recipe {recipe.name}".strip())
    if faults:
        done.faults += faults
        return done
    whole = Notes(name)
    try:
        grids = _chosen(recipe, open_grids(data, name, recipe.kind, recipe.delimiter), whole)
    except InputError as error:
        done.faults += error.faults
        return done
    origin = Origin(name, sha256(data).hexdigest())
    for grid in grids:
        notes = Notes(grid.file, faults=list(grid.notes.faults))
        laid = lay(recipe, grid, notes)
        if laid is not None:
            reader = _Reader(recipe, grid, laid, overrides or {}, replace(origin, file=grid.file), notes)
            done.records += reader.records()
            done.passed_over += [(grid.file, *pair) for pair in sorted(laid.passed_over)]
        _settle(notes, done)
    if grids and not done.records and not done.faults:
        whole.fault(None, "", "", "The file holds no record.", "rows below the headings", "Check the recipe.")
    _settle(whole, done)
    return done


def _settle(notes: Notes, done: Attempt) -> None:
    try:
        notes.settle()
    except InputError as error:
        done.faults += error.faults


def _chosen(recipe: Recipe, grids: list[Grid], notes: Notes) -> list[Grid]:
    """Return the sheets a recipe is for."""
    titles = [grid.title for grid in grids]
    for sheet in recipe.sheets:
        if sheet not in titles:
            notes.fault(None, "sheets", sheet, "There is no such sheet, or it is empty.", ", ".join(titles),
                        "Correct sheets in the recipe.")  # fmt: skip
    chosen = [grid for grid in grids if not recipe.sheets or grid.title in recipe.sheets]
    if not chosen and not notes.faults:
        notes.fault(None, "", "", "The file is empty.", "a table", "Check that it was saved.")
    if recipe.layout is Layout.FILE and len(chosen) > 1:
        notes.fault(
            None, "sheets", ", ".join(grid.title for grid in chosen), "One record is to be made of several sheets.",
            "one sheet named by sheets, or layout = sheet", "Name the sheet in the recipe.",
        )  # fmt: skip
        return []
    return chosen


@dataclass(slots=True)
class _Reader:
    """Makes the records of one grid."""

    recipe: Recipe
    grid: Grid
    laid: Laid
    overrides: Mapping[str, str]
    origin: Origin
    notes: Notes
    stated: dict[str, Entry] = field(default_factory=dict)

    def records(self) -> Iterator[Record]:
        constants = {key: Entry(key, text, None) for key, text in self.recipe.constants.items()}
        self.stated = constants | cell_entries(self.recipe, self.grid, self.notes)
        plate = read_plate([*self.stated.values()], self.overrides, Notes(""))
        figures = read_figures(self.recipe, self.laid, over_range(plate), self.notes)
        # a cell that cannot be read under file, sheet or group costs the record its rows stand in
        sections = list(dict.fromkeys(p.rule.section for p in self.laid.placed if p.rule.section)) or [""]
        for rows in self._groups():
            for section in sections:
                made = self._record(rows, section, figures)
                if made is not None:
                    yield made

    def _groups(self) -> list[list[int]]:
        count = len(self.laid.rows)
        if self.recipe.layout is Layout.ROW:
            return [[at] for at in range(count)]
        if self.recipe.layout in (Layout.FILE, Layout.SHEET):
            return [list(range(count))] if count else []
        groups: dict[tuple[str, ...], list[int]] = {}
        columns = [place for place in self.laid.placed if place.rule.key in self.recipe.group_by]
        for at, (line, row) in enumerate(self.laid.rows):
            name = tuple(plain(row[place.index]) for place in columns)
            if any(name):
                groups.setdefault(name, []).append(at)
                continue
            self.notes.fault(
                line, ", ".join(place.title for place in columns), "", "This row does not say which record it is of.",
                "a filled cell", "Fill the cells, or set fill_down = true where an empty cell means the one above.",
            )  # fmt: skip
        return list(groups.values())

    def _record(self, rows: list[int], section: str, figures: Figures) -> Record | None:
        own = Notes(self.notes.file, findings=list(self.notes.findings))
        line = self.laid.rows[rows[0]][0]
        cells = self._cells(rows, section, figures)
        if not len(cells.lines) or all(np.isnan(cells.value(name)).all() for name in (RESISTANCE, CURRENT)):
            if not figures.broken.intersection(rows):
                self._nothing(line, section)
            return None
        said = column_entries(self.recipe, self.laid, rows, own)
        entries = self.stated | {key: entry for key, (entry, _) in said.items()}
        if section:
            entries["section"] = Entry("section", quoted(section), line)
        plate = read_plate(list(entries.values()), self.overrides, own)
        self._require(plate, cells, own)
        places = {name: Column(name, 0) for name in cells.values}
        readings = form(cells, places, plate, own, line) if not own.faults else None
        titles = {key: f"{title} ({key})" for key, (_, title) in said.items()}
        take(self.notes, own, lambda fault: self._placed(fault, titles))
        if own.faults or readings is None or figures.broken.intersection(rows):
            return None
        self._ratios(rows, section, readings, own)
        alone = self.recipe.layout in (Layout.FILE, Layout.SHEET)
        return plate.record(readings, replace(self.origin, row=None if alone else line), own)

    def _placed(self, fault: Fault, titles: Mapping[str, str]) -> Fault:
        """Return a fault of a key with the heading of its column, or its place in the recipe."""
        key = plain_key(fault.field.removeprefix("--"))
        if fault.row is None and key in self.recipe.constants and key not in map(plain_key, self.overrides):
            return replace(fault, field=f"constants.{key}")
        return replace(fault, field=titles.get(fault.field, fault.field))

    def _nothing(self, line: int, section: str) -> None:
        if self.recipe.without_reading is Empty.SKIP:
            self.laid.passed_over.append((line, f"no reading{' of ' + section if section else ''}"))
            return
        self.notes.fault(
            line, section, "", "No reading stands here.", "a resistance or a current",
            "Fill it in, or set without_reading = skip in the recipe.",
        )  # fmt: skip

    def _cells(self, rows: list[int], section: str, figures: Figures) -> Cells:
        """Return the readings of one record, a line for each mark, marks in order."""
        lines: list[int] = []
        columns: dict[str, list[tuple[float, int]]] = {}
        by_mark: dict[float | None, dict[str, int]] = {}
        for number in figures.values:
            rule = self.laid.placed[number].rule
            if rule.section in ("", section):
                by_mark.setdefault(mark(rule.at) if rule.at else None, {})[rule.reading] = number
        held = by_mark.pop(None, {}) if len(by_mark) > 1 or None not in by_mark else {}
        names = {name for found in by_mark.values() for name in found} | set(held)
        marked = None not in by_mark
        for at in rows:
            for when in sorted(by_mark, key=lambda known: known or 0.0):
                found = held | by_mark[when]
                values = {name: figures.values[number][at] for name, number in found.items()}
                if marked and all(np.isnan(values.get(name, np.nan)) for name in (RESISTANCE, CURRENT)):
                    continue
                if all(np.isnan(value) for value in values.values()):
                    continue
                lines.append(self.laid.rows[at][0])
                for name in names:
                    bound = int(figures.bounds[found[name]][at]) if name in found else 0
                    columns.setdefault(name, []).append((values.get(name, np.nan), bound))
                if marked:
                    columns.setdefault(TIME, []).append((when or 0.0, 0))
        return Cells(
            lines,
            {name: np.array([value for value, _ in column]) for name, column in columns.items()},
            {name: np.array([bound for _, bound in column], np.int8) for name, column in columns.items()},
        )

    def _require(self, plate: Plate, cells: Cells, notes: Notes) -> None:
        if "method" not in plate.stated and "method" not in plate.broken:
            times = cells.value(TIME)
            known = set(times[~np.isnan(times)].tolist())
            method = "insulation-resistance" if len(cells.lines) == 1 else "timed-insulation-resistance"
            if {_MINUTE, _TEN_MINUTES} <= known:
                method = "polarization-index"
            plate.stated["method"] = method
            plate.stated = {key: plate.stated[key] for key in KEYS if key in plate.stated}
            notes.finding(
                "method_assumed",
                f"The method is not stated; by the marks that were read it is taken as {method}.",
                "Give method in the recipe's constants, or --method.",
            )
        if "class" not in plate.stated and "class" not in plate.broken:
            notes.fault(
                None, "constants.class", "", "The class is not stated.", ", ".join(words(KEYS["class"])),
                "Write class = ... under [constants] in the recipe, or give --class.",
            )  # fmt: skip

    def _ratios(self, rows: list[int], section: str, readings: Readings, notes: Notes) -> None:
        """Compare ratios given in the file with those of the readings."""
        for place in self.laid.placed:
            if not place.rule.ratio or place.rule.section not in ("", section):
                continue
            later, earlier = marks_of_ratio(place.rule.ratio)
            for at in rows:
                text = self.laid.rows[at][1][place.index]
                if text.strip(" -"):
                    _compare(place.title, text, (later, earlier), readings, self.recipe, notes)


def _compare(
    title: str, text: str, marks: tuple[float, float], readings: Readings, recipe: Recipe, notes: Notes
) -> None:
    found = [np.flatnonzero(np.isclose(readings.time, when, rtol=0, atol=1e-6)) for when in marks]
    try:
        given = parse(text.replace(".", ",") if recipe.decimal == "," and "," not in text else text, "ratio",
                      decimal_comma=recipe.decimal_comma)  # fmt: skip
    except QuantityError:
        given = None
    places = [int(place[0]) for place in found if len(place)]
    if given is None or len(places) < 2 or readings.bound[places].any():
        notes.finding(
            "ratio_not_checked",
            f"{title} = {text} is given in the file; it cannot be compared with the readings and is not used.",
        )
        return
    computed = float(readings.resistance[places[0]] / readings.resistance[places[1]])
    decimals = _DECIMALS.search(text)
    last = 0.5 * 10.0 ** -(len(decimals[1]) if decimals else 0)
    if not abs(given.value - computed) <= _APART * computed + last:
        notes.finding(
            "ratio_differs",
            f"{title} = {text} is given in the file; the readings at {marks[0]:g}{NBSP}s and {marks[1]:g}{NBSP}s "
            f"give {computed:.3g}, which is used.",
            "Check the readings, their units and their marks.",
        )
