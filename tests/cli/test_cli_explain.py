"""``soakage``, ``explain`` and ``plan`` as a shell sees them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from running import record, soakage

PLAN = ("plan", "--class", "rotating-machine", "--winding", "form-wound", "--rated-voltage", "6.6 kV",
        "--insulation", "thermosetting", "--thermal-class", "F", "--year", "2004")  # fmt: skip
WORKED = ("--with", "insulation_resistance_60s=20 GOhm", "--with", "insulation_resistance_600s=150 GOhm")


def test_explain_works_a_formula_in_text_and_json() -> None:
    text = soakage("explain", "polarization_index", *WORKED).stdout
    for part in ("Polarization index", "R(600 s) / R(60 s)", "IEEE Std 43-2013", "secondary", "7.5"):
        assert part in text
    result = json.loads(soakage("explain", "polarization_index", *WORKED, "--json").stdout)
    assert {"id", "definition", "formula", "source", "verified", "example", "value", "unit", "inputs"} <= set(
        result
    )
    assert (result["value"], result["unit"]) == (7.5, "1")
    assert result["inputs"] == {"insulation_resistance_60s": 2e10, "insulation_resistance_600s": 1.5e11}


def test_explain_without_numbers_has_no_value() -> None:
    result = json.loads(soakage("explain", "polarization_index", "--json").stdout)
    assert {"id", "definition", "formula", "source", "verified", "example"} <= set(result)
    assert not {"value", "inputs"} & set(result)


def test_explain_gives_temperatures_in_kelvin_and_takes_pairs_without_the_option() -> None:
    given = ("ambient_temperature=25 degC", "relative_humidity=60 %")
    result = json.loads(soakage("explain", "dew_point", *given, "--json").stdout)
    assert result["unit"] == "K"
    assert result["value"] == pytest.approx(289.84, abs=0.01)  # M11 (derived): 16.69 degC
    assert result["inputs"]["ambient_temperature"] == pytest.approx(298.15)


def test_explain_alone_lists_and_a_slip_is_corrected() -> None:
    listed = soakage("explain").stdout.split()
    assert {"polarization_index", "ieee-43-2013.thermosetting", "step-voltage"} <= set(listed)
    slip = soakage("explain", "polarisation_index")
    assert slip.returncode == 2
    assert "polarization_index" in slip.stderr
    assert soakage("explain", "dew_point", "--with", "25 degC").returncode == 2


def test_explain_profile_prints_the_wording_of_reports(tmp_path: Path) -> None:
    (tmp_path / "works.toml").write_text(
        '[profile]\nid = "works"\ntitle = "Works rules"\ninclude = "default"\n[report]\n'
        'company = "Lowland works (invented)"\nheading = "Electrical maintenance"\n',
        encoding="utf-8",
    )
    text = soakage("explain", "profile", "--profile", "works.toml", folder=tmp_path).stdout
    assert "  * report company: Lowland works (invented)" in text
    assert "  * report heading: Electrical maintenance" in text
    assert "report company" not in soakage("explain", "profile").stdout


def test_explain_profile_marks_what_differs(tmp_path: Path) -> None:
    (tmp_path / "works.toml").write_text(
        '[profile]\nid = "works"\ntitle = "Works rules"\ninclude = "default"\n[demand]\nkeys = ["work_order"]\n'
        '[[leave_out]]\ncriterion = "practice.voltage-dependence"\nreason = "We fit instead."\n',
        encoding="utf-8",
    )
    text = soakage("explain", "profile", "--profile", "works.toml", folder=tmp_path).stdout
    assert "left out: practice.voltage-dependence. Reason: We fit instead." in " ".join(text.split())
    assert "demands: work_order" in text
    default = soakage("explain", "profile").stdout
    assert "  * " not in default, "the default differs from nothing"
    assert "ieee-43-2013.minimum-resistance" in default


def test_plan_names_methods_voltage_and_cautions() -> None:
    done = soakage(*PLAN)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    for part in ("Polarization index", "IEEE", "hazardous area: not stated", "Local codes"):
        assert part.lower() in text.lower()
    result = json.loads(soakage(*PLAN, "--json").stdout)
    assert {
        "methods",
        "test_voltage",
        "connections",
        "marks",
        "criteria",
        "earthing_time",
        "cautions",
    } <= set(result)
    assert 2500 <= result["test_voltage"]["value"] <= 5000


def test_no_plan_in_a_hazardous_area_without_its_certificate() -> None:
    done = soakage(*PLAN, "--hazardous-area", "yes")
    assert done.returncode == 2
    assert "certificate" in done.stdout + done.stderr
    with_it = soakage(*PLAN, "--hazardous-area", "yes", "--gas-free-certificate", "GF-7")
    assert with_it.returncode == 0


def test_plan_writes_a_sheet_that_reads_back(tmp_path: Path) -> None:
    done = soakage(*PLAN, "-o", "sheet.csv", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    sheets = sorted(tmp_path.glob("*.csv"))
    assert sheets
    assert all("# soakage = 1" in sheet.read_text(encoding="utf-8") for sheet in sheets)


def test_help_is_quick_and_names_every_command(tmp_path: Path) -> None:
    text = soakage("--help").stdout
    for command in ("plan", "judge", "report", "explain", "demo"):
        assert command in text
    assert "Local codes and licensed practice come first." in " ".join(text.split())
    assert soakage("judge", "--help").returncode == 0
    assert soakage("--version").stdout.strip()
    (tmp_path / "sound.csv").write_text(record(), encoding="utf-8")
    assert soakage("frobnicate").returncode == 2
    assert soakage("judge").returncode == 2


def test_help_loads_no_numbers() -> None:
    import subprocess
    import sys

    from running import SRC

    lines = (
        "import sys, soakage.cli as c", "try:", " c.group(['--help'])", "except SystemExit:", " pass",
        "print('numpy' in sys.modules)",
    )  # fmt: skip
    code = "\n".join(lines)
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        encoding="utf-8",
        check=True,
        env={"PYTHONPATH": str(SRC)},
    )
    assert done.stdout.splitlines()[-1] == "False"
