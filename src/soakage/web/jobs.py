"""Long work: it goes on while the page is used, says how far it is, and can be cancelled."""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from enum import StrEnum
from threading import Event, Lock

from soakage.errors import Fault, InputError, SoakageError
from soakage.web.sessions import Person, new_id
from soakage.web.shapes import fault

_log = logging.getLogger("soakage.web")
_AT_ONCE = 2
_MOST_WAITING = 20
_REMEMBERED = 200


class State(StrEnum):
    """How a job stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"
    FAILED = "failed"


ENDED = frozenset({State.DONE, State.CANCELLED, State.FAILED})


class CancelledError(SoakageError):
    """Somebody cancelled the work; raised inside it, where it says how far it is."""


class Job:
    """One piece of long work.

    Parameters
    ----------
    person : Person
        Who began it.
    sentence : str
        What is being done, until the work itself says more.
    """

    def __init__(self, person: Person, sentence: str) -> None:
        self.id = new_id()
        self.person = person
        self.sentence = sentence
        self.state = State.WAITING
        self.done, self.of = 0, 0
        self.then = ""
        self.faults: tuple[Fault, ...] = ()
        self._cancelled = Event()

    def tell(self, sentence: str, done: int, of: int) -> None:
        """Say how far the work is; it ends here when it was cancelled.

        Parameters
        ----------
        sentence : str
            With the counts, as the page shows it.
        done, of : int
            For the bar.

        Raises
        ------
        CancelledError
            When somebody cancelled it.
        """
        if self._cancelled.is_set():
            raise CancelledError("Cancelled.")
        self.sentence, self.done, self.of = sentence, done, of

    def cancel(self) -> None:
        """Have the work end where it next says how far it is; what has ended stays as it is."""
        self._cancelled.set()

    def run(self, work: Callable[[Job], str]) -> None:
        """Do the work and note how it ended.

        Parameters
        ----------
        work : callable
            Takes the job, calls :meth:`tell`, returns the address where the result is shown.
        """
        try:
            self.tell(self.sentence, 0, self.of)
            self.state = State.RUNNING
            self.then = work(self)
            self.state = State.DONE
        except CancelledError:
            self.state = State.CANCELLED
        except InputError as problem:
            self.faults, self.state = problem.faults, State.FAILED
        except SoakageError as problem:
            self.faults, self.state = (fault(str(problem)),), State.FAILED
        except Exception as problem:  # noqa: BLE001 - whatever it was, the page is told that it ended
            _log.exception("job failed", exc_info=problem, extra={"told": {"job": self.id[:12]}})
            told = fault("A fault in Soakage itself.", remedy=f"Look in the log for job {self.id[:12]}.")
            self.faults, self.state = (told,), State.FAILED


class Jobs:
    """The long work of one server: a few at a time, the last ones remembered."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(_AT_ONCE, "job")
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = Lock()

    def begin(self, person: Person, sentence: str, work: Callable[[Job], str]) -> Job:
        """Begin long work and return at once.

        Parameters
        ----------
        person : Person
            Who asked for it.
        sentence : str
            What is being done.
        work : callable
            Takes the job, calls its :meth:`Job.tell`, returns the address where the result is shown.

        Raises
        ------
        SoakageError
            When too much is waiting already.
        """
        job = Job(person, sentence)
        with self._lock:
            if sum(other.state not in ENDED for other in self._jobs.values()) >= _MOST_WAITING:
                raise SoakageError("Too much is being done already. Wait until some of it has ended.")
            self._jobs[job.id] = job
            for old in [key for key, other in self._jobs.items() if other.state in ENDED][:-_REMEMBERED]:
                del self._jobs[old]
        self._pool.submit(job.run, work)
        return job

    def get(self, job_id: str) -> Job | None:
        """Return a job that is still remembered."""
        with self._lock:
            return self._jobs.get(job_id)

    def close(self) -> None:
        """Cancel what goes on and wait until it has ended."""
        with self._lock:
            for job in self._jobs.values():
                job.cancel()
        self._pool.shutdown(cancel_futures=True)
