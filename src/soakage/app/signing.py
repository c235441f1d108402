"""Review and sign-off of tests: who stands for which verdict, and when; stated, not authenticated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from soakage.app.ports import KnownTest, Memory
from soakage.errors import UsageError
from soakage.model.verdict import Status

STATEMENT = (
    "The name is stated, not authenticated, and this is no electronic signature in law. A signed test is changed "
    "only by a revision. A status is no leave to energise: whoever signs the permit gives that, after local codes "
    "and licensed practice."
)


@dataclass(frozen=True, slots=True)
class SignedOff:
    """One test reviewed or signed.

    Parameters
    ----------
    test, title : str
        Its id, and what it is of.
    action : str
        reviewed or signed.
    status : str
        What the person stands for.
    tool_status : str
        What the tool found.
    text : str
        What the person adds.
    """

    test: str
    title: str
    action: str
    status: str
    tool_status: str
    text: str


def sign_off(
    memory: Memory, tests: Sequence[KnownTest], *, signed: bool, status: str | None = None, text: str = ""
) -> list[SignedOff]:
    """Record that the person who works here reviewed or signed tests: all of them, or none.

    Parameters
    ----------
    memory : Memory
        The register.
    tests : sequence of KnownTest
        As they stand.
    signed : bool
        True for a sign-off, after which only a revision changes a test; False for a review.
    status : str, optional
        The verdict the person gives; that of the tool unless given. Another one needs a text.
    text : str
        What the person adds.

    Returns
    -------
    list of SignedOff

    Raises
    ------
    UsageError
        If a test is withdrawn, signed already, in conflict, changed meanwhile or without a verdict, or a
        differing verdict lacks its text.
    """
    if not tests:
        raise UsageError("No test is named. Give at least one, as 'soakage list' shows them.")
    action = "signed" if signed else "reviewed"
    done = [
        SignedOff(
            test.id, test.record.title, action, _stood_for(test, status, text), str(test.status), text.strip()
        )
        for test in tests
    ]
    with memory.changing() as change:
        change.look_up(("test", test.id) for test in tests)
        for test, given in zip(tests, done, strict=True):
            now = change.folded("test", test.id)
            if "content" in now.conflicts:
                raise UsageError(
                    f"Test {test.id[:12]} has two revisions nobody chose between. Settle that first: 'soakage amend'."
                )
            if now.values.get("content") != test.content or now.values.get("withdrawn"):
                raise UsageError(
                    f"Test {test.id[:12]} was changed meanwhile. Nothing was signed. Look, then sign."
                )
            body = {
                "content": test.content,
                "status": given.status,
                "tool_status": given.tool_status,
                "text": given.text,
            }
            change.add("test", test.id, action, body)
    return done


def _stood_for(test: KnownTest, status: str | None, text: str) -> str:
    if test.withdrawn:
        raise UsageError(
            f"Test {test.id[:12]} is withdrawn. Take that back first: 'soakage withdraw {test.id[:12]} --back'."
        )
    if test.review == "signed":
        raise UsageError(
            f"Test {test.id[:12]} is signed already. Only a revision can change it: 'soakage amend'."
        )
    if test.status is None:
        raise UsageError(f"Test {test.id[:12]} has no verdict yet. Judge it first: 'soakage rejudge'.")
    given = status or test.status
    if given not in set(map(str, Status)):
        raise UsageError(f"{given!r} is no status. Allowed: {', '.join(Status)}.")
    if given != test.status and not text.strip():
        raise UsageError(f"The tool found {test.status}, you give {given}. Say why with --text.")
    return given


def visits_of(memory: Memory, tests: Sequence[KnownTest]) -> list[KnownTest]:
    """Return tests with all others of their visits that are neither withdrawn nor signed already."""
    found = {test.id: test for test in tests}
    visits = {test.visit for test in tests if test.visit}
    for test in memory.tests(visits=visits) if visits else ():
        if not test.withdrawn and test.review != "signed":
            found.setdefault(test.id, test)
    return list(found.values())
