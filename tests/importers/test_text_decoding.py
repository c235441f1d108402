from __future__ import annotations

import pytest

from importing import MINIMAL, TABLE, faults_of, only_fault, read_one
from soakage.errors import InputError
from soakage.importers import text as text_module
from soakage.importers.base import Notes, shown
from soakage.importers.text import LARGEST, MOST_ROWS, decode

MICRO = MINIMAL + '# notes = "22 °C, 5 µA"\n' + TABLE.replace("uA", "µA")


@pytest.mark.parametrize("encoding", ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"))
def test_each_encoding_gives_the_same_record(encoding: str) -> None:
    record = read_one(MICRO.encode(encoding))
    assert record.paper.notes == "22 °C, 5 µA"
    assert record.readings.current[0] == 31.8e-6


def test_ohm_sign_of_either_code_point() -> None:
    for sign in ("\N{GREEK CAPITAL LETTER OMEGA}", "\N{OHM SIGN}"):
        text = MINIMAL + f"time [s],voltage [V],resistance [M{sign}]\n60,5000,300\n"
        assert read_one(text).readings.resistance[0] == 300e6


@pytest.mark.parametrize("ending", ("\n", "\r\n", "\r"))
def test_line_ends(ending: str) -> None:
    assert decode(f"a{ending}b".encode(), "x") == "a\nb"


@pytest.mark.parametrize("data", (b"", b"\n\n  \r\n", b"\xef\xbb\xbf", b"\xff\xfe", b"\t"))
def test_empty(data: bytes) -> None:
    fault = only_fault(data)
    assert "empty" in fault.problem
    assert fault.row is None


@pytest.mark.parametrize(
    "data",
    (
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
        b"PK\x03\x04\x14\x00",
        b"time [s],current [uA]\n15,\x00\n",
        b"# soakage = 1\n\x07",
        bytes(range(256)),
        "a\x00b\x01c".encode("utf-16"),
    ),
)
def test_binary(data: bytes) -> None:
    fault = only_fault(data)
    assert "binary" in fault.problem or "encoding" in fault.problem


def test_utf16_cut_in_the_middle_of_a_sign() -> None:
    assert "cut short" in only_fault(MICRO.encode("utf-16")[:-1]).problem


def test_mixed_encodings_name_the_line() -> None:
    data = (MINIMAL + '# notes = "22 °C"\n').encode() + TABLE.replace("uA", "µA").encode("cp1252")
    fault = only_fault(data)
    assert "mixes encodings" in fault.problem
    assert fault.row == 5
    assert fault.given == "byte 0xb5"


def test_bytes_of_no_encoding() -> None:
    data = MINIMAL.encode() + b"# notes = \x81\n" + TABLE.encode()
    fault = only_fault(data)
    assert fault.row == 4
    assert "utf-8" in fault.problem.lower()


def test_too_large_is_refused_by_size_alone() -> None:
    fault = only_fault(b"# soakage = 1\n" + b"1,2,3\n" * (LARGEST // 6))
    assert "too large" in fault.problem
    assert "64 MiB" in fault.allowed


def test_too_many_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    assert MOST_ROWS == 2_000_000
    monkeypatch.setattr(text_module, "MOST_ROWS", 10)
    assert "too many rows" in only_fault(MINIMAL + TABLE + "1,2,3\n" * 10).problem


def test_two_thousand_rows_are_nothing_special() -> None:
    rows = "".join(f"{second},5000,{1 + 1 / second}\n" for second in range(1, 2001))
    assert len(read_one(f"{MINIMAL}time [s],voltage [V],current [uA]\n{rows}").readings) == 2000


def test_faults_are_counted_beyond_five_hundred() -> None:
    rows = "".join(f"{second},5000,x\n" for second in range(700))
    faults = faults_of(f"{MINIMAL}time [s],voltage [V],current [uA]\n{rows}")
    assert len(faults) == 501
    assert "200 more faults" in faults[-1].problem


def test_what_is_shown_of_a_file_stays_on_one_line() -> None:
    assert shown("a\nb\tc") == "a b c"
    assert shown("x" * 100) == "x" * 80 + "…"
    assert "\x1b" not in shown("\x1b[31m")


def test_notes_raise_every_fault_together() -> None:
    notes = Notes("f.csv")
    notes.settle()
    notes.fault(1, "a", "1", "Wrong.", "right", "Mend it.")
    notes.fault(2, "b", "2", "Wrong too.", "right", "Mend it.")
    with pytest.raises(InputError) as caught:
        notes.settle()
    assert [fault.row for fault in caught.value.faults] == [1, 2]
    assert str(caught.value).count("\n") == 1
