"""Whatever bytes come in, only InputError comes out, and soon."""

from __future__ import annotations

import io
import random
import time
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from importing import FULL, MINIMAL, TABLE
from soakage.errors import Fault, InputError
from soakage.importers.base import Importer
from soakage.importers.reading import importers, pick

WORKBOOK = Path(__file__).parent / "samples" / "xlsx.xlsx"
QUICK = 10.0  # seconds; far above what is measured, far below a hang
READERS = [pytest.param(importer, id=name) for name, importer in importers().items()]
PIECES = st.sampled_from(
    (
        "# ",
        "soakage = 1",
        "class = cable",
        "method = ramp",
        "\n",
        ",",
        ";",
        "\t",
        '"',
        '""',
        "time [s]",
        "current [uA]",
        "resistance [MOhm]",
        "circuit",
        "15",
        "> 10 TOhm",
        "0,0",
        "1.500,5",
        "[",
        "{",
        "}",
        "]",
        "=",
        "OL",
        "nan",
        "-",
        "1:30",
        "\r",
        " ",
        "µ",
        "#",
        "steps = [{at = ",
        "voltage_found = 5",
        "\\",
        "'",
        "1e999",
        "9" * 50,
    )
)


def faults(importer: Importer, data: bytes, options: dict[str, str]) -> tuple[Fault, ...]:
    """Return the faults of what cannot be read, none of what can; let everything else through."""
    try:
        importer.read(data, "garbage.csv", options)
    except InputError as error:
        return error.faults
    return ()


def survives(importer: Importer, data: bytes, options: dict[str, str] | None = None) -> None:
    start = time.process_time()
    for fault in faults(importer, data, options or {}):
        assert fault.problem
        assert str(fault).replace("\u00a0", " ").isprintable()
    assert time.process_time() - start < QUICK


@pytest.mark.parametrize("importer", READERS)
@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=2000))
def test_any_bytes(importer: Importer, data: bytes) -> None:
    survives(importer, data)


@pytest.mark.parametrize("importer", READERS)
@settings(max_examples=150, deadline=None)
@given(text=st.text(max_size=500))
def test_any_text(importer: Importer, text: str) -> None:
    survives(importer, text.encode("utf-8", "surrogatepass"))
    survives(importer, (MINIMAL + text).encode("utf-16", "surrogatepass"))


@pytest.mark.parametrize("importer", READERS)
@settings(max_examples=300, deadline=None)
@given(pieces=st.lists(PIECES, max_size=40), headed=st.booleans())
def test_pieces_of_record_files_in_any_order(importer: Importer, pieces: list[str], headed: bool) -> None:
    survives(importer, ((MINIMAL if headed else "") + "".join(pieces)).encode(), {"class": "cable"})


@pytest.mark.parametrize("seed", range(60))
def test_a_record_file_with_some_bytes_changed(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - repeatable on purpose
    data = bytearray((FULL + TABLE).encode())
    for _ in range(chance.randint(1, 8)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    for importer in importers().values():
        survives(importer, bytes(data))


@pytest.mark.parametrize("length", range(0, len(FULL + TABLE), 37))
def test_a_record_file_cut_anywhere(length: int) -> None:
    for importer in importers().values():
        survives(importer, (FULL + TABLE).encode()[:length])


def archive(**members: str) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(name.replace("__", "/"), content)
    return target.getvalue()


@pytest.mark.parametrize(
    "members",
    (
        {},
        {"readme.txt": "no workbook"},
        {"xl__workbook.xml": "<workbook"},
        {"xl__workbook.xml": "<workbook/>", "xl___rels__workbook.xml.rels": "<a/>"},
        {
            "xl__workbook.xml": '<!DOCTYPE a [<!ENTITY b "c">]><workbook>&b;</workbook>',
            "xl___rels__workbook.xml.rels": "<a/>",
        },
    ),
)
def test_archives_that_are_no_workbooks(members: dict[str, str]) -> None:
    survives(importers()["xlsx"], archive(**members))


SWAPS = (b'"', b"<", b"/", b't="s"', b't="d"', b"-1", b"nan", b"1e400", b"<f>", b"<v>", b"</c>", b"\xff", b"")


@pytest.mark.filterwarnings("ignore::UserWarning:openpyxl")
@pytest.mark.parametrize("seed", range(80))
def test_a_workbook_with_pieces_of_its_stored_form_changed(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - repeatable on purpose
    with zipfile.ZipFile(WORKBOOK) as source:
        members = {name: source.read(name) for name in source.namelist()}
    name = chance.choice([name for name in members if "sheet" in name or "workbook" in name])
    content = bytearray(members[name])
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(content))
        content[at : at + chance.choice((0, 1, 2, 5))] = chance.choice(SWAPS)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as made:
        for member, stored in members.items():
            made.writestr(member, bytes(content) if member == name else stored)
    survives(importers()["xlsx"], target.getvalue())


@pytest.mark.parametrize(
    "text",
    (
        MINIMAL + "# notes = " + '"' * 100_000,
        MINIMAL + "# notes = " + "[" * 100_000,
        MINIMAL + '"' + "#,;\t" * 50_000,
        MINIMAL + "," * 300_000,
        MINIMAL + "time [s],current [uA]\n" + "9" * 300_000 + ",1\n",
        MINIMAL + "time [s],current [uA]\n" + '"' * 200_001 + "\n",
        MINIMAL + "# k = v\n" * 20_000 + TABLE,
        MINIMAL + "".join(f"# k{n} = v\n" for n in range(3000)) + TABLE,
        "time [s" * 50_000,
        "\n" * 200_000,
        '"#\n' * 20_000,
    ),
    ids=lambda text: f"{len(text)}-{text[60:75]!r}",
)
def test_long_and_awkward_inputs_are_quick(text: str) -> None:
    start = time.process_time()
    importer = pick(text[:4096].encode(), "long.csv")
    assert importer is not None
    assert all(len(fault.given) <= 200 for fault in faults(importer, text.encode(), {}))
    assert time.process_time() - start < QUICK
