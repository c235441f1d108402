"""The typeface of pages: lighter, and still the same typeface."""

from __future__ import annotations

import gzip
import struct

import pytest

from soakage.report import typeface
from soakage.web.font_subset import subset
from soakage.web.statics import FACES, face

WHOLE = (typeface.folder() / "FiraSans-Regular.ttf").read_bytes()


def tables(font: bytes) -> dict[bytes, tuple[int, bytes]]:
    count = struct.unpack_from(">H", font, 4)[0]
    found = {}
    for at in range(12, 12 + 16 * count, 16):
        tag, check, offset, length = struct.unpack_from(">4sIII", font, at)
        found[tag] = (check, font[offset : offset + length])
    return found


def outline(font: bytes, glyph: int) -> bytes:
    parts = tables(font)
    long = struct.unpack_from(">h", parts[b"head"][1], 50)[0]
    if long:
        start, end = struct.unpack_from(">II", parts[b"loca"][1], 4 * glyph)
    else:
        start, end = (2 * n for n in struct.unpack_from(">HH", parts[b"loca"][1], 2 * glyph))
    return parts[b"glyf"][1][start:end].rstrip(b"\0")


def check_sum(content: bytes) -> int:
    padded = content + bytes(-len(content) % 4)
    words: tuple[int, ...] = struct.unpack(f">{len(padded) // 4}I", padded)
    return sum(words) & 0xFFFFFFFF


@pytest.mark.parametrize("weight", FACES)
def test_a_face_is_a_tenth_of_the_whole_as_sent(weight: str) -> None:
    assert len(gzip.compress(face(weight))) < 50_000


def test_check_sums_are_right() -> None:
    # OpenType specification, "Font file": sums of tables, and 0xB1B0AFBA for the whole (from memory).
    made = subset(WHOLE)
    assert check_sum(made) == 0xB1B0AFBA
    for tag, (check, content) in tables(made).items():
        if tag != b"head":
            assert check == check_sum(content), tag
    whole = tables(WHOLE)
    assert all(check == check_sum(content) for tag, (check, content) in whole.items() if tag != b"head")


def test_outlines_and_widths_that_are_kept_are_the_same() -> None:
    made, glyphs = subset(WHOLE), typeface.mapped_glyphs(WHOLE)
    assert typeface.mapped_glyphs(made) == glyphs
    assert tables(made)[b"hmtx"] == tables(WHOLE)[b"hmtx"]
    for character in "AZaz09 ,.µΩ°±−–→éÄßçŁű²³≥αδ":
        assert outline(made, glyphs[ord(character)]) == outline(WHOLE, glyphs[ord(character)]), character


def test_parts_of_a_composed_letter_are_kept() -> None:
    only = subset(WHOLE, "é", figures=False)
    glyphs = typeface.mapped_glyphs(WHOLE)
    whole = outline(only, glyphs[ord("é")])
    assert struct.unpack_from(">h", whole)[0] < 0  # a composed outline
    assert outline(only, glyphs[ord("e")]) == outline(WHOLE, glyphs[ord("e")])
    assert outline(only, glyphs[ord("A")]) == b""


def test_what_pages_do_not_use_is_empty() -> None:
    made, glyphs = subset(WHOLE), typeface.mapped_glyphs(WHOLE)
    cyrillic = [glyph for point, glyph in glyphs.items() if 0x410 <= point <= 0x44F]
    empty = [glyph for glyph in cyrillic if outline(made, glyph) == b""]
    assert len(empty) > 20


def test_the_glyphs_of_characters_agree_with_the_name_table_order() -> None:
    glyphs = typeface.mapped_glyphs(WHOLE)
    # A glyph of its own for each digit, and capital letters one after another in width order of the alphabet.
    assert len({glyphs[ord(c)] for c in "0123456789"}) == 10
    assert glyphs[ord("A")] != glyphs[ord("a")]
    assert ord("Ω") in glyphs
    assert 0x4E2D not in glyphs


def test_the_same_font_makes_the_same_bytes() -> None:
    assert subset(WHOLE) == subset(WHOLE)
