"""Under which id a record comes in: that of its content, unless that very test was purged; pure."""

from __future__ import annotations

from collections.abc import Iterable

from soakage.app.ports import Memory
from soakage.errors import Fault
from soakage.model.record import Record
from soakage.model.stated import canonical, digest

LENGTH = 32  # signs of an id


class TestIds:
    """Ids of tests on their way in.

    Parameters
    ----------
    memory : Memory
        The register; knows what was purged.
    contents : iterable of str
        Content ids of the records.
    again : bool
        Whether what was purged may come in again: under another id, for the old one stays purged everywhere.
    """

    def __init__(self, memory: Memory, contents: Iterable[str], *, again: bool) -> None:
        self._again = again
        self._purged: dict[str, str] = {}
        waiting = {content[:LENGTH] for content in contents}
        while waiting:
            # what came in again may have been purged again
            found = memory.purged(waiting)
            self._purged |= found
            waiting = {_after(test, entry) for test, entry in found.items()}

    def of(self, content: str) -> str:
        """Return the id of the test with this content."""
        test = content[:LENGTH]
        while test in self._purged:
            test = _after(test, self._purged[test])
        return test

    def refusal(self, record: Record, content: str) -> Fault | None:
        """Return why a record does not come in: it was purged, and nobody said that it may come again."""
        if self._again or content[:LENGTH] not in self._purged:
            return None
        return Fault(
            record.origin.file,
            record.origin.row,
            "",
            record.title,
            "This test was purged from the store.",
            "",
            "Give --again if it is meant to come back; it is another test then.",
        )


def _after(test: str, entry: str) -> str:
    return digest(canonical(["again", test, entry]))[:LENGTH]
