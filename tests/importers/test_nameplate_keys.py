from __future__ import annotations

import pytest

from importing import FULL, MINIMAL, TABLE, codes, faults_of, only_fault, read_one
from soakage.model.keys import KEYS


def test_the_example_of_the_format() -> None:
    record = read_one(FULL + TABLE)
    assert record.asset.title == "Pump 3 motor"
    assert record.asset.asset_class == "rotating-machine"
    assert record.asset.rated_voltage == 6600
    assert record.asset.year == 2004
    assert record.test.tested == ("U", "V", "W")
    assert record.conditions.winding_temperature == pytest.approx(300.65)
    assert record.conditions.relative_humidity == 0.55
    assert record.readings.time.tolist() == [15, 30, 60, 600]
    assert record.readings.resistance[2] == pytest.approx(5001 / 14.9e-6)
    assert record.origin.file == "test.csv"
    assert len(record.origin.sha256) == 64
    assert codes(record) == ["unknown_key"]


@pytest.mark.parametrize("missing", ("soakage", "class", "method"))
def test_only_three_keys_are_required(missing: str) -> None:
    text = "".join(line + "\n" for line in MINIMAL.splitlines() if missing not in line) + TABLE
    fault = only_fault(text)
    assert fault.field == missing
    assert fault.row is None
    assert missing in fault.remedy or "first line" in fault.remedy
    assert read_one(MINIMAL + TABLE).asset.rated_voltage is None


@pytest.mark.parametrize("version", ("2", '"one"', "1.5"))
def test_other_versions(version: str) -> None:
    fault = only_fault((MINIMAL + TABLE).replace("soakage = 1", f"soakage = {version}"))
    assert fault.field == "soakage"
    assert fault.row == 1


def test_version_twice() -> None:
    assert only_fault(f"# soakage = 1\n{MINIMAL}{TABLE}").row == 2


def test_key_twice() -> None:
    fault = only_fault(f"{MINIMAL}# asset = A\n# asset = B\n{TABLE}")
    assert fault.row == 5
    assert "line 4" in fault.problem


def test_both_names_of_the_temperature_are_one_key() -> None:
    fault = only_fault(
        f"{MINIMAL}# winding_temperature = 20 degC\n# insulation_temperature = 20 degC\n{TABLE}"
    )
    assert fault.row == 5
    assert "winding_temperature" in fault.problem
    record = read_one(f"{MINIMAL}# insulation_temperature = 20 degC\n{TABLE}")
    assert record.conditions.winding_temperature == 293.15


def test_unknown_keys_are_kept_and_shown_with_the_nearest() -> None:
    record = read_one(f'{MINIMAL}# rated_voltge = 6.6 kV\n# works number = "A 7"\n{TABLE}')
    assert record.extra == {"rated_voltge": "6.6 kV", "works number": "A 7"}
    assert codes(record) == ["unknown_key", "unknown_key"]
    assert "rated_voltage" in record.findings[0].sentence
    assert record.asset.rated_voltage is None


def test_line_without_a_key() -> None:
    assert only_fault(f"{MINIMAL}# = 5\n{TABLE}").row == 4


def test_options_fill_in_what_the_file_lacks() -> None:
    record = read_one(MINIMAL + TABLE, rated_voltage="6.6 kV", section="U", **{"test-voltage": "5 kV"})
    assert record.asset.rated_voltage == 6600
    assert record.asset.section == "U"
    assert record.test.test_voltage == 5000
    assert codes(record) == []


def test_an_option_wins_and_says_so() -> None:
    record = read_one(f"{MINIMAL}# rated_voltage = 6.6 kV\n{TABLE}", rated_voltage="11 kV")
    assert record.asset.rated_voltage == 11000
    assert codes(record) == ["key_overridden"]
    assert "6.6 kV" in record.findings[0].sentence
    assert "11 kV" in record.findings[0].sentence


def test_an_option_that_says_the_same_is_silent() -> None:
    assert codes(read_one(f"{MINIMAL}# rated_voltage = 6.6 kV\n{TABLE}", rated_voltage="6600 V")) == []


def test_an_option_mends_a_broken_value() -> None:
    record = read_one(f"{MINIMAL}# rated_voltage = six\n{TABLE}", rated_voltage="6.6 kV")
    assert record.asset.rated_voltage == 6600
    assert codes(record) == ["key_overridden"]


def test_either_name_of_the_temperature_overrides_the_other() -> None:
    record = read_one(f"{MINIMAL}# winding_temperature = 20 degC\n{TABLE}", insulation_temperature="30 degC")
    assert record.conditions.winding_temperature == pytest.approx(303.15)
    assert codes(record) == ["key_overridden"]


def test_bad_and_unknown_options() -> None:
    faults = faults_of(MINIMAL + TABLE, rated_voltage="six", rated_voltge="6 kV")
    assert [fault.field for fault in faults] == ["--rated-voltage", "--rated-voltge"]
    assert faults[1].allowed == "rated_voltage"
    assert all(fault.row is None for fault in faults)


def test_options_can_give_class_and_method() -> None:
    record = read_one("# soakage = 1\n" + TABLE, **{"class": "cable", "method": "cable-core"})
    assert (record.asset.asset_class, record.test.method) == ("cable", "cable-core")


def test_stated_keys_come_back_in_the_order_of_the_table() -> None:
    order = list(KEYS)
    stated = list(read_one(FULL + TABLE).stated())
    assert stated == sorted(stated, key=order.index)
