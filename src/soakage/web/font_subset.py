"""A typeface with only the characters that pages use: a first page must be light.

Glyphs keep their numbers, so that every table that names them stays true; the outlines of those that are
not used are emptied.  Pair kerning is left out: it weighs more than all outlines that are kept.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable

from soakage.report.typeface import mapped_glyphs

# Latin with the letters of European names, Greek letters of the trade, its signs.
_RANGES = ((0x20, 0x7E), (0xA0, 0x17F), (0x2010, 0x2027), (0x2030, 0x203A), (0x2190, 0x2193))
_SIGNS = "αβγδεθλμνπρστφωΔΣΩ⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺₀₁₂₃€™Ω−∞≈≠≤≥√×÷"
_PAGES = {c for low, high in _RANGES for c in range(low, high + 1)} | {ord(c) for c in _SIGNS}
_KEPT = (b"OS/2", b"cmap", b"cvt ", b"fpgm", b"gasp", b"glyf", b"head", b"hhea", b"hmtx", b"loca", b"maxp",
         b"name", b"post", b"prep", b"GDEF", b"GSUB")  # fmt: skip
_FEATURES = (b"tnum", b"lnum")
_CHECK = 0xB1B0AFBA


def subset(font: bytes, characters: str = "", *, figures: bool = True) -> bytes:
    """Return a TrueType font with the outlines of some characters only.

    Parameters
    ----------
    font : bytes
        The whole font, with a ``glyf`` table.
    characters : str
        Those to keep; empty for those that pages use.
    figures : bool
        True to keep tabular and lining figures.

    Returns
    -------
    bytes
        The same for the same font.

    References
    ----------
    OpenType specification, "Font file", "glyf", "loca", "GSUB" (from memory); the check sum of the whole
    is 0xB1B0AFBA.
    """
    tables = _tables(font)
    wanted = {ord(c) for c in characters} or _PAGES
    glyphs = {glyph for point, glyph in mapped_glyphs(font).items() if point in wanted} | {0}
    if figures:
        tables[b"GSUB"], numbers = _figures_only(tables[b"GSUB"])
        glyphs |= _substituted(tables[b"GSUB"], numbers, glyphs)
    else:
        del tables[b"GSUB"], tables[b"GDEF"]
    tables[b"glyf"], tables[b"loca"] = _outlines(tables, glyphs)
    head = bytearray(tables[b"head"])
    struct.pack_into(">I", head, 8, 0)
    struct.pack_into(">h", head, 50, 1)  # long offsets
    tables[b"head"] = bytes(head)
    tables[b"post"] = struct.pack(">I", 0x00030000) + tables[b"post"][4:32]  # without glyph names
    return _written({tag: tables[tag] for tag in _KEPT if tag in tables})


def _tables(font: bytes) -> dict[bytes, bytes]:
    (count,) = struct.unpack_from(">H", font, 4)
    found = {}
    for at in range(12, 12 + 16 * count, 16):
        tag, _, offset, length = struct.unpack_from(">4sIII", font, at)
        found[tag] = font[offset : offset + length]
    return found


def _outlines(tables: dict[bytes, bytes], glyphs: set[int]) -> tuple[bytes, bytes]:
    """Return ``glyf`` and ``loca`` with the given glyphs and those they are composed of."""
    glyf, long = tables[b"glyf"], struct.unpack_from(">h", tables[b"head"], 50)[0]
    raw = tables[b"loca"]
    starts = [
        s * (1 if long else 2)
        for s in struct.unpack(f">{len(raw) // (4 if long else 2)}{'I' if long else 'H'}", raw)
    ]

    def outline(glyph: int) -> bytes:
        return glyf[starts[glyph] : starts[glyph + 1]]

    wanted, kept = sorted(glyphs), set(glyphs)
    while wanted:
        parts = set(_parts(outline(wanted.pop()))) - kept
        kept |= parts
        wanted += sorted(parts)
    body, places = bytearray(), [0]
    for glyph in range(len(starts) - 1):
        if glyph in kept:
            body += outline(glyph)
            body += bytes(-len(body) % 4)
        places.append(len(body))
    return bytes(body), struct.pack(f">{len(places)}I", *places)


def _parts(outline: bytes) -> Iterable[int]:
    """Yield the glyphs that a composite outline is made of."""
    if len(outline) < 10 or struct.unpack_from(">h", outline)[0] >= 0:
        return
    at, more = 10, True
    while more:
        flags, glyph = struct.unpack_from(">HH", outline, at)
        yield glyph
        more = bool(flags & 0x20)
        at += 4 + (4 if flags & 0x01 else 2)
        at += 2 if flags & 0x08 else 4 if flags & 0x40 else 8 if flags & 0x80 else 0


def _figures_only(gsub: bytes) -> tuple[bytes, set[int]]:
    """Return ``GSUB`` in which only tabular and lining figures do anything, and the lookups they use.

    Ligatures and all else would put glyphs that are empty now.
    """
    changed, numbers = bytearray(gsub), set()
    (features_at,) = struct.unpack_from(">H", gsub, 6)
    (count,) = struct.unpack_from(">H", gsub, features_at)
    for i in range(count):
        tag, offset = struct.unpack_from(">4sH", gsub, features_at + 2 + 6 * i)
        (size,) = struct.unpack_from(">H", gsub, features_at + offset + 2)
        if tag in _FEATURES:
            numbers |= set(struct.unpack_from(f">{size}H", gsub, features_at + offset + 4))
        else:
            struct.pack_into(">H", changed, features_at + offset + 2, 0)
    return bytes(changed), numbers


def _substituted(gsub: bytes, numbers: set[int], glyphs: set[int]) -> set[int]:
    """Return what some lookups put in the place of the given glyphs."""
    (lookups_at,) = struct.unpack_from(">H", gsub, 8)
    found: set[int] = set()
    for number in sorted(numbers):
        (offset,) = struct.unpack_from(">H", gsub, lookups_at + 2 + 2 * number)
        at = lookups_at + offset
        kind, _, size = struct.unpack_from(">HHH", gsub, at)
        for sub in struct.unpack_from(f">{size}H", gsub, at + 6):
            place, of = at + sub, kind
            if kind == 7:
                of, further = struct.unpack_from(">HI", gsub, place + 2)
                place += further
            if of == 1:
                found |= {new for old, new in _single(gsub, place) if old in glyphs}
    return found


def _single(gsub: bytes, at: int) -> Iterable[tuple[int, int]]:
    """Yield old and new glyph of a single substitution."""
    form, coverage, value = struct.unpack_from(">HHH", gsub, at)
    covered = _covered(gsub, at + coverage)
    if form == 1:
        yield from ((glyph, (glyph + value) & 0xFFFF) for glyph in covered)
    else:
        yield from zip(covered, struct.unpack_from(f">{value}H", gsub, at + 6), strict=True)


def _covered(gsub: bytes, at: int) -> list[int]:
    form, count = struct.unpack_from(">HH", gsub, at)
    if form == 1:
        return list(struct.unpack_from(f">{count}H", gsub, at + 4))
    ranges = (struct.unpack_from(">HHH", gsub, at + 4 + 6 * i) for i in range(count))
    return [glyph for first, last, _ in ranges for glyph in range(first, last + 1)]


def _sum(content: bytes) -> int:
    padded = content + bytes(-len(content) % 4)
    words: tuple[int, ...] = struct.unpack(f">{len(padded) // 4}I", padded)
    return sum(words) & 0xFFFFFFFF


def _written(tables: dict[bytes, bytes]) -> bytes:
    power = len(tables).bit_length() - 1
    entries, body, offset = b"", b"", 12 + 16 * len(tables)
    for tag, content in sorted(tables.items()):
        entries += struct.pack(">4sIII", tag, _sum(content), offset + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    start = struct.pack(
        ">IHHHH", 0x00010000, len(tables), 16 << power, power, 16 * len(tables) - (16 << power)
    )
    whole = bytearray(start + entries + body)
    at = next(o for t, _, o, _ in struct.iter_unpack(">4sIII", entries) if t == b"head")
    struct.pack_into(">I", whole, at + 8, (_CHECK - _sum(bytes(whole))) & 0xFFFFFFFF)
    return bytes(whole)
