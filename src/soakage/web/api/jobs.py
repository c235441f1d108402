"""Long work: how far it is, and how to cancel it."""

from __future__ import annotations

from typing import Literal

from fastapi import HTTPException, Request

from soakage.app.contract_json import fault_json
from soakage.web.accounts import Role
from soakage.web.house import house
from soakage.web.jobs import Job
from soakage.web.people import Reader
from soakage.web.routing import Router
from soakage.web.sessions import Person
from soakage.web.shapes import FaultShape, Shape

ROUTER = Router("jobs", prefix="/api/jobs", tags=["jobs"])


class JobShape(Shape):
    """How far long work is; `then` is where its result is shown."""

    id: str
    state: Literal["waiting", "running", "done", "cancelled", "failed"]
    sentence: str
    done: int
    of: int
    then: str
    errors: list[FaultShape]


@ROUTER.get("/{job_id}")
def read_job(request: Request, job_id: str, person: Reader) -> JobShape:
    """Return how far it is."""
    return shape(_of(request, job_id, person))


@ROUTER.delete("/{job_id}")
def cancel_job(request: Request, job_id: str, person: Reader) -> JobShape:
    """Cancel it; it ends where it next says how far it is."""
    job = _of(request, job_id, person)
    job.cancel()
    return shape(job)


def _of(request: Request, job_id: str, person: Person) -> Job:
    job = house(request).jobs.get(job_id)
    mine = job is not None and (job.person.name == person.name or person.role.may(Role.ADMINISTER))
    if job is None or not mine:
        raise HTTPException(404, "This work is no longer remembered, or is another's.")
    return job


def shape(job: Job) -> JobShape:
    """Return a job as the API tells it."""
    errors = [FaultShape(**fault_json(one)) for one in job.faults]
    return JobShape(
        id=job.id,
        state=job.state.value,
        sentence=job.sentence,
        done=job.done,
        of=job.of,
        then=job.then,
        errors=errors,
    )
