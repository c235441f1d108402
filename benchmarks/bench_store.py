"""The store: thousands of record files imported, judged and kept; one asset's page out of a large store.

The import is held against a script with pandas that computes the same quantities and stores them and the readings,
on the same engine, in the same run and in turn. Run by run.py, or alone: ``--smoke`` for a tiny run that keeps nothing.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any
from uuid import uuid4

import bench_large_store
import bench_script
from bench_measure import load, machine, ratios, spread
from bench_records import write_records

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "src")]

ENGINES = ("sqlite", "postgresql")
NewAddress = Callable[[], str]
PAGES = 30  # pages looked at in each store
FLAT = 2.0  # how many times as long a page may take in a store a hundred times as large


def run(*, smoke: bool) -> None:
    """Measure, print, and keep figures and plot."""
    before = load()
    with tempfile.TemporaryDirectory() as name:
        results = measured(Path(name), smoke=smoke)
    about = {"machine": machine(), "load": {"before": before, "after": load()}}
    results = {"made": datetime.now(UTC).isoformat(timespec="seconds"), **about, **results}
    show(results)
    if not smoke:
        kept = HERE / "results"
        kept.mkdir(exist_ok=True)
        (kept / "store.json").write_text(json.dumps(results, indent=1) + "\n", encoding="utf-8")
        draw(results, kept / "store.svg")


def measured(folder: Path, *, smoke: bool) -> dict[str, Any]:
    """Take every figure, on both engines.

    Parameters
    ----------
    folder : Path
        An empty folder for files and stores.
    smoke : bool
        A tiny run, on SQLite alone.

    Returns
    -------
    dict
        Figures in seconds by engine.
    """
    count, sizes = (12, (2, 4)) if smoke else (10_000, (250, 2_500, 25_000))
    paths = write_records(folder, count, 600)
    found: dict[str, Any] = {}
    for engine in ENGINES[:1] if smoke else ENGINES:
        with addresses(engine, folder) as new_address:
            found[engine] = {
                "import": imports(paths, new_address, 1 if smoke else 2),
                "page": pages(new_address(), sizes),
            }
    return {
        "files": count,
        "readings_each": 600,
        "tests_of_an_asset": bench_large_store.TESTS,
        "engines": found,
    }


@contextmanager
def addresses(engine: str, folder: Path) -> Iterator[NewAddress]:
    """Give what makes the address of a fresh store at each call."""
    if engine == "sqlite":
        yield lambda: str(folder / f"{uuid4().hex}.sqlite")
        return
    import psycopg
    from sqlalchemy import make_url

    from tools import postgres

    with postgres.address() as server:

        def new() -> str:
            name = f"bench_{uuid4().hex}"
            with closing(psycopg.connect(server.replace("+psycopg", "", 1), autocommit=True)) as connection:
                connection.execute(f"CREATE DATABASE {name}".encode())
            return make_url(server).set(database=name).render_as_string(hide_password=False)

        yield new


def imports(paths: list[Path], new_address: NewAddress, repeats: int) -> dict[str, Any]:
    """Measure the import of files, ours and the script's in turn, and how ours goes with their number."""
    courses: list[list[tuple[int, float]]] = []
    taken: dict[str, list[float]] = {"ours": [], "script": []}
    few = paths[:20]
    ours(few, new_address())  # both have loaded what they need before the clock runs
    script(few, new_address())
    for _ in range(repeats):
        began = time.perf_counter()
        courses.append(ours(paths, new_address()))
        between = time.perf_counter()
        script(paths, new_address())
        taken["ours"].append(between - began)
        taken["script"].append(time.perf_counter() - between)
    return {
        "ours_s": spread(taken["ours"]),
        "script_s": spread(taken["script"]),
        "script_over_ours": ratios(taken["script"], taken["ours"]),
        "ours_files_per_s": len(paths) / spread(taken["ours"])["median"],
        "course": courses[-1],
    }


def ours(paths: list[Path], address: str) -> list[tuple[int, float]]:
    """Import files; return how many were on the disk after how many seconds."""
    from soakage.wiring import rules
    from soakage.wiring.memory import memory
    from soakage.wiring.taking import import_files

    course: list[tuple[int, float]] = []
    hands = memory(address, "bench")
    began = time.perf_counter()
    with hands.store:
        done = import_files(
            hands, [str(path) for path in paths], rules(),
            kept=lambda number: course.append((number, time.perf_counter() - began)),
        )  # fmt: skip
    if done.count("added") != len(paths):
        raise RuntimeError(f"{done.count('added')} of {len(paths)} files were taken in")
    return course


def script(paths: list[Path], address: str) -> None:
    """Do what an engineer would: quantities by pandas and scipy, results and readings into two tables."""
    import pandas as pd
    from sqlalchemy import create_engine

    engine = create_engine(address if "://" in address else f"sqlite:///{address}")
    for start in range(0, len(paths), 200):
        part = paths[start : start + 200]
        results, readings = [], []
        for path in part:
            one = bench_script.quantities(path)
            header, resistance = one.pop("header"), one.pop("resistance")
            results.append(
                header | one | {f"resistance_{mark}s": value for mark, value in resistance.items()}
            )
            readings.append(pd.read_csv(path, comment="#").assign(file=str(path)))
        pd.DataFrame(results).to_sql("test", engine, if_exists="append", index=False)
        pd.concat(readings).to_sql("reading", engine, if_exists="append", index=False)
    engine.dispose()


def pages(address: str, sizes: tuple[int, ...]) -> list[dict[str, Any]]:
    """Measure an asset's page of data in a store that grows to so many assets."""
    from soakage.wiring.memory import memory

    hands = memory(address, "bench")
    found = []
    with hands.store:
        rows = bench_large_store.template(hands)
        own = str(rows["asset"][0]["id"])
        there = 1
        for size in sizes:
            began = time.perf_counter()
            bench_large_store.fill(hands, rows, there, size)
            filled = time.perf_counter() - began
            there = size
            _settle(address)
            numbers = [1 + (place * 7919) % (size - 1) for place in range(PAGES)]
            first = [page(hands, bench_large_store.other_id(own, number)) for number in numbers]
            again = [page(hands, bench_large_store.other_id(own, number)) for number in numbers]
            found.append(
                {"assets": size, "tests": size * bench_large_store.TESTS, "filled_s": filled, "first_s": spread(first),
                 "again_s": spread(again)}
            )  # fmt: skip
    return found


def page(hands: Any, asset: str) -> float:  # noqa: ANN401 - a store in somebody's hands
    """Return the seconds that the data of an asset's page take."""
    from soakage.store.pages import asset_page

    began = time.perf_counter()
    with hands.store.reading() as connection:
        data = asset_page(connection, asset)
    seconds = time.perf_counter() - began
    if len(data["tests"]) != bench_large_store.TESTS or not data["tests"][0]["figures"]:
        raise RuntimeError(f"{asset}: the page is not whole")
    return seconds


def _settle(address: str) -> None:
    """Let the database count its rows, as it does by itself in time."""
    if "://" not in address:
        with closing(sqlite3.connect(address)) as connection:
            connection.execute("pragma wal_checkpoint(truncate)")
            connection.execute("pragma optimize")
        return
    import psycopg

    with closing(psycopg.connect(address.replace("+psycopg", "", 1), autocommit=True)) as connection:
        connection.execute("analyze")


def show(results: dict[str, Any]) -> None:
    """Print the figures, each goal with whether it was met."""
    for engine, found in results["engines"].items():
        taken = found["import"]
        print(f"\n{engine}: {results['files']:,} files of {results['readings_each']} readings")
        for side in ("ours", "script"):
            print(f"  import, {side:<8} [s] {taken[f'{side}_s']['median']:10.1f}")
        print(f"  script over ours     {taken['script_over_ours']['median']:10.2f}")
        print(f"  files per second     {taken['ours_files_per_s']:10.0f}")
        for row in found["page"]:
            first, again = row["first_s"]["median"] * 1e3, row["again_s"]["median"] * 1e3
            print(f"  a page of {row['tests']:>9,} tests [ms] {first:8.1f} first, {again:8.1f} again")
        print(f"  goal: linear import: {_met(yes=linear(taken['course']))}")
        print(f"  goal: flat page: {_met(yes=flat(found['page']))}")


def linear(course: list[tuple[int, float]]) -> bool:
    """Whether the last tenth of the files took at most half as long again as the usual tenth."""
    if len(course) < 20:
        return True
    step = len(course) // 10
    ends = [0.0, *(seconds for _, seconds in course[step - 1 :: step])]
    tenths = [later - sooner for sooner, later in pairwise(ends)]
    return tenths[-1] <= 1.5 * median(tenths)


def flat(found: list[dict[str, Any]]) -> bool:
    """Whether a page of the largest store takes no more than twice that of the smallest."""
    least, most = found[0]["again_s"]["median"], found[-1]["again_s"]["median"]
    return bool(most <= FLAT * least)


def _met(*, yes: bool) -> str:
    return "met" if yes else "NOT met"


def draw(results: dict[str, Any], path: Path) -> None:
    """Draw cost against size, both engines: an SVG."""
    import vl_convert

    page_rows = [
        {"engine": engine, "tests": row["tests"], "ms": row["again_s"]["median"] * 1e3}
        for engine, found in results["engines"].items()
        for row in found["page"]
    ]
    course = [
        {"engine": engine, "files": files, "seconds": seconds}
        for engine, found in results["engines"].items()
        for files, seconds in found["import"]["course"]
    ]
    colour = {"field": "engine", "type": "nominal", "scale": {"range": ["#1f5f8b", "#b3541e"]}}
    left = {
        "data": {"values": page_rows}, "mark": {"type": "line", "point": True}, "width": 300, "height": 220,
        "title": "An asset's page of 40 tests",
        "encoding": {
            "x": {"field": "tests", "type": "quantitative", "scale": {"type": "log"}, "title": "tests in the store"},
            "y": {"field": "ms", "type": "quantitative", "title": "milliseconds"},
            "color": colour,
        },
    }  # fmt: skip
    right = {
        "data": {"values": course}, "mark": "line", "width": 300, "height": 220,
        "title": "Import of files of 600 readings",
        "encoding": {
            "x": {"field": "files", "type": "quantitative", "title": "files on the disk"},
            "y": {"field": "seconds", "type": "quantitative", "title": "seconds"},
            "color": colour,
        },
    }  # fmt: skip
    drawn = vl_convert.vegalite_to_svg(json.dumps({"hconcat": [left, right], "background": "white"}))
    path.write_text(drawn, encoding="utf-8")


if __name__ == "__main__":
    run(smoke="--smoke" in sys.argv[1:])
