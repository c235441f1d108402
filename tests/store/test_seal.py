"""Readings come out of their seal as they went in, to the bit; damage, cuts and newer versions are told."""

from __future__ import annotations

import hashlib
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakage.errors import StoreError
from soakage.model.readings import Readings
from soakage.store.packing import packed, unpacked
from soakage.store.seal import seal, unseal

HEAD = struct.Struct("<4sBBI")


def readings(rows: int, seed: int = 1, marks: tuple[bool, bool, bool] = (False, False, False)) -> Readings:
    random = np.random.default_rng(seed)
    time = np.sort(random.uniform(1, 600, rows))
    columns = [random.lognormal(10, 3, rows) for _ in range(3)]
    for column in columns:
        column[random.random(rows) < 0.2] = np.nan
    bound = random.integers(-1, 2, rows).astype(np.int8)
    voltage, current, resistance = columns
    assumed, derived, given = marks
    return Readings(time, voltage, current, resistance, bound, assumed, derived, given)


def same(one: Readings, other: Readings) -> bool:
    columns = ("time", "voltage", "current", "resistance", "bound")
    bits = all(
        np.asarray(getattr(one, name)).tobytes() == np.asarray(getattr(other, name)).tobytes()
        for name in columns
    )
    marks = ("voltage_assumed", "current_derived", "resistance_given")
    return bits and all(getattr(one, mark) is getattr(other, mark) for mark in marks)


@given(
    rows=st.integers(1, 700),
    seed=st.integers(0, 2**32 - 1),
    assumed=st.booleans(),
    derived=st.booleans(),
    given=st.booleans(),
)
def test_readings_come_out_as_they_went_in(
    rows: int, seed: int, assumed: bool, derived: bool, given: bool
) -> None:
    made = readings(rows, seed, (assumed, derived, given))
    assert same(unseal(seal(made)), made)


def test_extreme_figures_keep_every_bit() -> None:
    odd = np.array([5e-324, 1.7976931348623157e308, np.pi, 1e-12])
    made = Readings(np.arange(1.0, 5.0), odd, odd[::-1].copy(), np.full(4, np.nan), np.zeros(4, np.int8))
    assert same(unseal(seal(made)), made)


def test_the_same_readings_have_the_same_seal() -> None:
    # the store keeps equal content once: the bytes must not depend on anything else
    assert seal(readings(50)) == seal(readings(50))
    assert seal(readings(50)) != seal(readings(50, 2))


@given(place=st.integers(0, 10**6), flip=st.integers(1, 255))
def test_every_changed_byte_is_told(place: int, flip: int) -> None:
    sealed = bytearray(seal(readings(40)))
    sealed[place % len(sealed)] ^= flip
    try:
        found = unseal(bytes(sealed))
    except StoreError:
        return
    # what compressed the content may leave bits of its own header unused; the readings are the same then
    assert same(found, readings(40))


@pytest.mark.parametrize("left", (0, 3, 41, 42, 100))
def test_a_cut_seal_is_told(left: int) -> None:
    with pytest.raises(StoreError, match=r"damaged|not sealed"):
        unseal(seal(readings(40))[:left])


def test_marks_of_a_header_are_held_by_the_hash() -> None:
    sealed = bytearray(seal(readings(5)))
    sealed[5] ^= 1  # voltage assumed, or not
    with pytest.raises(StoreError, match="damaged"):
        unseal(bytes(sealed))


def test_a_newer_version_is_refused_in_words() -> None:
    sealed = bytearray(seal(readings(5)))
    sealed[4] = 2
    with pytest.raises(StoreError, match=r"version 2; this Soakage reads 1\. Use a newer one"):
        unseal(bytes(sealed))


def test_something_else_is_refused() -> None:
    with pytest.raises(StoreError, match="not sealed readings"):
        unseal(b"time,voltage\n" * 10)


def test_a_bomb_is_not_unpacked() -> None:
    content = zlib.compress(bytes(10**7), 9)
    head = HEAD.pack(b"SOAK", 1, 0, 2)  # claims two rows
    with pytest.raises(StoreError, match="damaged"):
        unseal(head + hashlib.sha256(head).digest() + content)
    many = HEAD.pack(b"SOAK", 1, 0, 2**31)
    with pytest.raises(StoreError, match="more than any test has"):
        unseal(many + bytes(32) + content)


# How bytes lie in a row


@given(content=st.binary(max_size=3000))
def test_bytes_come_back_from_their_row(content: bytes) -> None:
    assert unpacked(packed("0" * 64, content)) == content


def test_what_shrinks_is_packed_and_nothing_grows() -> None:
    text = b"time [s],voltage [V]\n" * 100
    assert packed("", text)["packing"] == "zlib"
    assert len(packed("", text)["content"]) < len(text) / 5
    noise = np.random.default_rng(1).bytes(1000)
    assert packed("", noise) == {"sha256": "", "packing": "none", "content": noise}
    sealed = seal(readings(100))  # compressed already
    assert packed("", sealed)["packing"] == "none"


def test_a_damaged_packing_is_told() -> None:
    row = packed("", b"a" * 1000)
    with pytest.raises(StoreError, match="cannot be unpacked"):
        unpacked(row | {"content": row["content"][:-4]})
