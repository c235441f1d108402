"""Tests judged again as text: what changed, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from soakage.app.rejudge import Rejudged
from soakage.cli.wrapping import wrapped

SHOWN = 50  # tests told one by one
REASONS = 8  # lines of why for each


def rejudged_text(judged: int, changed: Sequence[Rejudged], *, dry_run: bool) -> Iterator[str]:
    """Yield what came of judging again, those whose status changed first.

    Parameters
    ----------
    judged : int
        How many were judged.
    changed : sequence of Rejudged
        Those whose result differs.
    dry_run : bool
        Whether nothing was kept.
    """
    if not judged:
        yield wrapped("No test fits. Nothing was judged.")
        return
    ordered = sorted((one for one in changed if _moved(one)), key=lambda one: not one.worse)
    for one in ordered[:SHOWN]:
        yield from _one(one)
    if len(ordered) > SHOWN:
        yield f"And {len(ordered) - SHOWN} more with another status; --json holds them all."
    others = [one for one in changed if not _moved(one)]
    if others:
        yield wrapped(f"{len(others)} with the same status, and another result:")
        lines = Counter(line for one in others for line in one.why)
        for line, count in lines.most_common(REASONS):
            yield wrapped(f"{count} times: {line}", "    ", "  - ")
        if len(lines) > REASONS:
            yield f"  - and {len(lines) - REASONS} more; --json holds them all"
    moved = sum(_moved(one) for one in changed)
    worse = sum(one.worse for one in changed)
    yield wrapped(
        f"{judged} judged, {len(changed)} with another result, {moved} with another status, {worse} now investigate "
        "or unfit that stood better."
    )
    yield wrapped(
        "Tried only: nothing was kept."
        if dry_run
        else "Every verdict stays; the newest one is shown with its rules."
    )
    if worse:
        yield wrapped(
            "Look at these before anything is energised or tested at a higher voltage. Local codes and licensed "
            "practice come first."
        )


def _one(one: Rejudged) -> Iterator[str]:
    before = one.before.status if one.before is not None else "no verdict"
    by = one.before.profile if one.before is not None else "none"
    yield wrapped(
        f"{one.asset}, {one.section}, {one.day or 'no day'} ({one.test[:12]}): {before} before ({by}), "
        f"{one.after.status} now ({one.after.profile})",
        "    ",
        "",
    )
    for line in one.why[:REASONS]:
        yield wrapped(line, "    ", "  - ")
    if len(one.why) > REASONS:
        yield f"  - and {len(one.why) - REASONS} more; --json holds them all"
    if one.review == "signed":
        yield wrapped("It is signed: the sign-off stands for the verdict it was given with.", "    ", "  - ")


def _moved(one: Rejudged) -> bool:
    return one.before is None or one.before.status != one.after.status
