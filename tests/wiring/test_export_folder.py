"""A folder that is exported to: whole files or none, a list with their hashes, and nothing written over."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soakage.errors import StoreError, UsageError
from soakage.importers.reading import read_bytes
from soakage.model.record import Record
from soakage.model.stated import content_id
from soakage.wiring import export_many
from soakage.wiring.export_folder import MANIFEST, MARK, VERSION, ExportFolder
from soakage.wiring.export_many import MANY, ManyFile
from wired import text


def records(number: int) -> list[Record]:
    return [read_bytes(text(f"Pump {n}").encode(), f"{n}.csv")[0] for n in range(number)]


def listed(root: Path) -> dict[str, Any]:
    found = json.loads((root / MANIFEST).read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("inside", ("out", "a/b/c", "with blank", "ümlaut"))
def test_a_folder_is_made_where_it_is_not_there(tmp_path: Path, inside: str) -> None:
    out = ExportFolder(tmp_path / inside)
    out.write("x/y.txt", b"hello")
    out.finish({"tests": 0})
    assert (tmp_path / inside / "x" / "y.txt").read_bytes() == b"hello"
    assert not list((tmp_path / inside).rglob("*.part"))


@pytest.mark.parametrize("held", ("a file", ".hidden", "a folder/"))
def test_a_folder_that_holds_anything_is_left_alone(tmp_path: Path, held: str) -> None:
    place = tmp_path / "out" / held.rstrip("/")
    place.parent.mkdir()
    if held.endswith("/"):
        place.mkdir()
    else:
        place.write_bytes(b"mine")
    with pytest.raises(UsageError, match="not empty"):
        ExportFolder(tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == [place.name]


def test_a_place_that_cannot_be_a_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"mine")
    for place in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(UsageError, match=r"The export is not whole: it has no export\.json"):
            ExportFolder(place)
    assert (tmp_path / "file").read_bytes() == b"mine"


@pytest.mark.parametrize("content", (b"", b"x", b"\x00\xff" * 1000))
def test_the_list_holds_every_file_with_its_hash_and_size(tmp_path: Path, content: bytes) -> None:
    out = ExportFolder(tmp_path)
    out.write("a.bin", content)
    with out.lines("b.jsonl") as add:
        for number in range(3):
            add({"number": number, "text": "öl"})
    (out.place("c/d.bin")).write_bytes(content * 2)
    out.written("c/d.bin")
    out.finish({"format": "record", "tests": 3})
    found = listed(tmp_path)
    assert (found[MARK], found["tests"], found["format"]) == (VERSION, 3, "record")
    assert [file["path"] for file in found["files"]] == ["a.bin", "b.jsonl", "c/d.bin"]
    for file in found["files"]:
        data = (tmp_path / file["path"]).read_bytes()
        assert (file["sha256"], file["size"]) == (sha256(data).hexdigest(), len(data))
    assert (tmp_path / "b.jsonl").read_text(encoding="utf-8").splitlines()[2] == '{"number": 2, "text": "öl"}'


def test_lines_that_break_off_leave_no_file(tmp_path: Path) -> None:
    out = ExportFolder(tmp_path)
    with pytest.raises(TypeError, match="JSON"), out.lines("t.jsonl") as add:
        add({"a": 1, "b": object()})
    assert list(tmp_path.iterdir()) == []
    assert out.files == []


@pytest.mark.parametrize("value", (float("nan"), float("inf")))
def test_what_json_cannot_hold_is_not_written(tmp_path: Path, value: float) -> None:
    out = ExportFolder(tmp_path)
    with pytest.raises(ValueError, match="JSON"), out.lines("t.jsonl") as add:
        add({"a": value})
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_written_leaves_no_part_and_no_list(tmp_path: Path) -> None:
    out = ExportFolder(tmp_path)
    (tmp_path / "a").mkdir()
    with pytest.raises(UsageError, match="Choose a folder that can be written, with room"):
        out.write("a", b"x")
    with pytest.raises(UsageError, match="not whole"), out.lines("a") as add:
        add({})
    out.write("b", b"x")
    with pytest.raises(UsageError, match="not whole"):
        out.place("b/below/c")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]
    assert [file["path"] for file in out.files] == ["b"]


# Many in one file


@pytest.mark.parametrize("form", MANY)
@pytest.mark.parametrize(("number", "most"), ((0, 4), (1, 4), (4, 4), (5, 4), (9, 4)))
def test_a_file_is_begun_once_one_is_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str, number: int, most: int
) -> None:
    write, _, readings = MANY[form]
    monkeypatch.setitem(export_many.MANY, form, (write, most, readings))
    given = records(number)
    many = ManyFile(ExportFolder(tmp_path), form)
    places = [many.add(record, content_id(record)) for record in given]
    many.close()
    many.close()
    assert places == [(f"records/records-{n // most + 1:05d}.{form}", n % most) for n in range(number)]
    assert len(list(tmp_path.rglob(f"*.{form}"))) == -(-number // most)
    for record, (path, place) in zip(given, places, strict=True):
        found = read_bytes((tmp_path / path).read_bytes(), path)
        assert content_id(found[place]) == content_id(record)


@pytest.mark.parametrize("form", MANY)
def test_readings_fill_a_file_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str) -> None:
    write, most, _ = MANY[form]
    monkeypatch.setitem(export_many.MANY, form, (write, most, 5))
    many = ManyFile(ExportFolder(tmp_path), form)
    paths = [many.add(record, content_id(record))[0] for record in records(5)]
    many.close()
    # two readings each, and no more than five in a file
    assert [paths.count(path) for path in dict.fromkeys(paths)] == [2, 2, 1]


@pytest.mark.parametrize("form", MANY)
def test_a_file_that_does_not_read_back_the_same_is_said(tmp_path: Path, form: str) -> None:
    many = ManyFile(ExportFolder(tmp_path), form)
    (record,) = records(1)
    many.add(record, "0" * 64)
    with pytest.raises(StoreError, match=r"does not read back the same\. Export with --format record"):
        many.close()


@pytest.mark.parametrize("form", MANY)
def test_figures_come_back_to_the_last_bit(tmp_path: Path, form: str) -> None:
    (record,) = records(1)
    many = ManyFile(ExportFolder(tmp_path), form)
    path, _ = many.add(record, content_id(record))
    many.close()
    (found,) = read_bytes((tmp_path / path).read_bytes(), path)
    for name in ("time", "voltage", "current"):
        assert np.array_equal(getattr(found.readings, name), getattr(record.readings, name), equal_nan=True)
