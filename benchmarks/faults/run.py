"""Kill works at random moments: ``python benchmarks/faults/run.py [--kills N] [--engine E] [--work W] [--seed S]``.

It goes on where it stopped: each kill is one line of the results, and what is there already is not done again.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

os.environ.setdefault(
    "OMP_NUM_THREADS", "1"
)  # a process with threads of a library is no good parent for a fork
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT), str(ROOT / "benchmarks")]

from faults import works  # noqa: E402
from faults.campaign import Campaign  # noqa: E402
from faults.grounds import Grounds, grounds  # noqa: E402
from faults.summary import lines_of, summary, table  # noqa: E402
from faults.works import WORKS  # noqa: E402

ENGINES = ("sqlite", "postgresql")
FEW, SMALL = 20, 6  # up to so many kills: works of so many files, their length measured once
RESULTS = ROOT / "benchmarks" / "results" / "faults.jsonl"


def main() -> int:
    """Run the campaign; the status is 1 where anything was lost, half-written or in need of repair."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000, help="of each work on each engine; 0 only sums up")
    parser.add_argument("--engine", choices=(*ENGINES, "both"), default="both")
    parser.add_argument("--work", choices=(*WORKS, "all"), default="all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--results", type=Path, default=RESULTS, help="file of the results, added to")
    given = parser.parse_args()
    works.FILES = SMALL if given.kills <= FEW else works.FILES
    for engine in ENGINES if given.engine == "both" else (given.engine,):
        names = [
            name
            for name in (WORKS if given.work == "all" else (given.work,))
            if len(noted(given.results, name, engine, given.seed)) < given.kills
        ]
        if names:
            folder = Path(tempfile.mkdtemp(prefix="soakage-faults-"))
            with grounds(engine, folder) as where:
                for name in names:
                    run(name, where, given.kills, given.seed, given.results)
            if not any(folder.iterdir()):
                folder.rmdir()  # else there is something in it to look into
    rows = summary(line for line in lines_of(given.results) if line["seed"] == given.seed)
    print(table(rows))
    return int(any(row["lost"] or row["half-written"] or row["repairs"] for row in rows))


def noted(results: Path, work: str, engine: str, seed: int) -> list[dict[str, Any]]:
    """Return the kills that are noted already."""
    wanted = (work, engine, seed)
    return [line for line in lines_of(results) if (line["work"], line["engine"], line["seed"]) == wanted]


def run(work: str, where: Grounds, kills: int, seed: int, results: Path) -> None:
    """Kill one work on one engine until it was killed so often.

    Parameters
    ----------
    work : str
        Which.
    where : Grounds
        Of the engine.
    kills : int
        How often, those of earlier runs included.
    seed : int
        Of the moments.
    results : Path
        Where each kill is noted when its trial is through.
    """
    before = noted(results, work, where.engine, seed)
    done, number = len(before), max((line["trial"] for line in before), default=0)
    campaign = Campaign(WORKS[work], where, seed, measured=1 if kills <= FEW else 3)
    while done < kills:
        number += 1
        lines = campaign.trial(number)
        done += len(lines)
        note(results, lines)
        if sys.stderr.isatty():
            print(f"\r{work}, {where.engine}: {done} kills", end="", file=sys.stderr)
        for line in lines:
            for problem in (*line["lost"], *line["half"], *line["repair"]):
                print(f"{work}, {where.engine}, trial {number}: {problem}", file=sys.stderr)
    campaign.close()


def note(results: Path, lines: list[dict[str, object]]) -> None:
    """Add lines to the results, all of a trial at once."""
    with results.open("a", encoding="utf-8") as file:
        file.write("".join(json.dumps(line) + "\n" for line in lines))
        file.flush()
        os.fsync(file.fileno())


if __name__ == "__main__":
    sys.exit(main())
