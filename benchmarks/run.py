"""Benchmarks: ``python3 go.py bench``, or this file with ``--smoke`` for a tiny run that keeps no result.

Judging is held against a script with pandas and scipy for the same quantities, in the same run and in turn; then
the store is (bench_store.py).
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import bench_ours
import bench_script
import bench_store
from bench_measure import child, in_turn, load, machine, peak_memory, ratios, spread
from bench_records import write_records

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "src"))

GOALS = {
    "judging, seconds of the script over ours": "at least 1",
    "peak memory, 1,000 records": "below 300 MB",
}
_MEMORY_GOAL = 300e6
# Ours and the script's must be the same quantity; three-point values interpolate differently between readings.
_SAME = {
    "polarization_index": 1e-9,
    "dielectric_absorption_ratio": 1e-9,
    "absorption_ratio_60_15": 1e-9,
    "insulation_resistance_60s_corrected": 1e-9,
    "conduction_current": 2e-2,
}


def main() -> int:
    """Run all; print a table and write the results."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="a tiny run; nothing is written")
    smoke = parser.parse_args().smoke
    count, rows, repeats = (8, 600, 1) if smoke else (1000, 600, 7)
    before = load()
    with tempfile.TemporaryDirectory() as name:
        results = measured(Path(name), count, rows, repeats, smoke=smoke)
    results = {
        "made": datetime.now(UTC).isoformat(timespec="seconds"),
        "records": count,
        "readings_each": rows,
        "repeats": repeats,
        "machine": machine(),
        "load": {"before": before, "after": load()},
        "goals": GOALS,
        **results,
    }
    show(results)
    if not smoke:
        path = HERE / "results" / f"{results['made'][:10]}.json"
        path.parent.mkdir(exist_ok=True)
        path.write_text(json.dumps(results, indent=1) + "\n", encoding="utf-8")
        print(f"\nWritten to {path.relative_to(HERE.parent)}")
    bench_store.run(smoke=smoke)
    return 0


def measured(folder: Path, count: int, rows: int, repeats: int, *, smoke: bool) -> dict[str, Any]:
    """Take every figure.

    Parameters
    ----------
    folder : Path
        An empty folder for the files.
    count, rows, repeats : int
        Records, readings in each, repeats of each measurement.
    smoke : bool
        Leave out what is slow to start.

    Returns
    -------
    dict
        Figures in seconds and bytes.
    """
    paths = write_records(folder, count, rows)
    agree(bench_ours.judged(paths), bench_script.judged(paths))
    taken = in_turn(
        {"ours": lambda: bench_ours.judged(paths), "script": lambda: bench_script.judged(paths)}, repeats
    )
    results: dict[str, Any] = {
        "judging": {
            "ours_s": spread(taken["ours"]),
            "script_s": spread(taken["script"]),
            "script_over_ours": ratios(taken["script"], taken["ours"]),
            "ours_records_per_s": count / spread(taken["ours"])["median"],
        },
        "peak_memory_bytes": {"ours": peak_memory("bench_ours", folder)},
        "reports": reports(paths[: 2 if smoke else 25], 1 if smoke else 5),
    }
    if not smoke:
        results["peak_memory_bytes"]["script"] = peak_memory("bench_script", folder)
        results["start_up"] = start_up(paths[0], repeats)
    return results


def agree(ours: str, script: str) -> None:
    """Check that both sides computed the same quantities of the same files.

    Raises
    ------
    RuntimeError
        If one differs.
    """
    for mine, other in zip(json.loads(ours)["records"], json.loads(script), strict=True):
        for name, tolerance in _SAME.items():
            found = mine["quantities"].get(name)
            if found is None and name == "conduction_current":
                continue  # refused: the readings are no decaying power law; the script prints a number all the same
            difference = abs(found["value"] / other[name] - 1)
            if not difference <= tolerance:
                raise RuntimeError(
                    f"{other['file']}: {name} is {found['value']!r} here, {other[name]!r} there"
                )


def reports(paths: list[Path], repeats: int) -> dict[str, Any]:
    """Measure reports as PDF: one record each, and all in one."""
    from soakage.report.pdf import report_pdf
    from soakage.wiring import judge_files, rules

    single = [judge_files([path], {}, rules()) for path in paths]
    whole = judge_files(paths, {}, rules())
    taken = in_turn(
        {"each": lambda: [report_pdf(one) for one in single], "all": lambda: report_pdf(whole)}, repeats
    )
    return {
        "records": len(paths),
        "single_reports_per_s": len(paths) / spread(taken["each"])["median"],
        "one_report_of_all_s": spread(taken["all"]),
    }


def start_up(record: Path, repeats: int) -> dict[str, Any]:
    """Measure fresh processes from start to end against one that does nothing."""
    begin = "import sys; from soakage.cli import main; sys.argv = ['soakage'"
    sides = {
        "nothing": ["-c", "pass"],
        "help": ["-c", f"{begin}, '--help']; main()"],
        "judge_one": ["-c", f"{begin}, 'judge', {str(record)!r}]; main()"],
    }
    taken = in_turn(
        {name: lambda words=words: child(words, (0, 1, 2)) for name, words in sides.items()},  # type: ignore[misc]
        repeats,
    )
    return {f"{name}_s": spread(seconds) for name, seconds in taken.items()}


def show(results: dict[str, Any]) -> None:
    """Print the figures as a table, each goal with whether it was met."""
    judging, memory = results["judging"], results["peak_memory_bytes"]
    about = results["machine"]
    print(
        f"{results['records']:,} records of {results['readings_each']} readings, {results['repeats']} repeats; "
        f"{about['processor']}, {about['cores']} cores, Python {about['python']}"
    )
    print(f"{'':34}{'median':>10}{'least':>10}{'most':>10}")
    _row("judging, ours [s]", judging["ours_s"])
    _row("judging, script [s]", judging["script_s"])
    _row("script over ours", judging["script_over_ours"])
    print(f"{'judging, ours [records/s]':34}{judging['ours_records_per_s']:10.0f}")
    for side, size in memory.items():
        print(f"{f'peak memory, {side} [MB]':34}{size / 1e6:10.0f}")
    print(f"{'reports of one record [1/s]':34}{results['reports']['single_reports_per_s']:10.1f}")
    _row(f"one report of {results['reports']['records']} [s]", results["reports"]["one_report_of_all_s"])
    for name, seconds in results.get("start_up", {}).items():
        _row(f"fresh process, {name.removesuffix('_s').replace('_', ' ')} [s]", seconds)
    busy = max((value for value in results["load"].values() if value is not None), default=0.0)
    if busy > 1.5:
        print(f"Other work ran beside this (load {busy:.1f}): the figures are those of a busy machine.")
    if results["records"] < 1000:
        print("A tiny run: no goal is held against it.")
        return
    ratio = judging["script_over_ours"]["median"]
    print(f"goal: no slower than the script: {_met(yes=ratio >= 1)} ({ratio:.2f})")
    print(f"goal: below 300 MB: {_met(yes=memory['ours'] < _MEMORY_GOAL)} ({memory['ours'] / 1e6:.0f} MB)")


def _row(name: str, figures: dict[str, float]) -> None:
    print(f"{name:34}" + "".join(f"{figures[key]:10.3f}" for key in ("median", "least", "most")))


def _met(*, yes: bool) -> str:
    return "met" if yes else "NOT met"


if __name__ == "__main__":
    sys.exit(main())
