from __future__ import annotations

from pathlib import Path

import pytest

from importing import FULL, MINIMAL, TABLE
from soakage.errors import InputError
from soakage.importers.statement import read_statement


def test_options_alone() -> None:
    statement = read_statement({"class": "cable", "rated_voltage": "12 kV", "length": "1.2 km"})
    assert statement.asset.asset_class == "cable"
    assert statement.asset.length == 1200
    assert statement.stated["rated_voltage"] == 12000
    assert statement.findings == ()


@pytest.mark.parametrize("table", ("", TABLE, "time [s],current [uA]\n15,\n"))
def test_header_of_a_file_whatever_stands_below_it(tmp_path: Path, table: str) -> None:
    path = tmp_path / "plate.csv"
    path.write_text(FULL + table, encoding="utf-8")
    statement = read_statement({"rated_voltage": "11 kV"}, path)
    assert statement.asset.rated_voltage == 11000
    assert statement.asset.year == 2004
    assert statement.stated["tested"] == ("U", "V", "W")
    assert [finding.code for finding in statement.findings] == ["key_overridden", "unknown_key"]


def test_every_fault_of_a_plate(tmp_path: Path) -> None:
    path = tmp_path / "plate.csv"
    path.write_text(MINIMAL + "# year = x\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_statement({"rated_voltage": "6"}, path)
    assert [fault.field for fault in caught.value.faults] == ["--rated-voltage", "year"]


def test_file_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_statement({}, tmp_path / "missing.csv")
    assert caught.value.faults[0].file.endswith("missing.csv")
