"""``soakage trend`` and ``soakage due``: text and JSON of the store's history."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from running import record, soakage
from soakage.app.trend_schema import trend_schema, work_list_schema

YEARS = (2019, 2020, 2021, 2022, 2023, 2024, 2025)
FALL = 0.85  # a year


@pytest.fixture
def store(tmp_path: Path) -> str:
    """A store with seven yearly tests of one motor whose resistance falls by 15 % a year."""
    folder = tmp_path / "records"
    folder.mkdir()
    for place, year in enumerate(YEARS):
        currents = tuple(current / FALL**place for current in (30.0, 20.0, 10.0, 4.0))
        text = record(currents, started=f"{year}-03-14T09:20:00+02:00", site='"Invented works"')
        (folder / f"{year}.csv").write_text(text, encoding="utf-8")
    where = str(tmp_path / "store.sqlite")
    assert soakage("import", folder, "--store", where).returncode == 0
    return where


def test_the_json_holds_to_its_schema_and_to_the_slope_put_in(store: str) -> None:
    done = soakage("trend", "Pump 3 motor", "--store", store, "--json")
    told = json.loads(done.stdout)
    jsonschema.validate(told, trend_schema())
    (resistance,) = (t for t in told["trends"] if t["quantity"] == "insulation_resistance_60s_corrected")
    assert resistance["section"] == "U, V, W"
    assert len(resistance["points"]) == len(YEARS)
    slope = resistance["slope_per_year"]
    # ln 0.85 a year, by construction
    assert slope["value"] == pytest.approx(-0.1625, abs=5e-4)
    assert slope["lower"] <= slope["value"] <= slope["upper"]
    assert resistance["reaches"]["criterion"].startswith("ieee-43-2013.minimum-resistance")


def test_where_no_date_can_be_given_the_reason_stands(store: str) -> None:
    told = json.loads(soakage("trend", "Pump 3 motor", "--store", store, "--json").stdout)
    (index,) = (t for t in told["trends"] if t["quantity"] == "polarization_index")
    assert index["reaches"] is None
    assert index["reason"]


def test_the_text_shows_years_slope_and_the_guidance(store: str) -> None:
    done = soakage("trend", "Pump 3 motor", "--store", store)
    assert done.returncode == 0
    assert "2019-03-14" in done.stdout
    assert "−15" in done.stdout
    assert "can not predict time" in " ".join(done.stdout.split())


def test_one_section_and_one_quantity_can_be_asked_for(store: str) -> None:
    done = soakage("trend", "Pump 3 motor", "--store", store, "--quantity", "polarization_index", "--json")
    assert {trend["quantity"] for trend in json.loads(done.stdout)["trends"]} == {"polarization_index"}
    gone = soakage("trend", "Pump 3 motor", "--store", store, "--section", "rotor")
    assert gone.returncode == 2
    assert "There are: U, V, W" in gone.stderr


def test_an_asset_is_never_found_by_the_beginning_of_its_name(store: str) -> None:
    done = soakage("trend", "Pump 3", "--store", store)
    assert done.returncode == 2
    assert "matched whole" in done.stderr


def test_the_work_list_holds_to_its_schema(store: str) -> None:
    done = soakage("due", "--by", "2100-01-01", "--store", store, "--json")
    told = json.loads(done.stdout)
    jsonschema.validate(told["due"], work_list_schema())
    assert [item["asset"] for item in told["due"]] == ["Pump 3 motor"]
    assert told["due"][0]["last"] == "2025-03-14"


def test_the_work_list_says_what_it_rests_on_and_defers(store: str) -> None:
    done = soakage("due", "--by", "2100-01-01", "--store", store)
    text = " ".join(done.stdout.split())
    assert "Common practice, no source" in text
    assert "licensed practice come first" in text
    early = soakage("due", "--by", "2019-01-01", "--store", store)
    assert "Nothing falls due up to 2019-01-01." in early.stdout


def test_an_absent_store_is_an_empty_one(tmp_path: Path) -> None:
    where = str(tmp_path / "absent.sqlite")
    assert json.loads(soakage("due", "--store", where, "--json").stdout)["due"] == []
    assert soakage("trend", "Pump 3 motor", "--store", where).returncode == 2
    assert not Path(where).exists()
