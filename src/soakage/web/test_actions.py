"""What can be done with a test: pages and the API do it through these, with one vocabulary and one set of checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from fastapi import HTTPException

from soakage.app.ports import KnownTest
from soakage.app.rejudge import Rejudged, rejudge
from soakage.app.remarks import LARGEST, Remark, attach, note
from soakage.app.revising import Revised, revise, withdraw
from soakage.app.signing import SignedOff, sign_off
from soakage.errors import Fault, InputError
from soakage.model.stated import content_id
from soakage.model.verdict import Status
from soakage.store.memory import StoreMemory
from soakage.web.shapes import fault
from soakage.web.test_rules import rules_named, rules_of
from soakage.web.test_view_charts import kept_test
from soakage.wiring.changing import amended

LONGEST = 4000  # of a reason or a note
_CHANGED = (
    "This test was revised meanwhile. Nothing was changed. Load its page again, look, then do it again."
)


@dataclass(frozen=True, slots=True)
class Correction:
    """What a person corrects of a record, as typed.

    Parameters
    ----------
    reason : str
        Why.
    values : mapping of str to str
        Keys with their corrected value.
    clear : sequence of str
        Keys that should not have been stated.
    table : str or None
        Corrected readings with their headings.
    file : tuple of (str, bytes) or None
        A corrected file.
    content : str
        Content id of the revision that was looked at; any unless given.
    """

    reason: str
    values: Mapping[str, str] = field(default_factory=dict)
    clear: Sequence[str] = ()
    table: str | None = None
    file: tuple[str, bytes] | None = None
    content: str = ""


def seen(memory: StoreMemory, test: str, content: str) -> KnownTest:
    """Return a test as it stands, where it still is what the person looked at.

    Raises
    ------
    HTTPException
        404 where there is none, 409 where it was revised meanwhile.
    """
    known = kept_test(memory, test)
    if content and known.content != content:
        raise HTTPException(409, _CHANGED)
    return known


def needed(text: str, name: str, what: str) -> str:
    """Return a text without what surrounds it.

    Raises
    ------
    InputError
        If nothing is left, or it is too long.
    """
    said = text.strip()
    if not said:
        raise InputError([fault(f"{what} is missing.", field=name, remedy="Write it in a few words.")])
    if len(said) > LONGEST:
        given = f"{len(said)} signs"
        raise InputError(
            [fault(f"{what} is too long.", field=name, given=given, allowed=f"at most {LONGEST} signs")]
        )
    return said


def revised(memory: StoreMemory, test: str, correction: Correction) -> Revised:
    """Correct a test by a revision.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    test : str
        Id of the test.
    correction : Correction
        What is corrected.

    Raises
    ------
    InputError
        If the reason is missing, nothing differs or the record cannot be read; holds every fault.
    HTTPException
        404, or 409 where it was revised meanwhile.
    UsageError
        If another test has this very content.
    """
    reason = needed(correction.reason, "reason", "The reason for the revision")
    known = seen(memory, test, correction.content)
    name, content = correction.file or (None, None)
    if name is not None and content is not None and len(content) > LARGEST:
        raise InputError(
            [
                fault(
                    "The file is too large.",
                    field="file",
                    given=f"{len(content)} bytes",
                    allowed=str(LARGEST),
                )
            ]
        )
    try:
        record, file = amended(
            known, correction.values, correction.clear, name, content=content, table=correction.table
        )
    except InputError as problem:
        raise InputError([_of_form(one) for one in problem.faults]) from None
    if content_id(record) == known.content:
        raise InputError(
            [fault("Nothing differs from what is there.", remedy="Correct what was wrong, then revise.")]
        )
    return revise(memory, known, record, rules_of(memory, known), reason, file=file)


def _of_form(one: Fault) -> Fault:
    """Return a fault of a record as one of a form: no name of a file that nobody gave, no dashes of a command."""
    key = one.field.removeprefix("--").replace("-", "_")
    return Fault("", one.row, key, one.given, one.problem, one.allowed, one.remedy)


def withdrawn(
    memory: StoreMemory, test: str, reason: str, content: str = "", *, back: bool = False
) -> Revised:
    """Withdraw a test, or take that back.

    Raises
    ------
    InputError
        If the reason is missing.
    HTTPException
        404, or 409 where it was revised meanwhile or there is nothing to change.
    """
    why = needed(reason, "reason", "The reason")
    known = seen(memory, test, content)
    if known.withdrawn != back:
        raise HTTPException(
            409, f"This test is {'not withdrawn' if back else 'withdrawn already'}. Nothing was changed."
        )
    return withdraw(memory, known, rules_of(memory, known), why, back=back)


def unsignable(test: KnownTest) -> str:
    """Return why a test cannot be signed or reviewed; empty where it can."""
    if test.withdrawn:
        return "Nothing to sign: the test is withdrawn."
    if test.status is None:
        return "Nothing to sign: no verdict has been given. Judge it first."
    return "Signed already. Only a revision changes it now." if test.review == "signed" else ""


def signed_off(
    memory: StoreMemory,
    test: str,
    *,
    signed: bool,
    status: str | None = None,
    text: str = "",
    content: str = "",
) -> SignedOff:
    """Record that whoever asks reviewed or signed a test.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    test : str
        Id of the test.
    signed : bool
        True for a sign-off, False for a review.
    status : str or None
        The status they give; that of the tool unless given. Another one needs a text.
    text : str
        What they add, or why the status is another one.
    content : str
        Content id of the revision that was looked at.

    Raises
    ------
    InputError
        If the status is none, or another one without its why.
    HTTPException
        404, or 409 where it was revised meanwhile, is withdrawn, signed already or without a verdict.
    UsageError
        If it is in conflict.
    """
    known = seen(memory, test, content)
    if status is not None and status not in set(map(str, Status)):
        raise InputError(
            [fault("That is no status.", field="status", given=status[:40], allowed=", ".join(Status))]
        )
    if why_not := unsignable(known):
        raise HTTPException(409, why_not)
    if status is not None and status != known.status:
        needed(text, "text", f"The tool found {known.status}, you give {status}. The why of it")
    (done,) = sign_off(memory, [known], signed=signed, status=status, text=text)
    return done


def judged_again(
    memory: StoreMemory, test: str, reason: str = "", *, keep: bool, profile: str = ""
) -> list[Rejudged]:
    """Judge a test and the sisters of its visit again, by rules as they are now; what was given before stays.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    test : str
        Id of the test.
    reason : str
        Why, for the trail.
    keep : bool
        False to try it: nothing is added.
    profile : str
        Id of a profile that comes with Soakage; the one in use unless given.

    Returns
    -------
    list of Rejudged
        The test first.

    Raises
    ------
    InputError
        If no profile is called so.
    HTTPException
        404, or 409 for one that is withdrawn.
    """
    known = kept_test(memory, test)
    if known.withdrawn:
        raise HTTPException(409, "This test is withdrawn and is not judged. Take the withdrawal back first.")
    told = list(rejudge(memory, [[known]], rules_named(memory, profile), reason=reason.strip(), keep=keep))
    return sorted(told, key=lambda one: (one.test != known.id, one.section))


def noted(memory: StoreMemory, test: str, text: str) -> Remark:
    """Add a note to a test.

    Raises
    ------
    InputError
        If it is empty or too long.
    HTTPException
        404 where there is no such test.
    """
    return note(memory, kept_test(memory, test), needed(text, "text", "The note"))


def attached(memory: StoreMemory, test: str, name: str, media_type: str, content: bytes) -> Remark:
    """Keep a file with a test, exactly as it is.

    Parameters
    ----------
    memory : StoreMemory
        The store in somebody's hands.
    test : str
        Id of the test.
    name : str
        Name as the browser gave it; its folder is left out.
    media_type : str
        As the browser gave it: only shown, never trusted.
    content : bytes
        The whole file.

    Raises
    ------
    InputError
        If no file was chosen.
    HTTPException
        404 where there is no such test.
    UsageError
        If it is empty or too large.
    """
    plain = PurePosixPath(name.replace("\\", "/")).name
    plain = "".join(sign for sign in plain if sign.isprintable())[:200]
    if not plain:
        raise InputError([fault("No file was chosen.", field="file", remedy="Choose a file, then add it.")])
    return attach(memory, kept_test(memory, test), plain, media_type[:100], content)
