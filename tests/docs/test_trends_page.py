"""The page on trends: its example runs and prints what it says, its figures are those in force."""

from __future__ import annotations

import contextlib
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest

from soakage.standards.library import library

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "trends.md").read_text(encoding="utf-8")
VALIDATION = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
KEPT: dict[str, Any] = json.loads(
    (ROOT / "benchmarks" / "results" / "validate-trends.json").read_text(encoding="utf-8")
)


def test_the_example_prints_what_the_page_says() -> None:
    found = re.search(r"```python\n(.*?)```", PAGE, re.DOTALL)
    said = re.search(r"This prints `([^`]*)`", PAGE)
    assert found is not None
    assert said is not None
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(found[1], "docs/trends.md", "exec"), {})  # noqa: S102 - our own page
    assert out.getvalue().strip() == said[1]


@pytest.mark.parametrize(
    ("id_", "words"),
    (
        ("trends.fewest", "Five values"),
        ("trends.temperature-band", "within 5 K"),
        ("trends.horizon", "beyond 50 years"),
        ("trends.peer-fewest", "from ten peers on"),
        ("trends.peer-voltage-ratio", "within twice the rated voltage"),
        ("trends.peer-age", "ten years of age"),
        ("trends.interval-sound", "| sound | 3 years |"),
        ("trends.interval-watch", "| watch | 1 year |"),
        ("trends.suspect-scatter", "six scatters"),
        ("trends.suspect-factor", "factor of eight"),
    ),
)
def test_the_page_names_the_lines_in_force(id_: str, words: str) -> None:
    expected = {
        "trends.fewest": 5, "trends.temperature-band": 5, "trends.horizon": 50, "trends.peer-fewest": 10,
        "trends.peer-voltage-ratio": 2, "trends.peer-age": 10, "trends.interval-sound": 3,
        "trends.interval-watch": 1, "trends.suspect-scatter": 6, "trends.suspect-factor": 8,
    }  # fmt: skip
    assert library().thresholds[id_].value == expected[id_]
    assert words in re.sub(r"\s+", " ", PAGE)


def test_the_guidance_stands_on_the_page_with_its_status() -> None:
    text = re.sub(r"\s+", " ", PAGE)
    assert (
        "can not predict time to failure (IEC 60034-27-4:2018, introduction, as reported by others, not read)"
        in text
    )


@pytest.mark.parametrize("count", (5, 8, 10, 15, 25))
def test_the_figures_of_the_validation_are_those_kept(count: int) -> None:
    cell = next(c for c in KEPT["cells"] if (c["readings"], c["scatter"]) == (count, "normal"))
    row = next(line for line in VALIDATION.splitlines() if line.startswith(f"| {count}, normal |"))
    assert f"| {cell['interval_holds_percent']:g} % |" in row
    assert f"{cell['mann_kendall_found_percent']:g} %; {cell['mann_kendall_false_percent']:g} %" in row


def test_the_population_is_stated_with_what_was_kept() -> None:
    assert KEPT["series_per_cell"] == 4000
    assert "one test a year" in KEPT["population"]
    assert all(row["interval_holds_percent"] >= 94 for row in KEPT["reach"] if row["readings"] >= 8)
    assert all(row["interval_holds_percent"] >= 95 for row in KEPT["bounds"])
