"""Several at once, in processes and threads, on both engines: nothing lost, no fork, readers see one state."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from threading import Event

from sqlalchemy import func, select

from soakage.store import schema
from soakage.store.address import address
from soakage.store.checking import checked
from soakage.store.store import Store
from soakage.store.trail import entries
from trusting import PERSON

COUNTER = "c" * 32
WRITERS, TIMES = 3, 20


def count_up(place: str, name: str) -> list[str]:
    """Read a number, write one more, many times; return the hashes that were acknowledged."""
    acknowledged = []
    with Store(address(place)) as store:
        for step in range(TIMES):
            with store.writing(name) as writer:
                now = writer.folded("asset", COUNTER).values.get("year", 0)
                made = writer.add(
                    "asset", COUNTER, "stated", {"set": {"year": now + 1}, "was": {"year": now}}
                )
                writer.state("asset", f"{name}-{step}", {"asset": name, "year": step})
            acknowledged.append(made.hash)
    return acknowledged


def held(place: str, acknowledged: list[str]) -> None:
    with Store(address(place)) as store:
        with store.reading() as connection:
            year = connection.execute(
                select(schema.asset.c.year).where(schema.asset.c.id == COUNTER)
            ).scalar_one()
            there = {one.hash for one in entries(connection)}
            stores = {one.store for one in entries(connection)}
        assert year == WRITERS * TIMES  # a lost update would leave it lower
        assert set(acknowledged) <= there
        assert len(stores) == 1
        checkup = checked(store)
        assert (checkup.flaws, checkup.forks, checkup.conflicts) == ([], 0, [])
        assert checkup.entries == 2 * WRITERS * TIMES


def test_processes_that_open_a_new_store_at_once_lose_nothing(store_address: str) -> None:
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(WRITERS, mp_context=spawn) as pool:
        names = [f"N. Invented {number}" for number in range(WRITERS)]
        found = list(pool.map(count_up, [store_address] * WRITERS, names))
    held(store_address, [one for part in found for one in part])


def test_threads_of_one_server_lose_nothing(store_address: str) -> None:
    acknowledged: list[str] = []
    with Store(address(store_address)) as store, ThreadPoolExecutor(WRITERS) as pool:

        def work(name: str) -> None:
            for step in range(TIMES):
                with store.writing(name) as writer:
                    now = writer.folded("asset", COUNTER).values.get("year", 0)
                    made = writer.add("asset", COUNTER, "stated", {"set": {"year": now + 1}})
                    writer.state("asset", f"{name}-{step}", {"asset": name})
                acknowledged.append(made.hash)

        list(pool.map(work, [f"thread {number}" for number in range(WRITERS)]))
    held(store_address, acknowledged)


def test_readers_of_a_store_that_is_not_there_do_not_get_in_each_others_way(store_address: str) -> None:
    with Store(address(store_address)) as store, ThreadPoolExecutor(4) as pool:

        def look(_number: int) -> int:
            with store.reading() as connection:
                return int(connection.execute(select(func.count()).select_from(schema.test)).scalar_one())

        assert set(pool.map(look, range(20))) == {0}


def test_a_reader_sees_one_state_while_others_write(store_address: str) -> None:
    begun, done = Event(), Event()
    with Store(address(store_address)) as store:
        with store.writing(PERSON) as writer:
            writer.state("asset", COUNTER, {"year": 1})

        def write() -> None:
            begun.wait(30)
            for year in range(2, 12):
                with store.writing(PERSON) as writer:
                    writer.state("asset", COUNTER, {"year": year})
            done.set()

        with ThreadPoolExecutor(1) as pool:
            writing = pool.submit(write)
            query = select(schema.asset.c.year)
            with store.reading() as connection:
                first = connection.execute(query).scalar_one()
                begun.set()
                assert done.wait(60)  # the writer does not wait for the reader
                assert connection.execute(query).scalar_one() == first == 1
                assert len(list(entries(connection))) == 1
            writing.result()
        with store.reading() as connection:
            assert connection.execute(query).scalar_one() == 11
