from __future__ import annotations

import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from importing import MINIMAL, TABLE
from soakage.errors import Fault, InputError, SoakageError
from soakage.importers.base import Importer
from soakage.importers.reading import ReadResult, importers, read_bytes, read_files
from soakage.model.record import Origin

GOOD, BAD = MINIMAL + TABLE, MINIMAL + TABLE.replace("22.1", "x").replace("4.1", "y")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.csv").write_text(GOOD.replace("polarization-index", "ramp"), encoding="utf-8")
    (tmp_path / "b.csv").write_text(BAD, encoding="utf-8")
    (tmp_path / "c.csv").write_text(GOOD, encoding="utf-8")
    (tmp_path / "d.csv").write_text(
        "circuit,between,resistance [MOhm]\nA,L-PE,100\nB,L-PE,200\n", encoding="utf-8"
    )
    return tmp_path


def test_good_files_are_read_beside_bad_ones_in_their_order(folder: Path) -> None:
    result = read_files([folder / name for name in ("c.csv", "b.csv", "d.csv", "a.csv")])
    assert [Path(record.origin.file).name for record in result.records] == [
        "c.csv",
        "d.csv",
        "d.csv",
        "a.csv",
    ]
    assert [record.asset.circuit for record in result.records] == [None, "A", "B", None]
    assert [(Path(fault.file).name, fault.row) for fault in result.errors] == [("b.csv", 6), ("b.csv", 8)]


def test_origin_names_file_and_hash(folder: Path) -> None:
    path = folder / "c.csv"
    (record,) = read_files([path]).records
    assert record.origin == Origin(str(path), sha256(path.read_bytes()).hexdigest())


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    result = read_files([tmp_path / "missing.csv", tmp_path])
    assert result.records == ()
    assert [fault.file for fault in result.errors] == [str(tmp_path / "missing.csv"), str(tmp_path)]
    assert all("cannot be opened" in fault.problem for fault in result.errors)


def test_nothing_to_read() -> None:
    assert read_files([]) == ReadResult((), ())


def test_options_hold_for_every_file(folder: Path) -> None:
    result = read_files([folder / "a.csv", folder / "c.csv"], {"site": "Invented works"})
    assert [record.asset.site for record in result.records] == ["Invented works"] * 2


def test_a_file_without_an_ending_is_read_by_its_content() -> None:
    assert len(read_bytes(GOOD.encode(), "upload")) == 1


def test_the_error_says_file_row_field_and_remedy() -> None:
    with pytest.raises(InputError) as caught:
        read_bytes(BAD.encode(), "b.csv")
    assert isinstance(caught.value, SoakageError)
    lines = str(caught.value).splitlines()
    assert len(lines) == 2
    assert lines[0].startswith("b.csv:6: current: ")
    assert "Given: x." in lines[0]
    assert "Allowed: " in lines[0]


def test_importers_are_found_and_whole() -> None:
    found = importers()
    assert {"record-file", "schedule", "table", "xlsx"} <= set(found)
    for name, importer in found.items():
        assert isinstance(importer, Importer)
        assert importer.id == name
        assert importer.title
        assert all(suffix.startswith(".") and suffix == suffix.lower() for suffix in importer.suffixes)
        assert 0 <= importer.recognises(b"", "x.csv") <= 100


def test_faults_compare_by_value() -> None:
    assert Fault("a", 1, "b", "c", "d", "e", "f") == Fault("a", 1, "b", "c", "d", "e", "f")


def test_openpyxl_is_loaded_only_for_workbooks() -> None:
    code = (
        "import sys; from soakage.importers.reading import read_bytes; "
        f"read_bytes({GOOD.encode()!r}, 'a.csv'); print('openpyxl' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=_environment()
    )
    assert done.stdout.strip() == "False"


def _environment() -> dict[str, str]:
    import os

    source = str(Path(__file__).parents[2] / "src")
    return os.environ | {"PYTHONPATH": source}
