"""History judged again under other rules: what changed, and why; every verdict stays."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from soakage.app.before import figures_before, figures_now
from soakage.app.differences import Result, differences
from soakage.app.judge_kept import Judged, give_verdict, judge_kept
from soakage.app.keeping import TRENDED
from soakage.app.ports import GivenVerdict, KnownTest, Memory
from soakage.app.register import title_of
from soakage.app.result import Evaluation, RuleNames
from soakage.app.rules import Rules
from soakage.model.verdict import Status

MOST = 200  # tests in one change
BAD = (Status.INVESTIGATE, Status.UNFIT)


@dataclass(frozen=True, slots=True)
class Standing:
    """A verdict and what it was given by."""

    status: str
    sentence: str
    profile: str
    profile_sha256: str
    criteria_sha256: str
    version: str


@dataclass(frozen=True, slots=True)
class Rejudged:
    """One test judged again.

    Parameters
    ----------
    test : str
        Its id.
    asset, section, day : str or None
        What it is of, as a person would say it, and when it was made.
    review : str
        draft, reviewed or signed: a sign-off stands for the verdict it was given with.
    before : Standing or None
        The verdict that stood; None where there was none.
    after : Standing
        The verdict now.
    why : tuple of str
        What led to a different result; empty where the result is the same.
    kept : bool
        Whether a verdict was added: where the result differs, unless it was only tried.
    """

    test: str
    asset: str
    section: str
    day: str | None
    review: str
    before: Standing | None
    after: Standing
    why: tuple[str, ...]
    kept: bool

    @property
    def changed(self) -> bool:
        """Whether the result differs from the one that stood."""
        return bool(self.why)

    @property
    def worse(self) -> bool:
        """Whether it is investigate or unfit now and stood better, or beside the ladder, before."""
        was = Status(self.before.status).rung if self.before is not None else -1
        return self.after.status in BAD and Status(self.after.status).rung > was


def rejudge(
    memory: Memory,
    parts: Iterable[Sequence[KnownTest]],
    rules: Rules,
    *,
    reason: str = "",
    keep: bool = True,
) -> Iterator[Rejudged]:
    """Judge tests again, asset by asset; what was told is kept when the next asset begins.

    Parameters
    ----------
    memory : Memory
        The register.
    parts : iterable of sequence of KnownTest
        Tests of one asset each, or tests without one. Sister sections of their visits are compared, and judged
        again with them; withdrawn tests are passed over.
    rules : Rules
        What judges now.
    reason : str
        Why, for the trail.
    keep : bool
        False to try it: nothing is added.

    Yields
    ------
    Rejudged
        In order of asset, day and section. An earlier test counts for a later one as it is judged now, so
        that a trial and the same in earnest say the same.
    """
    for part in parts:
        tests = _with_sisters(memory, part)
        for asset, group in groupby(tests, key=lambda test: test.asset):
            yield from _of_asset(memory, asset, list(group), rules, reason, keep=keep)


def _with_sisters(memory: Memory, tests: Sequence[KnownTest]) -> list[KnownTest]:
    found = {test.id: test for test in tests if not test.withdrawn}
    visits = {test.visit for test in found.values() if test.visit}
    if visits:
        found |= {test.id: test for test in memory.tests(visits=visits) if not test.withdrawn}
    begun: dict[str, str] = {}  # a visit may last for days; it is judged as one
    for test in found.values():
        visit, day = test.visit or test.id, str(test.record.day or "")
        begun[visit] = min(begun.get(visit, day), day)

    def place(test: KnownTest) -> tuple[str, ...]:
        visit = test.visit or test.id
        return test.asset or "", begun[visit], visit, test.section, test.id

    return sorted(found.values(), key=place)


def _of_asset(
    memory: Memory, asset: str | None, tests: Sequence[KnownTest], rules: Rules, reason: str, *, keep: bool
) -> Iterator[Rejudged]:
    past = memory.history(asset) if asset else []
    known = memory.assets([asset]).get(asset) if asset else None
    name = title_of(known.values) if known is not None else ""
    given = memory.verdicts(test.id for test in tests)
    fresh: dict[str, Mapping[str, float]] = {}
    waiting: list[tuple[Judged, Evaluation]] = []
    told: list[Rejudged] = []
    for _, group in groupby(tests, key=lambda test: test.visit or test.id):
        visit = list(group)
        earlier = [figures_before(test, past, fresh) for test in visit]
        evaluation, judged = judge_kept(memory, visit, rules, earlier=earlier)
        for item in judged:
            fresh[item.test.id] = figures_now(item.evaluated, TRENDED)
            told.append(_told(memory, item, name, given.get(item.test.id, []), evaluation.rules, keep=keep))
            if item.news:
                waiting.append((item, evaluation))
        if len(waiting) >= MOST or len(told) >= MOST:
            _keep(memory, waiting, reason, keep=keep)
            yield from told
            waiting, told = [], []
    _keep(memory, waiting, reason, keep=keep)
    yield from told


def _keep(memory: Memory, waiting: Sequence[tuple[Judged, Evaluation]], reason: str, *, keep: bool) -> None:
    if keep and waiting:
        with memory.changing() as change:
            change.look_up(("test", item.test.id) for item, _ in waiting)
            for item, evaluation in waiting:
                # what was revised, withdrawn or purged meanwhile is not what was judged here
                if change.folded("test", item.test.id).values.get("content") == item.test.content:
                    give_verdict(change, item, evaluation, reason)


def _told(
    memory: Memory, item: Judged, asset: str, given: Sequence[GivenVerdict], rules: RuleNames, *, keep: bool
) -> Rejudged:
    test, verdict = item.test, item.evaluated.verdict
    before: Standing | None = None
    why: tuple[str, ...] = ()
    stood = next((one for one in reversed(given) if one.content == test.content), None)
    if stood is not None:
        before = Standing(
            stood.status, stood.sentence, stood.profile, stood.profile_sha256, stood.criteria_sha256,
            stood.version,
        )  # fmt: skip
    if item.news:
        why = _why(None if stood is None else json.loads(memory.blob(stood.result)), json.loads(item.result))
    return Rejudged(
        test=test.id,
        asset=asset or test.record.asset.title,
        section=test.section,
        day=test.record.day.isoformat() if test.record.day else None,
        review=test.review,
        before=before,
        after=Standing(
            str(verdict.status), verdict.sentence, rules.profile, rules.profile_sha256, rules.criteria_sha256,
            rules.version,
        ),
        why=why,
        kept=item.news and keep,
    )  # fmt: skip


def _why(before: Result | None, after: Result) -> tuple[str, ...]:
    return ("It was not judged before.",) if before is None else tuple(differences(before, after))
