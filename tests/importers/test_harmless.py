"""Names of files out of what people typed: inside their folder on every system.

Reserved names and signs: Microsoft, *Naming Files, Paths, and Namespaces* (from memory); POSIX forbids only the
slash and the null byte (IEEE Std 1003.1, definition 3.170 of a filename; from memory).
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.importers.harmless import LONGEST, Names, harmless

BAD = '<>:"/\\|?*'


@pytest.mark.parametrize(
    ("text", "name"),
    (
        ("Pump 3 motor", "Pump 3 motor"), ("../../etc/passwd", "etc-passwd"), ("a/b\\c", "a-b-c"),
        ("..", "unnamed"),
        (".", "unnamed"), ("", "unnamed"), ("   ", "unnamed"), ("...hidden", "hidden"), ("ends. ", "ends"),
        ("CON", "_CON"), ("con.csv", "_con.csv"), ("LPT9", "_LPT9"), ("com1.tar.gz", "_com1.tar.gz"),
        ("control", "control"), ("nul\0byte", "nul-byte"), ("line\nbreak", "line break"),
        ("=cmd|' /C calc'!A0", "cmd- -C calc-A0"), ("~$open", "open"), ("C:\\x", "C-x"), ("Überström 1", "Überström 1"),
    ),
)  # fmt: skip
def test_what_becomes_of_names(text: str, name: str) -> None:
    assert harmless(text) == name


@given(st.text(max_size=400))
def test_any_text_makes_a_name_of_one_part(text: str) -> None:
    name = harmless(text)
    assert 0 < len(name) <= LONGEST + 1
    assert len(name.encode()) <= 181
    assert not set(name) & set(BAD)
    assert all(sign.isprintable() for sign in name)
    assert name == name.strip(" .")
    for kind in (PurePosixPath, PureWindowsPath):
        assert kind(name).parts == (name,)
    assert name.split(".")[0].casefold() not in {"con", "prn", "aux", "nul", "com1", "lpt1"}
    assert harmless(name) == name or name.startswith("_")


@given(st.text(max_size=80))
def test_it_can_be_written(text: str) -> None:
    root = Path("somewhere")
    assert (root / harmless(text)).resolve().parent == root.resolve()


@given(st.lists(st.text(max_size=8), max_size=30))
def test_no_two_things_share_a_name_a_system_cannot_tell_apart(texts: list[str]) -> None:
    names = Names()
    made = [names.of(text, f"folder/{place:032x}") for place, text in enumerate(texts)]
    # owners differ from the ninth sign on only here; the first eight of a hash do
    spread = [names.of(text, f"folder/{place:08x}{'0' * 24}") for place, text in enumerate(texts, start=1000)]
    assert len({name.casefold() for name in spread}) == len(spread)
    assert len(made) == len(texts)


def test_a_thing_keeps_its_name() -> None:
    names = Names()
    first = names.of("Pump", "a/1111111122222222")
    other = names.of("PUMP", "a/3333333344444444")
    assert (first, other) == ("Pump", "PUMP 33333333")
    assert names.of("Pump", "a/1111111122222222") == first
    assert names.of("PUMP", "a/3333333344444444") == other
