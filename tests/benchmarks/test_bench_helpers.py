"""What benchmarks are made of: the same records every time, fair turns, causes named more often than by luck."""

from __future__ import annotations

import importlib.util
import json
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from soakage.app.evaluate import evaluate
from soakage.importers.reading import read_files
from soakage.standards.causes import causes

FOLDER = Path(__file__).parents[2] / "benchmarks"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"of_benchmarks_{name}", FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


MEASURE, RECORDS, CAUSES = (load(name) for name in ("bench_measure", "bench_records", "validate_causes"))
EACH = 5


@pytest.fixture(scope="module")
def table() -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = CAUSES.confusion(EACH, seed=7)
    return found


# ----------------------------------------------------------------------------------------------- causes
def test_the_population_hides_every_cause_that_ships(table: dict[str, Counter[str]]) -> None:
    assert set(CAUSES.POPULATION) == {cause.id for cause in causes()}
    assert set(table) == set(CAUSES.POPULATION)
    assert all(sum(counts.values()) == EACH for counts in table.values())


def test_the_hidden_cause_is_named_first_four_times_in_five(table: dict[str, Counter[str]]) -> None:
    """The goal is 80 % over the whole population; a small one is allowed 70 %."""
    right = sum(counts[hidden] for hidden, counts in table.items())
    assert right / (EACH * len(table)) >= 0.7


@pytest.mark.parametrize(
    "hidden",
    ("condensation", "voltage-dependent-defect", "residual-charge", "instrument-limit", "weak-layer"),
)
def test_what_has_a_sign_of_its_own_is_hardly_mistaken(hidden: str, table: dict[str, Counter[str]]) -> None:
    assert table[hidden][hidden] >= EACH - 1, dict(table[hidden])


def test_a_mistake_stays_among_neighbours(table: dict[str, Counter[str]]) -> None:
    """Moisture is taken for dirt at worst; nothing in the insulation is taken for the instrument."""
    insulation = {"surface-moisture", "condensation", "bulk-moisture", "contamination"}
    for hidden in insulation:
        assert not {"instrument-limit", "residual-charge", "embrittlement"} & set(table[hidden]), hidden


def test_the_same_seed_gives_the_same_table(table: dict[str, Counter[str]]) -> None:
    del table
    first, second = (CAUSES.confusion(1, seed=3) for _ in range(2))
    assert first == second


@pytest.mark.parametrize("hidden", sorted(CAUSES.POPULATION))
def test_a_simulated_visit_is_a_plausible_one(hidden: str) -> None:
    records, place = CAUSES.POPULATION[hidden](np.random.default_rng(11))
    assert 0 <= place < len(records)
    for record in records:
        assert (np.diff(record.readings.time) > 0).all()
        assert record.asset.rated_voltage
        assert record.test.test_voltage
        assert record.test.test_voltage <= 2.2 * record.asset.rated_voltage
    seen = evaluate(records).records[place]
    for ranked in seen.causes:
        assert ranked.weight >= 2.0
        assert ranked.pro


def test_kept_results_are_those_of_the_goal() -> None:
    kept = json.loads((FOLDER / "results" / "validate-causes.json").read_text(encoding="utf-8"))
    right = sum(counts.get(hidden, 0) for hidden, counts in kept["table"].items())
    assert kept["share"] == pytest.approx(right / (kept["each"] * len(kept["table"])))
    assert set(kept["table"]) == {cause.id for cause in causes()}
    assert kept["share"] >= 0.8


# ---------------------------------------------------------------------------------------------- records
def test_bench_records_are_the_same_every_time_and_readable(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    first = RECORDS.write_records(tmp_path / "a", 3, 60)
    second = RECORDS.write_records(tmp_path / "b", 3, 60)
    assert [p.read_bytes() for p in first] == [p.read_bytes() for p in second]
    assert len({p.read_bytes() for p in first}) == 3
    read = read_files(first)
    assert read.errors == ()
    assert [len(r.readings) for r in read.records] == [60, 60, 60]
    assert all(r.asset.title.startswith("Bench winding") for r in read.records)
    for entry in evaluate(read.records).records:
        assert "polarization_index" in entry.quantities


@pytest.mark.parametrize(("count", "rows"), ((1, 10), (2, 600), (0, 60)))
def test_as_many_as_asked_for(count: int, rows: int, tmp_path: Path) -> None:
    paths = RECORDS.write_records(tmp_path, count, rows)
    assert len(paths) == count == len(list(tmp_path.iterdir()))
    for path in paths:
        assert len(path.read_text(encoding="utf-8").splitlines()) == RECORDS._HEADER.count("\n") + rows


# -------------------------------------------------------------------------------------------- measuring
@pytest.mark.parametrize(
    ("seconds", "median", "least", "most"),
    (((1.0,), 1.0, 1.0, 1.0), ((3.0, 1.0, 2.0), 2.0, 1.0, 3.0), ((4.0, 1.0, 2.0, 3.0), 2.5, 1.0, 4.0)),
)
def test_the_spread_of_repeats(seconds: tuple[float, ...], median: float, least: float, most: float) -> None:
    assert MEASURE.spread(seconds) == {"median": median, "least": least, "most": most}


def test_ratios_are_of_neighbours_not_of_medians() -> None:
    assert MEASURE.ratios([2.0, 8.0, 3.0], [1.0, 2.0, 3.0]) == {"median": 2.0, "least": 1.0, "most": 4.0}


def test_sides_run_in_turn_after_one_unmeasured_run() -> None:
    order: list[str] = []
    taken = MEASURE.in_turn({"a": lambda: order.append("a"), "b": lambda: order.append("b")}, 3)
    assert order == ["a", "b"] * 4
    assert {name: len(seconds) for name, seconds in taken.items()} == {"a": 3, "b": 3}
    assert all(second >= 0 for seconds in taken.values() for second in seconds)


def test_a_child_that_fails_is_named() -> None:
    assert MEASURE.child(["-c", "print(6 * 7)"]).strip() == "42"
    with pytest.raises(RuntimeError, match=r"(?s)ended with 3.*why"):
        MEASURE.child(["-c", "import sys; print('why', file=sys.stderr); sys.exit(3)"])
    assert MEASURE.child(["-c", "import sys; sys.exit(1)"], allowed=(0, 1)) == ""


def test_the_machine_is_told_without_a_name_of_a_person_or_a_place() -> None:
    told = MEASURE.machine()
    assert set(told) == {"system", "processor", "cores", "python", "packages"}
    assert told["packages"]["numpy"] == np.__version__
    assert "/" not in json.dumps(told["packages"])
    assert str(Path.home()) not in json.dumps(told)
    assert MEASURE._version("no-such-package-anywhere") == "not installed"


def test_children_find_this_checkout_first() -> None:
    first = MEASURE.environment()["PYTHONPATH"].split(":")[0]
    assert (Path(first) / "soakage" / "__init__.py").is_file()
