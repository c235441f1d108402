"""Long work: progress, an end, a fault, and being cancelled."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from threading import Event
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from soakage.errors import Fault, InputError, SoakageError, UsageError
from soakage.web.accounts import Role
from soakage.web.jobs import ENDED, Job, Jobs, State
from soakage.web.rendering import environment
from soakage.web.run import Running
from soakage.web.sessions import Person
from web_help import OUTSIDE, log_in, outside, token

SOMEBODY = Person("R. Amsel", Role.TEST, authenticated=False)
Visit = Any


@pytest.fixture
def jobs() -> Iterator[Jobs]:
    made = Jobs()
    yield made
    made.close()


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end
        time.sleep(0.005)


def ended(job: Job) -> Job:
    until(lambda: job.state in ENDED)
    return job


def test_work_says_how_far_it_is_and_where_its_result_is(jobs: Jobs) -> None:
    told, go = Event(), Event()

    def work(job: Job) -> str:
        job.tell("Judging 37 tests again, 21 done", 21, 37)
        told.set()
        go.wait(10)
        return "/tests/1"

    job = jobs.begin(SOMEBODY, "Judging 37 tests again", work)
    assert told.wait(10)
    assert (job.state, job.sentence, job.done, job.of) == (
        State.RUNNING,
        "Judging 37 tests again, 21 done",
        21,
        37,
    )
    assert jobs.get(job.id) is job
    go.set()
    assert (ended(job).state, job.then) == (State.DONE, "/tests/1")


def endless(job: Job) -> str:
    for step in range(10**9):
        job.tell("Going on", step, 10**9)
        time.sleep(0.001)
    return ""


def test_work_can_be_cancelled_while_it_runs_and_while_it_waits(jobs: Jobs) -> None:
    running = [jobs.begin(SOMEBODY, "Going on", endless) for _ in range(2)]
    until(lambda: all(job.state is State.RUNNING for job in running))
    waiting = jobs.begin(SOMEBODY, "Later", endless)
    waiting.cancel()
    for job in running:
        job.cancel()
    assert [ended(job).state for job in (*running, waiting)] == [State.CANCELLED] * 3
    assert waiting.done == 0


FAULT = Fault("pump.csv", 3, "voltage", "x", "No number.", "a number", "Write one.")


@pytest.mark.parametrize(
    ("raised", "problem"),
    ((InputError([FAULT]), "No number."), (UsageError("It does not fit."), "It does not fit."),
     (RuntimeError("the secret cause"), "A fault in Soakage itself.")),
)  # fmt: skip
def test_a_fault_is_told_and_ends_the_work(jobs: Jobs, raised: Exception, problem: str) -> None:
    def work(_job: Job) -> str:
        raise raised

    job = ended(jobs.begin(SOMEBODY, "Reading", work))
    assert job.state is State.FAILED
    assert [one.problem for one in job.faults] == [problem]


def test_there_is_an_end_to_what_may_wait(jobs: Jobs) -> None:
    for _ in range(20):
        jobs.begin(SOMEBODY, "Going on", endless)
    with pytest.raises(SoakageError, match="Too much is being done"):
        jobs.begin(SOMEBODY, "Going on", endless)


def test_what_ended_long_ago_is_forgotten(jobs: Jobs) -> None:
    first = ended(jobs.begin(SOMEBODY, "One", lambda _: "/"))
    for _ in range(201):
        ended(jobs.begin(SOMEBODY, "More", lambda _: "/"))
    assert jobs.get(first.id) is None


def test_the_api_tells_and_cancels(client: TestClient) -> None:
    job = client.app.state.house.jobs.begin(SOMEBODY, "Going on", endless)  # type: ignore[attr-defined]
    until(lambda: job.state is State.RUNNING)
    said = client.get(f"/api/jobs/{job.id}").json()
    assert (said["state"], said["sentence"], said["of"], said["errors"]) == ("running", "Going on", 10**9, [])
    assert client.delete(f"/api/jobs/{job.id}").status_code == 403
    assert client.delete(f"/api/jobs/{job.id}", headers=token(client)).status_code == 200
    ended(job)
    assert client.get(f"/api/jobs/{job.id}").json()["state"] == "cancelled"
    assert client.get("/api/jobs/none").status_code == 404


def test_another_persons_work_is_not_shown() -> None:
    app: FastAPI = outside(("R. Amsel", Role.TEST), ("T. Brook", Role.TEST), ("C. Dunn", Role.ADMINISTER))
    job = ended(app.state.house.jobs.begin(SOMEBODY, "One", lambda _: "/"))
    seen = {}
    for name in ("R. Amsel", "T. Brook", "C. Dunn"):
        client = TestClient(app, base_url=OUTSIDE)
        assert log_in(client, name) == 200
        seen[name] = client.get(f"/api/jobs/{job.id}").status_code
    assert seen == {"R. Amsel": 200, "T. Brook": 404, "C. Dunn": 200}


# ------------------------------------------------------------------------------------ on a page


def show(page: Any, job: Job) -> None:
    box = (
        environment()
        .from_string("{% from 'parts.html' import busy %}{{ busy('Begun', job=job) }}")
        .render(job=job.id)
    )
    page.evaluate(
        "(box) => { document.querySelector('main').innerHTML = box; return import('/static/' + "
        "document.querySelector('script[src]').src.split('/static/')[1].replace('page.js', 'busy.js')); }",
        box,
    )


def test_the_page_follows_the_work_to_its_result(visit: Visit, live: Running) -> None:
    go = Event()

    def work(job: Job) -> str:
        job.tell("Judging 2 tests again, 1 done", 1, 2)
        go.wait(20)
        return "/more"

    job = live.app.state.house.jobs.begin(SOMEBODY, "Judging", work)
    page = visit("/")
    show(page, job)
    page.get_by_text("Judging 2 tests again, 1 done").wait_for()
    assert page.locator("progress").evaluate("bar => bar.value / bar.max") == 0.5
    go.set()
    page.wait_for_url("**/more")


def test_cancel_on_the_page_cancels(visit: Visit, live: Running) -> None:
    job = live.app.state.house.jobs.begin(SOMEBODY, "Going on", endless)
    page = visit("/")
    show(page, job)
    page.get_by_role("button", name="Cancel").click()
    page.get_by_text("Cancelled.").wait_for()
    assert ended(job).state is State.CANCELLED
