"""``soakage plan --graded`` as a shell sees it: times, sheet, card, and the first hold's record."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from running import HEADER, record, soakage

NAMEPLATE = (
    "--class", "rotating-machine", "--winding", "form-wound", "--rated-voltage", "13.8 kV", "--insulation",
    "thermosetting", "--thermal-class", "F", "--year", "2004", "--neutral", "closed",
)  # fmt: skip
STEP = (*NAMEPLATE, "--test", "step-voltage")


def schedule(*more: str, folder: Path) -> dict[str, object]:
    done = soakage("plan", *STEP, *more, "--json", folder=folder)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)["schedule"]
    assert isinstance(found, dict)
    return found


def test_alone_it_rises_by_a_fifth(tmp_path: Path) -> None:
    assert len(schedule("--graded", folder=tmp_path)["steps"]) == 11  # type: ignore[arg-type]
    assert len(schedule("--graded", "10", folder=tmp_path)["steps"]) == 21  # type: ignore[arg-type]


def test_an_exponent_of_an_earlier_test_is_used(tmp_path: Path) -> None:
    found = schedule("--graded", "--absorption-exponent", "0.65", folder=tmp_path)
    assert found["absorption_exponent"] == 0.65
    assert found["exponent_source"] == "as stated"


def test_the_first_hold_plans_the_rest(tmp_path: Path) -> None:
    time = np.arange(5.0, 606.0, 5.0)
    current = 20 * (time / 60) ** -0.7 + 0.5
    noise = 1 + 0.002 * np.random.default_rng(1).standard_normal(time.size)
    rows = "".join(f"{t:g},9000,{i:.6g}\n" for t, i in zip(time, current * noise, strict=True))
    (tmp_path / "first.csv").write_text(HEADER + rows, encoding="utf-8")
    found = schedule("--first-hold", "first.csv", folder=tmp_path)
    assert found["absorption_exponent"] == pytest.approx(0.7, abs=0.03)
    steps = found["steps"]
    assert isinstance(steps, list)
    assert steps[0]["voltage"] == 9000.0
    assert steps[0]["hold"] == 605.0


@pytest.mark.parametrize(
    ("more", "words"),
    (
        (("--graded", "30"), "'10', '20'"), (("--first-hold", "nowhere.csv"), "nowhere.csv"),
        (("--first-hold", "few.csv"), "gives no exponent"),
    ),
)  # fmt: skip
def test_what_cannot_be_planned_is_said(tmp_path: Path, more: tuple[str, ...], words: str) -> None:
    (tmp_path / "few.csv").write_text(record(), encoding="utf-8")
    done = soakage("plan", *STEP, *more, folder=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_it_wants_a_step_test(tmp_path: Path) -> None:
    done = soakage("plan", *NAMEPLATE, "--graded", folder=tmp_path)
    assert done.returncode == 2
    assert "--test step-voltage" in done.stderr


def test_card_and_sheet_are_written_and_the_sheet_is_judged_when_filled_in(tmp_path: Path) -> None:
    done = soakage("plan", *STEP, "--graded", "-o", "card.pdf", "-o", "sheet.csv", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    (sheet,) = tmp_path.glob("sheet*step-voltage.csv")
    steps = schedule("--graded", folder=tmp_path)["steps"]
    assert isinstance(steps, list)
    filled = []
    for line in sheet.read_text(encoding="utf-8").splitlines():
        at = line.split(",")[0]
        step = next((s for s in steps if f"{s['end']:g}" == at), None)
        filled.append(f"{at},{step['voltage']},{step['voltage'] / 5e3:.6f}," if step else line)
    sheet.write_text("\n".join(filled) + "\n", encoding="utf-8")
    done = soakage("judge", sheet.name, "--json", folder=tmp_path)
    assert done.stdout, done.stderr
    assert "Traceback" not in done.stderr
    (found,) = json.loads(done.stdout)["schedule"]
    assert found["absorption_exponent"] == pytest.approx(0.8, abs=0.02)
    assert found["line"]["straight"]
