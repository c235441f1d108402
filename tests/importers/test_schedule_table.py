from __future__ import annotations

import numpy as np
import pytest

from importing import MINIMAL, TABLE, codes, faults_of, only_fault, read_all, read_one
from soakage.importers.reading import pick
from soakage.model.readings import LOWER, UPPER

HEADER = (
    "# soakage = 1\n# class = low-voltage-installation\n# method = circuit\n# site = Workshop (invented)\n"
)
SCHEDULE = """\
circuit,between,voltage [V],resistance [MOhm],note
Lighting,L-PE,500,> 200,
Lighting,N-PE,500,150,
Sockets,L1-L2,500,0.00,shorted at the meter
Oven,L-PE,,,not disconnected
"""


def test_each_row_is_a_record() -> None:
    records = read_all(HEADER + SCHEDULE)
    assert [(r.asset.circuit, r.asset.between, r.origin.row) for r in records] == [
        ("Lighting", "L-PE", 6),
        ("Lighting", "N-PE", 7),
        ("Sockets", "L1-L2", 8),
        ("Oven", "L-PE", 9),
    ]
    assert {r.asset.asset_class for r in records} == {"low-voltage-installation"}
    assert {r.test.method for r in records} == {"circuit"}
    assert {r.asset.site for r in records} == {"Workshop (invented)"}
    assert [r.readings.resistance[0] for r in records[:3]] == [200e6, 150e6, 0.01e6]
    assert [r.readings.bound[0] for r in records[:3]] == [LOWER, 0, UPPER]
    assert records[2].paper.notes == "shorted at the meter"
    assert records[0].paper.notes is None


def test_a_row_without_a_reading_keeps_its_place() -> None:
    record = read_all(HEADER + SCHEDULE)[3]
    assert np.isnan(record.readings.resistance).all()
    assert codes(record) == ["no_reading"]


def test_findings_stay_with_their_row() -> None:
    records = read_all(HEADER + SCHEDULE)
    assert codes(records[1]) == ["current_derived"]
    assert codes(records[3]) == ["no_reading"]


def test_schedule_without_a_header() -> None:
    records = read_all(SCHEDULE.replace(",", ";"), options={"test_voltage": "500 V"})
    assert len(records) == 4
    assert records[0].asset.asset_class == "low-voltage-installation"
    assert records[0].test.test_voltage == 500


def test_test_voltage_stands_in_for_the_column() -> None:
    (record,) = read_all(HEADER + "# test_voltage = 250 V\ncircuit,between,resistance [MOhm]\nA,L-PE,100\n")
    assert record.readings.voltage_assumed
    assert record.readings.voltage[0] == 250


def test_all_faults_of_a_schedule() -> None:
    text = (
        HEADER + "circuit,between,voltage [V],resistance [MOhm]\n,L-PE,500,100\nB,L-PE,500,-1\nC,L-PE,x,1\n"
    )
    faults = faults_of(text)
    assert sorted((fault.row, fault.field) for fault in faults) == [
        (6, "circuit"),
        (7, "resistance"),
        (8, "voltage"),
    ]


def test_schedule_without_resistances_or_rows() -> None:
    assert only_fault(HEADER + "circuit,between,voltage [V]\nA,L-PE,500\n").field == "columns"
    assert "no readings" in only_fault(HEADER + "circuit,between,resistance [MOhm]\n").problem


def test_circuits_under_another_method_are_refused() -> None:
    fault = only_fault(HEADER.replace("= circuit", "= ramp") + SCHEDULE)
    assert fault.field == "method"
    fault = only_fault(HEADER.replace("low-voltage-installation", "cable") + SCHEDULE)
    assert fault.field == "class"


def test_one_circuit_named_in_the_header_is_one_record() -> None:
    record = read_one(
        HEADER + "# circuit = Lighting\n# between = L-PE\nvoltage [V],resistance [MOhm]\n500,100\n"
    )
    assert (record.asset.circuit, record.asset.between, record.origin.row) == ("Lighting", "L-PE", None)


def test_bare_table_needs_the_class_by_option() -> None:
    fault = only_fault(TABLE)
    assert fault.field == "class"
    assert "--class" in fault.remedy
    assert "rotating-machine" in fault.allowed


def test_bare_table_with_options() -> None:
    record = read_one(
        TABLE, **{"class": "rotating-machine", "method": "polarization-index", "rated_voltage": "6.6 kV"}
    )
    assert record.test.method == "polarization-index"
    assert record.asset.rated_voltage == 6600
    assert codes(record) == []


@pytest.mark.parametrize(
    ("table", "method"),
    ((TABLE, "timed-insulation-resistance"), ("resistance [MOhm]\n300\n", "insulation-resistance")),
)
def test_method_of_a_bare_table_follows_from_its_columns(table: str, method: str) -> None:
    record = read_one(table, **{"class": "cable"})
    assert record.test.method == method
    assert codes(record)[0] == "method_assumed"
    assert method in record.findings[0].sentence


def test_bare_table_with_nothing_known() -> None:
    faults = faults_of("alpha beta\ngamma\n", **{"class": "cable"})
    assert [fault.field for fault in faults] == ["columns"]


@pytest.mark.parametrize(
    ("head", "name", "importer"),
    (
        (b"# soakage = 1\n", "a.csv", "record-file"),
        (b'\xef\xbb\xbf"# soakage = 1",,\n', "a.csv", "record-file"),
        ("# soakage = 1\n".encode("utf-16"), "a.txt", "record-file"),
        (b"\n# soakage = 1\n", "a.csv", "record-file"),
        (b"time [s],current [uA]\n", "A.CSV", "table"),
        (b"anything", "a.txt", "table"),
        (b"circuit;between;R [MOhm]\n", "a.csv", "schedule"),
        ("circuit;between;R [MOhm]\n".encode("utf-16"), "a.csv", "schedule"),
        (HEADER.encode(), "a.csv", "schedule"),
        (b"PK\x03\x04", "a.xlsx", "xlsx"),
        (b"# soakage = 1\n", "a.xlsx", "xlsx"),
    ),
)
def test_importers_are_picked_by_content_and_ending(head: bytes, name: str, importer: str) -> None:
    picked = pick(head, name)
    assert picked is not None
    assert picked.id == importer


def test_no_importer_reads_it() -> None:
    assert pick(b"%PDF-1.7", "report.pdf") is None
    fault = only_fault(b"%PDF-1.7", "report.pdf")
    assert fault.given == ".pdf"
    assert ".csv" in fault.allowed


def test_a_record_file_that_lost_its_first_line_is_not_taken_for_a_bare_table() -> None:
    assert only_fault(MINIMAL.split("\n", 1)[1] + TABLE).field == "soakage"
