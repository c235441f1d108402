"""Files of many records that cannot be read: which file, which record, which reading, what to do."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pytest

from importing import FULL, MINIMAL, TABLE, codes, faults_of, only_fault, read_all, read_one
from soakage.errors import InputError
from soakage.importers import json_file, parquet, parquet_columns
from soakage.importers.base import MOST_FAULTS
from soakage.importers.exchange import written
from soakage.importers.parquet_columns import column_types, engine, name_in_sql
from soakage.importers.reading import pick, read_files
from soakage.importers.values import read_value
from soakage.importers.write_parquet import write_parquet

HEADER: dict[str, Any] = {"class": "cable", "method": "cable-core", "test_voltage": "2500 V"}
T, U, R = "time [s]", "voltage [V]", "resistance [GOhm]"
ROWS: dict[str, Any] = {T: [60, 120], U: [2500, 2500], R: [12.5, 13]}


def text_of(*records: Mapping[str, Any], **whole: Any) -> str:
    return json.dumps({"soakage": 1, "records": list(records)} | whole)


def one(header: Mapping[str, Any] | None = None, rows: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return a record with some keys and columns changed; None takes a column away."""
    readings = {name: column for name, column in (ROWS | dict(rows or {})).items() if column is not None}
    return HEADER | dict(header or {}) | {"readings": readings}


def parquet_of(folder: Path, columns: str) -> bytes:
    """Return a Parquet file that somebody else's program wrote: one row of these columns."""
    file = folder / "theirs.parquet"
    connection = duckdb.connect()
    connection.sql(f"SELECT {columns}").to_parquet(str(file))
    connection.close()
    return file.read_bytes()


THEIRS = "1 AS soakage, 'cable' AS class, 'cable-core' AS method"


def test_what_the_other_tests_change_is_whole() -> None:
    (record,) = read_all(text_of(one()), "a.json")
    assert record.readings.resistance.tolist() == [12.5e9, 13e9]
    assert record.origin.file == "a.json"
    assert len(record.origin.sha256) == 64


@pytest.mark.parametrize(
    ("text", "problem", "row"),
    (
        ("{", "no JSON", 1),
        ('{"soakage": 1,\n"records": [}', "no JSON", 2),
        ("", "no JSON", 1),
        ("[]", "holds no records", None),
        ("7", "holds no records", None),
        ("null", "holds no records", None),
        ('{"records": []}', "holds no records", None),
        ('{"soakage": 2, "records": []}', "version", None),
        ('{"soakage": true, "records": []}', "version", None),
        ('{"soakage": "1", "records": []}', "version", None),
        ('{"soakage": 1}', "list of records is missing", None),
        ('{"soakage": 1, "records": {}}', "list of records is missing", None),
        ('{"soakage": 1, "records": []}', "holds no record", None),
        ('{"soakage": 1, "records": [7]}', "no record with its readings; 1 are not", None),
        ('{"soakage": 1, "records": [{"class": "cable"}]}', "no record with its readings", None),
        ('{"soakage": 1, "records": [{"readings": [1]}]}', "no record with its readings", None),
        ('{"soakage": 1, "soakage": 1, "records": []}', "'soakage' is there twice", None),
        ('{"soakage": 1, "records": [NaN]}', "NaN is no figure", None),
        ('{"soakage": 1, "records": [-Infinity]}', "-Infinity is no figure", None),
        ("[" * 100_000, "cannot be read", None),
        ("1" * 5000, "cannot be read", None),
        ('{"soakage": 1, "rec\udcff', "no UTF-8", 1),
    ),
)
def test_json_that_is_none_of_ours(text: str, problem: str, row: int | None) -> None:
    fault = only_fault(text.encode(errors="surrogateescape"), "a.json")
    assert problem in fault.problem
    assert fault.row == row


@pytest.mark.parametrize(
    ("header", "field", "problem"),
    (
        ({"rated_voltage": 6600}, "rated_voltage", "Unit"),
        ({"rated_voltage": "6.6 kA"}, "rated_voltage", ""),
        ({"class": "rocket"}, "class", "not known"),
        ({"class": None}, "class", "not stated"),
        ({"year": 2004.5}, "year", "no year"),
        ({"tested": {"U": {"V": "W"}}}, "tested", "a table"),
        ({"notes": ["a"]}, "notes", "a list"),
        ({"notes": {"a": "b"}}, "notes", "a table"),
        ({"test_voltage": ["1 kV"]}, "test_voltage", "a list"),
        ({"tested": ["U", ["V"]]}, "tested", "another list"),
        ({"winding_voltages": 7}, "winding_voltages", "figures for"),
        ({"steps": [{"at": "0 s"}]}, "steps", "both at and voltage"),
        ({"Rated Voltage": "1 kV", "rated_voltage": "2 kV"}, "rated_voltage", "there already"),
    ),
)
def test_a_key_that_is_wrong(header: dict[str, Any], field: str, problem: str) -> None:
    fault = faults_of(text_of(one(header)), "a.json")[0]
    assert problem in fault.problem
    assert (fault.file, fault.row, fault.field) == ("a.json", None, field)


@pytest.mark.parametrize(
    ("rows", "row", "field", "problem"),
    (
        ({T: [60, 60]}, 2, "time", "twice"),
        ({T: [120, 60]}, 2, "time", "backwards"),
        ({T: [-1, 60]}, 1, "time", "before the voltage"),
        ({T: [60, None]}, 2, "time", "no time"),
        ({T: [60]}, None, "readings", "not equally long"),
        ({"bound": [1]}, None, "readings", "not equally long"),
        ({T: 60}, None, T, "no list of figures"),
        ({T: "60"}, None, T, "no list of figures"),
        ({R: [12.5, "13"]}, 2, R, "no figure"),
        ({R: [12.5, True]}, 2, R, "no figure"),
        ({R: [12.5, [13]]}, 2, R, "no figure"),
        ({R: [12.5, -1]}, 2, "resistance", "negative"),
        ({R: [0, 1]}, 1, "resistance", "zero"),
        ({R: [10**400, 1]}, 1, R, "no finite"),
        ({U: [10**400, 1]}, 1, U, "no finite"),
        ({R: [None, 1], "bound": [1, 0]}, 1, "bound", "nothing was read"),
        ({"bound": [0, 2]}, 2, "bound", "no bound"),
        ({"bound": [0, True]}, 2, "bound", "no bound"),
        ({"bound": [0, "1"]}, 2, "bound", "no bound"),
        ({"bound": [0, [1]]}, 2, "bound", "no bound"),
        ({R: None}, None, "readings", "No column holds"),
        ({R: [None, None]}, None, "", "no readings yet"),
        ({R: [], T: [], U: []}, None, "", "no readings yet"),
        ({R: None, "resistance": [1, 2]}, None, "resistance", "no unit"),
        ({R: None, "R / kg": [1, 2]}, None, "resistance", ""),
        ({"U (kV)": [1, 2]}, None, "voltage", "twice"),
    ),
)
def test_readings_that_are_wrong(rows: dict[str, Any], row: int | None, field: str, problem: str) -> None:
    fault = faults_of(text_of(one(rows=rows)), "a.json")[0]
    assert problem in fault.problem
    assert (fault.file, fault.row, fault.field) == ("a.json", row, field)


def test_every_record_is_looked_at_and_the_number_told() -> None:
    faults = faults_of(text_of(one(), one({"class": "rocket"}), one(), one(rows={T: [120, 60]})), "a.json")
    assert [(fault.file, fault.row) for fault in faults] == [
        ("a.json [record 2]", None),
        ("a.json [record 4]", 2),
    ]


def test_there_is_an_end_to_faults() -> None:
    faults = faults_of(text_of(*[one({"class": "rocket"})] * 2000), "a.json")
    assert len(faults) == MOST_FAULTS + 2
    assert "not looked at" in faults[-1].problem


def test_options_win_over_every_record() -> None:
    records = read_all(text_of(one(), one({"length": "10 m"})), "a.json", {"length": "840 m"})
    assert [record.asset.length for record in records] == [840.0, 840.0]
    assert "key_overridden" in codes(records[1])
    assert "--speed" in str(faults_of(text_of(one()), "a.json", speed="7")[0])


@pytest.mark.parametrize(
    ("heading", "given", "si"),
    (
        ("current [uA]", 31.8, 31.8e-6),
        ("current [nA]", 1e-05, 1e-14),
        ("current [A]", 3.18e-05, 3.18e-05),
        ("i (pA)", 7, 7e-12),
        ("resistance [TOhm]", 0.3, 0.3e12),
        ("R / MOhm", 213, 213e6),
    ),
)
def test_columns_may_be_in_other_units(heading: str, given: float, si: float) -> None:
    (record,) = read_all(text_of(one(rows={R: None, heading: [given, None]})), "a.json")
    assert getattr(record.readings, "current" if heading[0] in "ci" else "resistance")[0] == si


def test_a_column_of_another_name_is_told() -> None:
    (record,) = read_all(text_of(one(rows={"wind [m/s]": [1, 2]})), "a.json")
    assert "unknown_column" in codes(record)


def test_keys_that_are_not_known_are_kept_wherever_they_stand() -> None:
    for header in ({"works_number": "A 7"}, {"extra": {"works_number": "A 7"}}):
        (record,) = read_all(text_of(one(header)), "a.json")
        assert record.extra == {"works_number": "A 7"}
    (record,) = read_all(text_of(one({"extra": "just a text"})), "a.json")
    assert record.extra == {"extra": "just a text"}


@pytest.mark.parametrize(
    "value",
    (
        "",
        "a",
        '"',
        "\\",
        "[",
        "a = b, c",
        "\n\t",
        "\N{NO-BREAK SPACE}",
        ["a", "b c"],
        {"a b": "="},
        [{"a": "1"}],
    ),
)
def test_what_is_written_plainly_is_read_to_the_same(value: Any) -> None:
    assert read_value(written(value)) == value


@pytest.mark.parametrize("value", (b"x", object(), 1j, {"a": b"x"}, [[[[[[[["deep"]]]]]]]]))
def test_what_no_key_takes(value: object) -> None:
    with pytest.raises(ValueError, match=r"no key takes|too deep"):
        written(value)


def test_files_are_known_by_what_they_begin_with() -> None:
    def picked(head: bytes, name: str) -> str | None:
        found = pick(head, name)
        return found.id if found else None

    assert picked(b"PAR1....", "a.parquet") == "parquet"
    assert picked(b"PAR1....", "a") == "parquet"
    assert picked(b"no such thing", "a.parquet") == "parquet"
    assert picked(b'{"soakage": 1', "a.json") == "json"
    assert picked(b'\xef\xbb\xbf {"soakage": 1', "a") == "json"
    assert picked(b"# soakage = 1", "a") == "record-file"
    assert json_file.recognises(b"time [s],", "a.csv") == 0
    assert parquet.recognises(b"time [s],", "a.csv") == 0


# ------------------------------------------------------------------------------------------ Parquet


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    file = tmp_path_factory.mktemp("good") / "good.parquet"
    write_parquet(file, [read_one(FULL + TABLE), read_one(MINIMAL + TABLE)])
    return file.read_bytes()


def test_a_file_of_theirs_is_read(tmp_path: Path) -> None:
    data = parquet_of(
        tmp_path,
        f"{THEIRS}, TIMESTAMP '2026-03-14 09:20:00' AS started, 2004::SMALLINT AS year, 'ac' AS current, "
        "['L1', 'L2'] AS tested, {'held': '60 s', 'voltage': '1 kV', 'earthed': '1 h'} AS previous_test, "
        "MAP {'H': '33 kV'} AS winding_voltages, 7.5::DECIMAL(4,1) AS works_number, NULL AS section, "
        "[60, 120]::INTEGER[] AS \"time [s]\", [2.5, 'nan'::FLOAT]::FLOAT[] AS \"current [uA]\", "
        '[1.5, 1.5]::DECIMAL(4,2)[] AS "voltage [kV]"',
    )  # fmt: skip
    (record,) = read_all(data, "theirs.parquet")
    assert str(record.test.started) == "2026-03-14 09:20:00"
    assert (record.asset.year, record.asset.machine_current, record.asset.section) == (2004, "ac", None)
    assert record.test.tested == ("L1", "L2")
    assert record.test.previous_test is not None
    assert record.test.previous_test.earthed == 3600.0
    assert record.asset.winding_voltages == {"H": 33e3}
    assert record.extra == {"works_number": "7.5"}
    assert record.readings.time.tolist() == [60.0, 120.0]
    assert record.readings.voltage.tolist() == [1500.0, 1500.0]
    assert record.readings.current[0] == 2.5e-6
    assert np.isnan(record.readings.current[1])


@pytest.mark.parametrize("missing", ("soakage", "class", "method"))
def test_a_column_that_is_missing_is_named(missing: str, tmp_path: Path) -> None:
    columns = [column for column in THEIRS.split(", ") if not column.endswith(missing)]
    data = parquet_of(tmp_path, ", ".join([*columns, '[1] AS "time [s]", [1] AS "resistance [Ohm]"']))
    assert f"The column {missing} is missing" in only_fault(data, "a.parquet").problem


@pytest.mark.parametrize(
    ("columns", "field", "problem"),
    (
        ('60 AS "time [s]", 1 AS "resistance [Ohm]"', "time [s]", "no list of figures"),
        ("60 AS other", "readings", "No column holds"),
        ('[\'60\'] AS "time [s]", [1] AS "resistance [Ohm]"', "time [s]", "no figure"),
        ('[1] AS "resistance [Ohm]", 6600.0 AS rated_voltage', "rated_voltage", ""),
        ("[1] AS \"resistance [Ohm]\", 'x'::BLOB AS notes", "notes", "bytes"),
        ('[1] AS "resistance [Ohm]", [[[[[[[[1]]]]]]]] AS tested', "tested", "too deep"),
        ("[1] AS \"resistance [Ohm]\", ['1'] AS bound", "bound", "no bound"),
        ('[1] AS "resistance [Ohm]", 1 AS bound', "readings", "not equally long"),
        ('[1] AS "resistance [Ohm]", [\'inf\'::DOUBLE] AS "voltage [V]"', "voltage [V]", "no finite"),
    ),
)
def test_a_column_of_another_kind(columns: str, field: str, problem: str, tmp_path: Path) -> None:
    fault = faults_of(parquet_of(tmp_path, f"{THEIRS}, {columns}"), "a.parquet")[0]
    assert problem in fault.problem
    assert fault.field == field


def test_no_row_is_no_record(tmp_path: Path) -> None:
    data = parquet_of(tmp_path, f'{THEIRS}, [1] AS "resistance [Ohm]" WHERE false')
    assert "no record" in only_fault(data, "a.parquet").problem


def test_a_later_record_is_told_by_its_number(tmp_path: Path) -> None:
    data = parquet_of(tmp_path, f'{THEIRS}, unnest([[1.0], [-1.0], [2.0]]) AS "resistance [Ohm]"')
    fault = only_fault(data, "a.parquet")
    assert (fault.file, fault.row, fault.field) == ("a.parquet [record 2]", 1, "resistance")


@pytest.mark.parametrize(
    "data", (b"", b"PAR1", b"PAR1PAR1", b"PAR1" + b"x" * 100 + b"PAR1", b"# soakage = 1\n", b"PK\x03\x04" * 9)
)
def test_what_is_no_parquet(data: bytes) -> None:
    fault = only_fault(data, "a.parquet")
    assert "no Parquet file" in fault.problem
    assert "records.parquet" not in str(fault)


def test_cut_short_anywhere_it_is_refused(good: bytes) -> None:
    for end in range(0, len(good), len(good) // 25):
        assert "no Parquet file" in faults_of(good[:end], "a.parquet")[0].problem


def test_a_damaged_one_gives_a_fault_or_a_record_and_never_falls_over(good: bytes) -> None:
    random = np.random.default_rng(7)
    refused = 0
    for _ in range(60):
        data = bytearray(good)
        for at in random.integers(4, len(good), 4).tolist():
            data[at] ^= 1 << int(random.integers(8))
        with suppress(InputError):
            read_all(bytes(data), "a.parquet")
            refused -= 1
        refused += 1
    assert refused > 20


@pytest.mark.parametrize(
    ("limit", "most"), (("MOST_ROWS", 1), ("_LARGEST_UNPACKED", 100), ("_MOST_VALUES", 20), ("LARGEST", 100))
)
def test_what_is_too_large_is_refused_before_it_is_read(
    limit: str, most: int, good: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parquet, limit, most)
    assert "too large" in only_fault(good, "a.parquet").problem


def test_a_small_file_that_unpacks_to_more_than_the_memory_allowed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = parquet_of(tmp_path, f'{THEIRS}, list_resize([1.0], 2_000_000, 1.0) AS "resistance [Ohm]"')
    size = len(data)
    assert size < 1_000_000  # of 16 MB
    monkeypatch.setattr(parquet_columns, "MEMORY", "12MB")
    assert "unpacks to too much" in only_fault(data, "a.parquet").problem


def test_the_engine_reaches_nothing_but_its_file(good: bytes, tmp_path: Path) -> None:
    mine, other = tmp_path / "mine.parquet", tmp_path / "other.parquet"
    mine.write_bytes(good)
    other.write_bytes(good)
    forbidden: tuple[Callable[[Any], object], ...] = (
        lambda c: c.execute("SELECT * FROM read_parquet($1)", [str(other)]).fetchall(),
        lambda c: c.execute("SELECT * FROM read_text($1)", [str(other)]).fetchall(),
        lambda c: c.execute("SELECT * FROM read_parquet('http://example.invalid/a.parquet')").fetchall(),
        lambda c: c.execute("ATTACH 'there.db'"),
        lambda c: c.execute("INSTALL httpfs"),
        lambda c: c.execute("LOAD spatial"),
        lambda c: c.execute("SET enable_external_access = true"),
        lambda c: c.execute("SET memory_limit = '100GB'"),
        lambda c: c.sql("SELECT 1").to_parquet(str(other)),
    )
    with engine(mine) as connection:
        assert len(connection.execute("SELECT * FROM read_parquet($1)", [str(mine)]).fetchall()) == 2
        for act in forbidden:
            with pytest.raises(duckdb.Error):
                act(connection)
        settings = dict(
            connection.execute(
                "SELECT name, value FROM duckdb_settings() WHERE name LIKE 'auto%known_extensions'"
            ).fetchall()
        )
    assert settings == {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
    assert other.read_bytes() == good


def test_names_in_statements_are_quoted() -> None:
    assert name_in_sql('a" FROM x; --') == '"a"" FROM x; --"'
    assert all(name == name.strip() for name in column_types())


def test_text_that_looks_like_a_statement_is_text(tmp_path: Path) -> None:
    notes = "'); DROP TABLE records; --"
    record = read_one(f'{MINIMAL}# notes = "{notes}"\n# x"; DROP TABLE records; -- = "{notes}"\n{TABLE}')
    file = tmp_path / 'it\'s "$(here)".parquet'
    write_parquet(file, [record])
    (again,) = read_files([file]).records
    assert again.paper.notes == notes
    assert again.extra == record.extra


def test_what_others_read_in_it(good: bytes, tmp_path: Path) -> None:
    # read with the engine alone, as any program does
    file = tmp_path / "good.parquet"
    file.write_bytes(good)
    connection = duckdb.connect()
    rows = connection.execute(
        'SELECT asset, "time [s]", "current [A]"[1], winding_temperature, voltage_found.ac, accuracy[1]."range", '
        "extra['works_number'] FROM read_parquet($1) WHERE year = 2004",
        [str(file)],
    ).fetchall()
    connection.close()
    assert rows == [("Pump 3 motor", [15, 30, 60, 600], 31.8e-6, "27.5 degC", "12 V", "10 GOhm", "A 7")]
