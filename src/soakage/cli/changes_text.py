"""Changes of the register as text: what was before, what is now, what follows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from soakage.app.edited import Edited
from soakage.app.register import SECTION
from soakage.app.remarks import Remark, begins_anew
from soakage.app.revising import FieldChange, Revised
from soakage.app.signing import STATEMENT, SignedOff
from soakage.cli.plain_text import value_text
from soakage.cli.tables import table
from soakage.cli.wrapping import wrapped

NOTHING = "not stated"


def changes_text(changes: Iterable[FieldChange]) -> Iterator[str]:
    """Yield a table of fields before and after."""
    rows = [
        (
            one.field.removeprefix(SECTION) if one.field.startswith(SECTION) else one.field,
            _value(one.field, one.before),
            _value(one.field, one.after),
        )
        for one in changes
    ]
    if rows:
        yield from table(("what", "before", "now"), rows, "  ")


def _value(field: str, value: object) -> str:
    if value is None:
        return NOTHING
    return "there" if value == {} else value_text(field, value)


def edited_text(edited: Edited) -> Iterator[str]:
    """Yield what came of an edit of the register."""
    if not edited.changed:
        yield wrapped(f"{edited.title}: nothing differs from what the register has. Nothing was changed.")
        return
    yield wrapped(f"{edited.title} ({edited.kind}): {'added' if edited.added else 'changed'}.")
    yield from changes_text(edited.changed)
    if edited.kind == "instrument" and not edited.added:
        yield wrapped("Tests made with it keep their verdicts. Judge them again with 'soakage rejudge'.")
    if edited.judged_before:
        count = len(edited.judged_before)
        tests = "1 test was" if count == 1 else f"{count} tests were"
        shown = ", ".join(test[:12] for test in edited.judged_before[:5])
        more = f" and {count - 5} more" if count > 5 else ""
        yield wrapped(
            f"{tests} judged with the nameplate as it was ({shown}{more}). Their verdicts stand until they are "
            f"judged again: soakage rejudge {edited.id}"
        )


def revised_text(revised: Revised, what: str) -> Iterator[str]:
    """Yield what came of a revision or a withdrawal.

    Parameters
    ----------
    revised : Revised
        What came of it.
    what : str
        revised, withdrawn or taken back.
    """
    yield wrapped(f"Test {revised.test[:12]} {what}: {revised.reason}")
    if what == "revised":
        yield from changes_text(revised.changed)
        if revised.readings_changed:
            yield "  The readings differ."
        yield wrapped(f"Verdict: {revised.before or 'none'} before, {revised.after} now. {revised.sentence}")
        yield wrapped("The record as it was and its verdict are kept.")
    else:
        yield wrapped("The test is kept; lists and trends pass over it." if what == "withdrawn" else
                      "It counts again in lists and trends.")  # fmt: skip
    if revised.was_signed:
        yield wrapped(
            "It was signed. The sign-off stays with the record it was given for"
            + ("; this revision is a draft until somebody signs it." if what == "revised" else ".")
        )
    moved = [sister for sister in revised.sisters if sister.before != sister.after]
    for sister in moved:
        yield wrapped(
            f"{sister.section}, compared with it: {sister.before or 'none'} before, {sister.after} now."
        )
    if len(revised.sisters) > len(moved):
        count = len(revised.sisters) - len(moved)
        yield wrapped(f"{count} sister section{'s' * (count > 1)} judged again, with the same status.")
    if revised.left:
        yield wrapped(
            f"Compared with it and judged by other rules than these: {', '.join(revised.left)}. Judge them again by "
            f"theirs: soakage rejudge {revised.test[:12]} --profile ..."
        )


def remark_text(remark: Remark) -> Iterator[str]:
    """Yield what was added to an asset or a test."""
    fields = remark.fields
    if remark.action == "happened":
        yield wrapped(f"{remark.title}: {fields['event']} on {fields['at']} noted.")
        if begins_anew(fields["event"]):
            yield wrapped("From that day on trends begin a new series: the insulation is another one.")
        if fields["event"] == "rewind":
            yield wrapped(
                f"A rewind resets the year of the insulation: soakage register edit asset {remark.subject} --year ..."
            )
        return
    if remark.action == "attached":
        yield wrapped(f"{remark.title}: {fields['name']} ({fields['size']} bytes) kept as it is.")
        return
    yield wrapped(f"{remark.title}: noted.")


def signed_text(done: Iterable[SignedOff], person: str) -> Iterator[str]:
    """Yield who stands for what, and what that is not."""
    for one in done:
        other = f" (found: {one.tool_status}). {one.text}" if one.status != one.tool_status else ""
        yield wrapped(f"{one.title} ({one.test[:12]}): {one.action} by {person} as {one.status}{other}")
    yield wrapped(STATEMENT)
