"""Whatever a page sends, in whatever order: a sheet never comes to a state that makes no sense."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from sheets import BEGUN, Hand
from soakage.app.capture import MICROSECONDS, Progress
from soakage.app.capture_rules import found_above
from soakage.errors import QuantityError, UsageError
from soakage.standards.library import library

VOLTS = st.sampled_from(("0", "3 V", "50 V", "51 V", "230 V", "", "x"))
TEXTS = st.sampled_from(("1.08 GΩ", "> 10 GΩ", "31.8 uA", "0.00 MΩ", "2.2", "1,500 GΩ", "-1 MΩ"))
MARKS = st.sampled_from((15.0, 30.0, 60.0, 190.0, 600.0, 45.0, None))
APPLIED = st.sampled_from(("5 kV", "", "0"))
BODY = st.one_of(
    st.fixed_dictionaries({"kind": st.just("found"), "dc": VOLTS, "ac": VOLTS, "apply": APPLIED}),
    st.fixed_dictionaries({"kind": st.just("started")}),
    st.fixed_dictionaries({"kind": st.just("reading"), "mark": MARKS, "time": st.floats(0, 700), "text": TEXTS}),
    st.fixed_dictionaries({"kind": st.just("changed"), "of": st.integers(1, 12), "text": TEXTS}),
    st.fixed_dictionaries({"kind": st.sampled_from(("undone", "answered")), "of": st.integers(1, 12)}),
    st.fixed_dictionaries({"kind": st.just("ended"), "how": st.sampled_from(("complete", "tripped", "well"))}),
    st.fixed_dictionaries({"kind": st.just("earthed")}),
)  # fmt: skip
STEPS = st.lists(st.tuples(BODY, st.integers(0, 2), st.floats(0, 120)), max_size=25)


def sane(stand: Progress) -> None:
    """Hold a sheet against what must be so at every moment."""
    if stand.started is not None:
        assert stand.found is not None
        assert found_above(stand, library()) == ""
        assert stand.voltage is not None
    else:
        assert stand.ended is None
        assert len(stand.readings) == 0
    if stand.earthed is not None:
        assert stand.ended is not None
    marks = [taken.mark for taken in stand.readings if taken.mark is not None]
    assert len(marks) == len(set(marks))
    assert set(marks) <= {mark.time for mark in stand.sheet.marks}
    assert all(taken.value.value >= 0 for taken in stand.readings if taken.quantity == "resistance")
    times = [taken.time for taken in stand.readings if taken.time is not None]
    assert times == sorted(times)
    assert all(time > 0 for time in times)


@settings(max_examples=150, deadline=None)
@given(steps=STEPS)
def test_no_order_of_things_makes_a_sheet_that_cannot_be(
    steps: list[tuple[dict[str, Any], int, float]],
) -> None:
    hand = Hand()
    now = BEGUN
    for body, sheet, wait in steps:
        now += round(wait * MICROSECONDS)
        hand.now = now
        before = list(hand.events)
        given_body = dict(body)
        kind = given_body.pop("kind")
        try:
            hand.do(kind, sheet, **given_body)
        except (UsageError, QuantityError):
            assert hand.events == before
        stands = hand.stands
        assert sum(stand.state == "live" for stand in stands) <= 1
        for stand in stands:
            sane(stand)


@settings(max_examples=60, deadline=None)
@given(steps=STEPS, cut=st.integers(0, 25))
def test_a_sheet_cut_off_anywhere_goes_on_as_if_nothing_had_happened(
    steps: list[tuple[dict[str, Any], int, float]], cut: int
) -> None:
    # a dead battery after any event: the events are all there is to a state
    whole, first = Hand(), Hand()
    for place, (body, sheet, wait) in enumerate(steps):
        if place == cut:
            later = Hand()
            later.events, later.now = list(first.events), first.now
            first = later
        for hand in (whole, first):
            hand.now += round(wait * MICROSECONDS)
            given_body = dict(body)
            try:
                hand.do(given_body.pop("kind"), sheet, **given_body)
            except (UsageError, QuantityError):
                continue
    assert first.stands == whole.stands
