"""Reading in a process of its own: what dies, is slow or needs too much costs only its own task."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from soakage.demo.make import demo_files
from soakage.errors import Fault, InputError, SoakageError
from soakage.importers.reading import read_bytes
from soakage.wiring.apart import Apart, Limits, LostError
from soakage.wiring.uploads import looked_at, records_of, tried

TABLE = (
    "Date;Asset;Class;R 60 s (MΩ);R 600 s (MΩ);Temp (°C)\n"
    "03.04.2025;Pump 1;rotating-machine;120,5;400;21\n14.04.2025;Pump 2;rotating-machine;90;95;22\n"
)


def double(value: int) -> int:
    return 2 * value


def wait(seconds: float) -> str:
    time.sleep(seconds)
    return "awake"


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def eat(megabytes: int) -> int:
    return len(bytearray(megabytes << 20))


def refuse(name: str) -> None:
    raise InputError([Fault(name, 3, "started", "x", "No date.", "2026-03-14", "Write it so.")])


def complain() -> None:
    raise SoakageError("It will not.")


def stumble() -> None:
    raise ZeroDivisionError


def whoami() -> int:
    return os.getpid()


@pytest.fixture(scope="module")
def apart() -> Apart:
    return Apart(Limits(seconds=20))


def test_tasks_are_done_one_after_another_in_one_other_process(apart: Apart) -> None:
    assert apart.ask(double, 21) == 42
    first = apart.ask(whoami)
    assert first != os.getpid()
    assert apart.ask(whoami) == first


def test_a_process_that_dies_costs_only_its_task(apart: Apart) -> None:
    before = apart.ask(whoami)
    with pytest.raises(LostError, match="ended by itself"):
        apart.ask(die)
    assert apart.ask(whoami) != before
    assert apart.ask(double, 4) == 8


def test_what_takes_too_long_is_stopped() -> None:
    with Apart(Limits(seconds=3)) as slow:
        assert slow.ask(double, 1) == 2
        begun = time.monotonic()
        with pytest.raises(LostError, match=r"longer than 3"):
            slow.ask(wait, 60)
        assert time.monotonic() - begun < 30


def test_what_needs_too_much_memory_is_stopped_where_the_system_bounds_it() -> None:
    bounded = Path("/proc/self/statm").is_file()
    with Apart(Limits(memory=64 << 20)) as small:
        assert small.ask(eat, 8) == 8 << 20
        if bounded:
            with pytest.raises(LostError, match="64\u00a0MiB of memory"):
                small.ask(eat, 512)
        assert small.ask(double, 3) == 6


def test_faults_and_problems_arrive_as_they_were_raised(apart: Apart) -> None:
    with pytest.raises(InputError) as refused:
        apart.ask(refuse, "a.csv")
    assert [(one.file, one.row, one.field, one.remedy) for one in refused.value.faults] == [
        ("a.csv", 3, "started", "Write it so.")
    ]
    with pytest.raises(SoakageError, match=r"It will not\."):
        apart.ask(complain)


def test_a_fault_of_our_own_is_said_so_and_goes_no_further(apart: Apart) -> None:
    with pytest.raises(LostError, match="ZeroDivisionError"):
        apart.ask(stumble)
    assert apart.ask(double, 2) == 4


def test_whoever_cancels_need_not_wait(apart: Apart) -> None:
    class StoppedError(Exception):
        pass

    def stop() -> None:
        raise StoppedError

    begun = time.monotonic()
    with pytest.raises(StoppedError):
        apart.ask(wait, 60, meanwhile=stop)
    assert time.monotonic() - begun < 15


def test_the_process_ends_with_the_block() -> None:
    with Apart() as one:
        number = one.ask(whoami)
    assert sys.platform != "linux" or not Path(f"/proc/{number}").exists()


@pytest.mark.parametrize("name", sorted(demo_files())[:3])
def test_a_record_file_comes_back_as_if_it_were_read_here(apart: Apart, tmp_path: Path, name: str) -> None:
    text = demo_files()[name]
    path = tmp_path / "0001"
    path.write_text(text, encoding="utf-8")
    assert apart.ask(records_of, path, name, None, {}) == read_bytes(text.encode(), name)


CASES = {
    "record.csv": (next(iter(demo_files().values())).encode(), "record file", 1, False),
    "schedule.csv": (demo_files()["board-2-l1.csv"].encode(), "record file", 1, False),
    "table.csv": (TABLE.encode(), "table", 0, True),
    "noise.bin": (bytes(range(256)) * 8, "not readable", 0, False),
    "empty.csv": (b"", "not readable", 0, False),
    "words.csv": (b"nothing,here\nis,known\n", "not readable", 0, False),
    "broken.json": (b"{", "records in JSON", 0, False),
    "broken.parquet": (b"PAR1", "records in Parquet", 0, False),
    "bomb.xlsx": (b"PK\x03\x04" + b"\0" * 200, "not readable", 0, False),
}


@pytest.mark.parametrize("name", CASES)
def test_what_a_file_is(tmp_path: Path, name: str) -> None:
    data, kind, records, table = CASES[name]
    path = tmp_path / "0001"
    path.write_bytes(data)
    found = looked_at(path, name)
    assert (found.kind, found.is_table) == (kind, table)
    assert found.records == records or kind == "record file"
    assert bool(found.faults) == (kind not in ("record file", "table")), found


def test_a_table_is_tried_by_its_recipe(tmp_path: Path) -> None:
    path = tmp_path / "0001"
    path.write_text(TABLE, encoding="utf-8")
    found = looked_at(path, "table.csv")
    assert found.guess is not None
    told = tried(found.guess.recipe, path, "table.csv", 1)
    assert (told["count"], len(told["records"]), told["faults"]) == (2, 1, [])
    assert told["records"][0]["readings"][0]["resistance"] == pytest.approx(120.5e6)


def test_a_kept_recipe_is_known_by_its_columns(tmp_path: Path) -> None:
    from soakage.importers.recipe_file import recipe_text

    path = tmp_path / "0001"
    path.write_text(TABLE, encoding="utf-8")
    made = looked_at(path, "table.csv").guess
    assert made is not None
    text = recipe_text(made.recipe)
    assert looked_at(path, "other.csv", [("broken", "no toml ["), ("Pumps", text)]).recipe == "Pumps"
    path.write_text(TABLE.replace("Class", "Site"), encoding="utf-8")
    assert looked_at(path, "other.csv", [("Pumps", text)]).recipe == ""
