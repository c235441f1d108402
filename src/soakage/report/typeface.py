"""The one typeface of paper and charts: where its files are, and which characters it has.

typst prints an empty box, without a word, for a character the typeface lacks.  So text is looked at
first and such a character is written out as ``[U+4E2D]``.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

FAMILY = "Fira Sans"
FACES = ("Regular", "Italic", "Medium", "SemiBold", "Bold")
NOTE = "A character this typeface does not have is written as its Unicode number, for example [U+4E2D]."
# Signs that mean the same, of which the typeface has only one.
_SAME = str.maketrans(
    {
        "\u202f": "\u00a0", "\u2009": "\u00a0", "\u2007": "\u00a0", "\u2011": "-", "\u2010": "-",
        "\u2126": "Ω",
        "\u03bc": "µ", "\n": " ", "\r": " ", "\t": " ", "\u2028": " ", "\u2029": " ",
        "\ufeff": "", "\u200b": "",
    }
)  # fmt: skip


@cache
def folder() -> Path:
    """Return the folder of the typeface's files."""
    import fontpkg_fira_sans

    return Path(fontpkg_fira_sans.__file__).parent / "files"


@cache
def characters() -> frozenset[int]:
    """Return the code points that every face used on paper has."""
    faces = [mapped_glyphs((folder() / f"FiraSans-{face}.ttf").read_bytes()) for face in FACES]
    return frozenset.intersection(*(frozenset(face) for face in faces))


def visible(value: object) -> tuple[object, bool]:
    """Return a JSON value with every missing character written out, and whether there was one.

    Parameters
    ----------
    value : object
        Text, number, list or mapping, nested at will; keys are left alone.

    Returns
    -------
    tuple of object and bool
        The same with text that can be printed; True where something was written out.
    """
    missing = [False]
    return _visible(value, characters(), missing), missing[0]


def _visible(value: object, known: frozenset[int], missing: list[bool]) -> object:
    if isinstance(value, str):
        if value.isascii() and value.isprintable():
            return value
        text = value.translate(_SAME)
        if all(ord(c) in known and ord(c) >= 32 for c in text):
            return text
        missing[0] = True
        return "".join(c if ord(c) in known and ord(c) >= 32 else f"[U+{ord(c):04X}]" for c in text)
    if isinstance(value, Mapping):
        return {key: _visible(item, known, missing) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [_visible(item, known, missing) for item in value]
    return value


def mapped_glyphs(font: bytes) -> dict[int, int]:
    """Return the glyph of each code point of a TrueType file: its ``cmap`` table, formats 4 and 12.

    Parameters
    ----------
    font : bytes
        The whole file.

    Returns
    -------
    dict
        Glyph number by code point; a character that maps to glyph 0 is not there.

    References
    ----------
    OpenType specification, "cmap - Character to Glyph Index Mapping Table" (from memory).
    """
    tables = {
        font[at : at + 4]: struct.unpack(">II", font[at + 8 : at + 16])[0]
        for at in range(12, 12 + 16 * struct.unpack(">H", font[4:6])[0], 16)
    }
    start = tables[b"cmap"]
    points: dict[int, int] = {}
    for entry in range(struct.unpack(">H", font[start + 2 : start + 4])[0]):
        (offset,) = struct.unpack(">I", font[start + 8 + 8 * entry : start + 12 + 8 * entry])
        table = start + offset
        (form,) = struct.unpack(">H", font[table : table + 2])
        if form == 4:
            points |= _format_4(font, table)
        elif form == 12:
            (groups,) = struct.unpack(">I", font[table + 12 : table + 16])
            for group in range(groups):
                first, last, glyph = struct.unpack_from(">III", font, table + 16 + 12 * group)
                points |= {point: glyph + point - first for point in range(first, last + 1)}
    return points


def _format_4(font: bytes, table: int) -> dict[int, int]:
    """Return the glyphs of a segment table."""
    (double,) = struct.unpack(">H", font[table + 6 : table + 8])
    count = double // 2

    def column(at: int, code: str) -> tuple[int, ...]:
        return struct.unpack(f">{count}{code}", font[at : at + double])

    ends = column(table + 14, "H")
    starts = column(table + 16 + double, "H")
    deltas = column(table + 16 + 2 * double, "h")
    ranges_at = table + 16 + 3 * double
    offsets = column(ranges_at, "H")
    points = {}
    for i, (first, last, delta, offset) in enumerate(zip(starts, ends, deltas, offsets, strict=True)):
        for point in range(first, min(last, 0xFFFE) + 1):
            glyph = point + delta
            if offset:
                at = ranges_at + 2 * i + offset + 2 * (point - first)
                (found,) = struct.unpack(">H", font[at : at + 2])
                glyph = found + delta if found else 0
            if glyph & 0xFFFF:
                points[point] = glyph & 0xFFFF
    return points
