"""Test voltages of the criteria files, held against what each source prints; statuses beside each."""

from __future__ import annotations

import math

import pytest

from soakage.standards.criterion import VoltageTable
from soakage.standards.library import library

TABLES = library().voltage_tables


def volts(table: VoltageTable, key: float) -> tuple[float, float]:
    """Return (low, high) in volts: first row that takes the key, or factor and offset under the cap."""
    for row in table.rows:
        if (row.below is None or key < row.below) and (row.to is None or key <= row.to):
            return row.low, row.high
    assert table.factor_low is not None
    assert table.factor_high is not None
    low, high = (table.offset + share * key for share in (table.factor_low, table.factor_high))
    return min(low, table.cap or math.inf), min(high, table.cap or math.inf)


@pytest.mark.parametrize("name", TABLES)
def test_each_voltage_table_gives_its_own_examples(name: str) -> None:
    table = TABLES[name]
    assert table.examples
    for given, low, high in table.examples:
        assert volts(table, given) == pytest.approx((low, high))


# IEEE 43-2000 Table 1 (secondary)
@pytest.mark.parametrize(
    ("rated", "low", "high"),
    (
        (999, 500, 500),
        (1000, 500, 1000),
        (2500, 500, 1000),
        (2501, 1000, 2500),
        (5000, 1000, 2500),
        (5001, 2500, 5000),
        (12000, 2500, 5000),
        (12001, 5000, 10000),
        (20000, 5000, 10000),
    ),
)
def test_machine_test_voltages(rated: float, low: float, high: float) -> None:
    assert volts(TABLES["ieee-43-2000.test-voltage"], rated) == (low, high)


# ANSI/NETA MTS-2019 and ATS-2025 Table 100.1 (secondary)
@pytest.mark.parametrize(
    ("rated", "direct"),
    (
        (250, 500), (600, 1000), (1000, 1000), (2500, 1000), (5000, 2500), (8000, 2500), (15000, 2500),
        (25000, 5000), (34500, 5000), (46000, 5000), (72500, 5000),
    ),
)  # fmt: skip
def test_apparatus_test_voltages(rated: float, direct: float) -> None:
    assert volts(TABLES["neta-100-1.test-voltage"], rated) == (direct, direct)


@pytest.mark.parametrize(("nominal", "direct"), ((230, 500), (500, 500), (501, 1000), (690, 1000)))
def test_low_voltage_test_voltages(nominal: float, direct: float) -> None:
    # IEC 60364-6:2016 Table 6.1 (secondary)
    assert volts(TABLES["iec-60364-6-2016.test-voltage"], nominal) == (direct, direct)


def test_overvoltage_of_a_13_8_kv_winding() -> None:
    # IEEE 95: maintenance 1.25 to 1.5 E times 1.7 (secondary), factory 1.7 (2 E + 1 kV) (memory)
    assert volts(TABLES["ieee-95-2002.maintenance"], 13_800) == pytest.approx((29_325, 35_190))
    assert volts(TABLES["ieee-95-2002.factory"], 13_800) == pytest.approx((48_620, 48_620))


@pytest.mark.parametrize(("millimetres", "kilovolts"), ((1, 4), (2.5, 10), (4, 10)))
def test_oversheath_voltage(millimetres: float, kilovolts: float) -> None:
    # IEC 60229:2007 cl. 5: 4 kV for each mm, at most 10 kV (memory)
    assert volts(TABLES["iec-60229-2007.after-laying"], millimetres / 1e3)[0] == pytest.approx(
        kilovolts * 1e3
    )


@pytest.mark.parametrize(
    "name", [name for name, table in TABLES.items() if table.role in ("withstand", "overvoltage")]
)
def test_withstand_and_overvoltage_tables_carry_a_caution(name: str) -> None:
    assert TABLES[name].caution


# GB 50150 arrester clause (memory)
@pytest.mark.parametrize(("rated", "direct"), ((1e3, 500), (10e3, 2500), (35e3, 5000), (110e3, 5000)))
def test_arrester_voltages(rated: float, direct: float) -> None:
    assert volts(TABLES["gb-50150-2006.arrester-test-voltage"], rated) == (direct, direct)


@pytest.mark.parametrize(
    ("rated", "direct"), ((480, 1000), (600, 1000), (601, 2500), (5e3, 2500), (5001, 5000))
)
def test_transformer_test_voltages(rated: float, direct: float) -> None:
    # ANSI/NETA ATS-2025 Table 100.5 (secondary)
    assert volts(TABLES["neta-100-5.test-voltage"], rated) == (direct, direct)


def test_older_editions_asked_15_kv_from_34_5_kv_on() -> None:
    # from memory of ATS-2009 and of MTS-2007
    assert volts(TABLES["neta-ats-2009.test-voltage"], 34_500) == (15_000, 15_000)
    assert volts(TABLES["neta-ats-2009.test-voltage"], 25_000) == (5_000, 5_000)


def test_extra_low_voltage_and_control_wiring_have_their_own_tables() -> None:
    # IEC 60364-6:2016 Table 6.1 (secondary); NETA 7.1 (secondary)
    assert volts(TABLES["iec-60364-6-2016.selv-pelv-test-voltage"], 24) == (250, 250)
    assert volts(TABLES["neta-100-1.control-wiring-test-voltage"], 300) == (500, 500)
    assert volts(TABLES["neta-100-1.control-wiring-test-voltage"], 600) == (1000, 1000)


def test_withstand_voltages_of_cables_and_switchgear_are_for_reading_only() -> None:
    # UFGS-16302N, UFGS-16522N (read), NETA Table 100.2 (secondary), IEC 60502 cl. 20 (memory)
    references = library().references
    for name in (
        "ufgs-16302n.direct-withstand",
        "ufgs-16522n.series-circuits",
        "neta-100-2.switchgear-withstand",
        "iec-60502-1.direct-withstand",
    ):
        assert references[name].caution
        assert name not in TABLES


def test_cable_withstand_rows() -> None:
    # UFGS-16302N (read): kV dc for EPR and XLP, PILC
    cells = {row[0]: row[1:] for row in library().references["ufgs-16302n.direct-withstand"].rows}
    assert cells["5 kV"] == ("25", "30")
    assert cells["15 kV, 133 %"] == ("65 (53)", "85")
    assert cells["35 kV, 100 %"] == ("100", "145")
    assert len(cells) == 7


def test_series_lighting_leakage_by_hand() -> None:
    # UFGS-16522N (rule read, numbers derived): 3 uA per 1 000 ft and 2 uA per transformer, 6 000 ft, 12 + 8
    assert 3 * 6000 / 1000 + 2 * (12 + 8) == 58
    assert "58 µA" in library().references["ufgs-16522n.series-circuits"].rationale
