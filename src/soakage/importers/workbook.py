"""What must be known of a workbook before it is opened: sizes, formulas, merged and far cells."""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from soakage.importers.text import refuse

LARGEST_UNPACKED = 128 * 2**20
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_REL = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
_CELL = re.compile(
    rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]+[0-9]+)"[^>]*+>\s*+(?=<)((?:(?!</?(?:\w+:)?c\b).)*+)', re.DOTALL
)
_FORMULA = re.compile(rb"<(?:\w+:)?f\b")
_RESULT = re.compile(rb"<(?:\w+:)?v\b[^>/]*+>([^<]*+)<")
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^>]*?\bref="([A-Z]+[0-9]+(?::[A-Z]+[0-9]+)?)"')
_FAR = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br="([J-Z][A-Z]|I[W-Z]|[A-Z]{3})([0-9]+)"[^>/]*+><')


@dataclass(frozen=True, slots=True)
class SheetXml:
    """What the stored form of a sheet says that its values do not.

    Parameters
    ----------
    formulas : tuple of (str, str)
        Cells with formulas and their stored results.
    merged : tuple of str
        Ranges of merged cells.
    far_cells : tuple of str
        Filled cells beyond column IV, the 256th.
    """

    formulas: tuple[tuple[str, str], ...] = ()
    merged: tuple[str, ...] = ()
    far_cells: tuple[str, ...] = ()


def cell_row(cell: str) -> int:
    """Return the row of a cell, or the first row of a range, by its name."""
    return int(cell.partition(":")[0].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


def cell_column(cell: str) -> int:
    """Return the column of a cell by its name, counted from 1."""
    number = 0
    for letter in cell.partition(":")[0].rstrip("0123456789"):
        number = 26 * number + ord(letter) - 64
    return number


def read_package(data: bytes, file: str) -> dict[str, SheetXml]:
    """Look into the archive of a workbook, its sizes first.

    Parameters
    ----------
    data : bytes
        The workbook.
    file : str
        Its name, for messages.

    Returns
    -------
    dict
        Findings by sheet title.

    Raises
    ------
    InputError
        If it is no workbook, damaged, protected by a password or too large when unpacked.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            unpacked = sum(member.file_size for member in package.infolist())
            if unpacked > LARGEST_UNPACKED:
                raise refuse(
                    file,
                    None,
                    f"{unpacked / 2**20:.0f} MiB unpacked",
                    "The workbook is too large.",
                    f"at most {LARGEST_UNPACKED // 2**20} MiB unpacked",
                    "Split it, or save the sheet as CSV.",
                )
            return {
                title: _look(package.read(path))
                for title, path in _sheets(package)
                if path in package.namelist()
            }
    except (zipfile.BadZipFile, zlib.error, KeyError, EOFError, OSError, RuntimeError,
            ValueError, ET.ParseError) as error:  # fmt: skip
        raise refuse(
            file, None, f"{type(error).__name__}: {error}"[:120],
            "This is no workbook, or it is damaged or protected.",
            "an XLSX workbook without a password", "Open it in a spreadsheet program and save it again.",
        ) from error  # fmt: skip


def _sheets(package: zipfile.ZipFile) -> list[tuple[str, str]]:
    """Return title and path of every sheet."""
    root = ET.fromstring(package.read("xl/workbook.xml"))  # noqa: S314 - expat bounds entity expansion
    links = ET.fromstring(package.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    targets = {link.get("Id"): link.get("Target", "") for link in links}
    return [
        (
            sheet.get("name", ""),
            posixpath.normpath(posixpath.join("/xl", targets.get(sheet.get(f"{_REL}id"), ""))).lstrip("/"),
        )
        for sheet in root.iter(f"{_MAIN}sheet")
    ]


def _look(xml: bytes) -> SheetXml:
    formulas: list[tuple[str, str]] = []
    if _FORMULA.search(xml):
        for match in _CELL.finditer(xml):
            if _FORMULA.search(match[2]):
                result = _RESULT.search(match[2])
                formulas.append(
                    (match[1].decode(), result[1].decode("utf-8", "replace").strip() if result else "")
                )
    return SheetXml(
        tuple(formulas),
        tuple(found.decode() for found in _MERGED.findall(xml)),
        tuple((column + row).decode() for column, row in _FAR.findall(xml)),
    )
