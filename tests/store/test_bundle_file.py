"""The file of a bundle: read back as written, and refused whole where anything in it is not what was written."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import IO, Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exchanging import Desk
from soakage.app.exchange import Parcel
from soakage.app.journal import START, Entry, made_entry
from soakage.errors import StoreError, UsageError
from soakage.model.stated import digest
from soakage.store import bundle as writing
from soakage.store.bundle import Counts, Head, save_bundle, write_bundle
from soakage.store.frames import BLOB, DONE, ENTRIES, HEAD, NEXT, FrameWriter, frames
from soakage.store.unbundle import BundleReader

HEADER = struct.Struct("<4sQ32s")
INTACT = Head("store-a", 1_000, "Ann Invented", "", {})


def entry(number: int = 1, **other: object) -> Entry:
    values: dict[str, object] = {
        "store": "store-a", "number": number, "previous": START if number == 1 else digest(str(number)), "at": number,
        "person": "Ann Invented", "identity": "stated, not authenticated", "kind": "asset", "subject": f"s{number}",
        "action": "stated", "parents": [], "reason": "", "body": {"set": {"year": number}},
    }  # fmt: skip
    return made_entry(**(values | other))


def written(*parcels: Parcel, head: Head = INTACT) -> bytes:
    stream = io.BytesIO()
    write_bundle(stream, head, parcels)
    return stream.getvalue()


def blob(content: bytes) -> tuple[str, bytes]:
    return digest(content), content


PARCELS = (
    Parcel([entry(1), entry(2)], [blob(b"short"), blob(b"long " * 500), blob(b"SOAK" + bytes(range(200)))]),
    Parcel([entry(3, reason="Ωµ – \n one line")], []),
)


def read(data: bytes) -> list[tuple[list[Entry], list[tuple[str, bytes]]]]:
    reader = BundleReader(io.BytesIO(data), "some.bundle")
    return [(list(parcel.entries), list(parcel.blobs)) for parcel in reader.parcels()]


def test_what_is_written_is_read() -> None:
    assert read(written(*PARCELS)) == [(list(p.entries), list(p.blobs)) for p in PARCELS]


def test_the_head_comes_first_and_tells_where_from() -> None:
    assert BundleReader(io.BytesIO(written(*PARCELS)), "x").head == INTACT


def test_an_empty_store_makes_a_bundle_too() -> None:
    assert read(written()) == []


def test_bytes_nobody_asks_for_are_passed_over_and_still_verified() -> None:
    reader = BundleReader(io.BytesIO(written(*PARCELS)), "x")
    assert [len(parcel.entries) for parcel in reader.parcels()] == [2, 1]
    assert reader.counts == Counts(entries=3, tests=0, blobs=3, parcels=2)


def test_many_entries_are_cut_into_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "_PART", 600)
    many = [entry(number) for number in range(1, 30)]
    data = written(Parcel(many))
    assert sum(kind == ENTRIES for kind, _, _ in frames(io.BytesIO(data), "x")) > 5
    assert read(data) == [(many, [])]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_changed_byte_anywhere_is_noticed(data: st.DataObject) -> None:
    whole = bytearray(written(*PARCELS))
    place = data.draw(st.integers(0, len(whole) - 1))
    whole[place] ^= data.draw(st.integers(1, 255))
    with pytest.raises(StoreError, match="bundle"):
        read(bytes(whole))


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_a_file_cut_short_anywhere_is_noticed(data: st.DataObject) -> None:
    whole = written(*PARCELS)
    with pytest.raises(StoreError, match=r"no bundle|ends before its end"):
        read(whole[: data.draw(st.integers(0, len(whole) - 1))])


def test_something_behind_the_end_is_noticed() -> None:
    with pytest.raises(StoreError, match="behind its end"):
        read(written(*PARCELS) + b"x")


def test_a_frame_left_out_doubled_or_moved_is_noticed() -> None:
    whole = written(*PARCELS)
    found = [(kind, content) for kind, content, _ in frames(io.BytesIO(whole), "x")]
    changed = {
        "left out": found[:2] + found[3:],
        "doubled": [*found[:2], found[1], *found[2:]],
        "moved": [found[0], found[2], found[1], *found[3:]],
    }
    for how, order in changed.items():
        with pytest.raises(StoreError, match="damaged") as problem:
            read(rewritten(order))
        assert "Nothing of it was taken" in str(problem.value), how


def rewritten(order: list[tuple[bytes, bytes]]) -> bytes:
    """Frames put together anew, each with its right hash, the last one as it was."""
    out = written()[: len(b"soakage bundle 0001\n")]
    return out + b"".join(
        HEADER.pack(kind, len(content), hashlib.sha256(content).digest()) + content for kind, content in order
    )


def forged(*kinds: tuple[bytes, bytes]) -> bytes:
    """A bundle whose hashes all fit, whatever stands in it."""
    stream = io.BytesIO()
    writer = FrameWriter(stream)
    for kind, content in kinds:
        writer.frame(kind, content)
    return stream.getvalue()


HEAD_FRAME = next((kind, content) for kind, content, _ in frames(io.BytesIO(written()), "x"))


def lines(*texts: bytes) -> tuple[bytes, bytes]:
    text = b"\n".join(texts)
    return ENTRIES, struct.pack("<Q", len(text)) + zlib.compress(text)


@pytest.mark.parametrize(
    "line",
    (
        b"{}",
        b"[]",
        b"not json",
        b'{"parents": 3}',
        b"[" * 100_000,
    ),
)
def test_entries_of_another_shape_are_refused(line: bytes) -> None:
    with pytest.raises(StoreError, match="an entry cannot be read"):
        read(forged(HEAD_FRAME, lines(line)))


@pytest.mark.parametrize(
    ("name", "value"),
    (("number", "1"), ("number", True), ("at", 1.5), ("at", 1 << 70), ("hash", "zz"), ("previous", "00"), ("body", 3),
     ("body", "[1]"), ("person", None), ("parents", ["x"]), ("more", "than there is")),
)  # fmt: skip
def test_entries_with_a_value_of_another_kind_are_refused(name: str, value: object) -> None:
    one = entry()
    plain = {part: getattr(one, part) for part in one.__slots__} | {name: value}
    with pytest.raises(StoreError, match="an entry cannot be read"):
        read(forged(HEAD_FRAME, lines(json.dumps(plain).encode())))


@pytest.mark.parametrize(
    "change", ({"person": "Someone Else"}, {"body": '{"set":{"year":1999}}'}, {"reason": "x"})
)
def test_a_tampered_entry_is_refused(change: dict[str, Any]) -> None:
    data = written(Parcel([replace(entry(), **change)]))
    with pytest.raises(StoreError, match="entry 1 of the store store-a was changed"):
        read(data)


def test_a_content_that_is_not_its_hash_is_refused() -> None:
    with pytest.raises(StoreError, match="hash of the content"):
        read(written(Parcel([entry()], [(digest(b"one"), b"another")])))


def test_what_unpacks_to_more_than_it_says_is_refused_unpacked_no_further() -> None:
    bomb = zlib.compress(bytes(50 << 20), 9)
    frame = struct.pack("<32sBQ", bytes(32), 1, 10) + bomb
    with pytest.raises(StoreError, match="not as long as it says"):
        read(forged(HEAD_FRAME, lines(), (BLOB, frame)))
    huge = struct.pack("<32sBQ", bytes(32), 1, 1 << 60) + b"x"
    with pytest.raises(StoreError, match="larger than any can be"):
        read(forged(HEAD_FRAME, lines(), (BLOB, huge)))


def test_a_length_no_part_has_is_refused_before_it_is_read() -> None:
    data = written()[: len(b"soakage bundle 0001\n")] + HEADER.pack(HEAD, 1 << 62, bytes(32))
    with pytest.raises(StoreError, match="cannot be so"):
        read(data)


@pytest.mark.parametrize(
    "content",
    (
        b"",
        b"[]",
        b"{}",
        b'{"store": 1}',
        b'{"store":"a","person":"b","part":"","soakage":"1","made":1,"holds":3}',
    ),
)
def test_a_head_of_another_shape_is_refused(content: bytes) -> None:
    with pytest.raises(StoreError, match="head cannot be read"):
        read(forged((HEAD, content)))


def test_parts_out_of_order_are_refused() -> None:
    with pytest.raises(StoreError, match="not in order"):
        read(forged(HEAD_FRAME, lines(), HEAD_FRAME))
    with pytest.raises(StoreError, match="head cannot be read"):
        read(forged((NEXT, b"")))
    with pytest.raises(StoreError, match="left out or added"):
        read(forged(HEAD_FRAME, (DONE, b"no json")))


@pytest.mark.parametrize(
    "data", (b"", b"PK\x03\x04 a zip", b"# soakage = 1\ntime [s]\n", b"soakage bundle abcd\n")
)
def test_other_files_are_no_bundles(data: bytes) -> None:
    with pytest.raises(StoreError, match="no bundle of Soakage"):
        read(data)


def test_a_newer_bundle_is_refused_with_the_remedy() -> None:
    data = written().replace(b"bundle 0001", b"bundle 0002", 1)
    with pytest.raises(StoreError, match=r"version 2; this Soakage reads version 1.*newer Soakage"):
        read(data)


def test_a_content_too_large_is_said_when_the_bundle_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "MOST_BLOB", 10)
    with pytest.raises(StoreError, match="a bundle takes 10"):
        written(Parcel([entry()], [blob(b"eleven bytes")]))


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a.bundle"
    save_bundle(path, INTACT, PARCELS)
    before = path.read_bytes()

    def breaking() -> Iterator[Parcel]:
        yield PARCELS[0]
        raise StoreError("The content is damaged.")

    with pytest.raises(StoreError, match="damaged"):
        save_bundle(path, INTACT, breaking())
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["a.bundle"]


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="No bundle was written"):
        save_bundle(tmp_path / "nowhere" / "a.bundle", INTACT, PARCELS)


def test_a_stream_that_cannot_go_back_is_enough(store_address: str) -> None:
    """A bundle is written and read in order, so a connection to a server will do."""
    ticks = count(1)
    desk = Desk(store_address, "Ann Invented", lambda: next(ticks))
    desk.receive(0)
    data = desk.bundle()
    desk.store.close()

    class OneWay(io.RawIOBase):
        def __init__(self) -> None:
            self.rest = data

        def readable(self) -> bool:
            return True

        def readinto(self, buffer: Any) -> int:
            part = self.rest[: min(len(buffer), 1000)]
            buffer[: len(part)] = part
            self.rest = self.rest[len(part) :]
            return len(part)

    reader = BundleReader(cast("IO[bytes]", io.BufferedReader(cast("Any", OneWay()))), "a stream")
    assert sum(len(parcel.entries) for parcel in reader.parcels()) == reader.counts.entries > 0
