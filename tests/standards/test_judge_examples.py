"""Every worked example of every criterion file is put to the judge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pytest

from soakage.model.verdict import QuantityValue
from soakage.standards.criterion import Criterion, Example, Kind
from soakage.standards.judge import Subject, judge
from soakage.standards.library import library
from soakage.standards.limits import limit_for
from soakage.units import Bound

LIBRARY = library()
MINIMUM = "ieee-43-2013.minimum-resistance"


def examples() -> Iterator[tuple[Criterion, Example]]:
    for criterion in LIBRARY.criteria.values():
        for example in criterion.examples:
            yield criterion, example


def name(case: object) -> str:
    if isinstance(case, Criterion):
        return case.id
    return f"{case.value:g}-{case.status}" if isinstance(case, Example) else ""


def subject(criterion: Criterion, example: Example) -> Subject:
    """Facts that are ids of quantities are what the finder gives; the rest stands on the nameplate."""

    def find(quantity_id: str, facts: Mapping[str, object]) -> QuantityValue | str:
        if quantity_id == criterion.quantity:
            bound = Bound(example.bound) if example.bound else None
            return QuantityValue(quantity_id, example.value, bound)
        given = facts.get(quantity_id)
        return QuantityValue(quantity_id, float(str(given))) if given is not None else "not in the example"

    references = {}
    if "reference" in example.facts:
        references[criterion.reference, criterion.quantity] = float(str(example.facts["reference"]))
    unsaid = {"method": (*criterion.methods, None)[0], "winding_part": "whole"}
    return Subject({**unsaid, **example.facts}, find, (), references)


@pytest.mark.parametrize(("criterion", "example"), list(examples()), ids=name)
def test_the_criterion_says_what_its_example_says(criterion: Criterion, example: Example) -> None:
    judgement = judge((criterion,), None, subject(criterion, example))
    assert judgement is not None, "the criterion does not apply to its own example"
    assert judgement.criterion == criterion.id
    assert judgement.status is example.status, judgement.reason
    if example.limit is not None:
        assert judgement.limit is not None
        assert (judgement.limit.lower or judgement.limit.upper) == pytest.approx(example.limit)


@pytest.mark.parametrize(("criterion", "example"), list(examples()), ids=name)
def test_of_its_group_no_other_criterion_takes_the_example(criterion: Criterion, example: Example) -> None:
    members = LIBRARY.members(criterion.group)
    group = LIBRARY.groups.get(criterion.group)
    told = {condition.key for member in members for condition in member.applies}
    if not told <= {*example.facts, "section"} and len(members) > 1:
        # the example leaves a key of its sisters open: what the sisters would say is their own examples' part
        members = (criterion,)
    judgement = judge(members, group, subject(criterion, example))
    assert judgement is not None
    assert judgement.criterion == criterion.id
    assert judgement.status is example.status, judgement.reason


def test_a_reference_is_held_against_the_named_record_only() -> None:
    (criterion,) = [c for c in LIBRARY.criteria.values() if c.kind is Kind.REFERENCE][:1]
    wrong = {"factory": "first", "first": "last", "last": "factory"}[criterion.reference]
    assert "record" in str(limit_for(criterion, {}, {(wrong, criterion.quantity): 1.0}))


@pytest.mark.parametrize(
    ("part", "multiple"), (("whole", 1), ("phase-others-earthed", 2), ("phase-others-guarded", 3))
)
@pytest.mark.parametrize("member", [c for c in LIBRARY.members(MINIMUM) if c.multiplier_key], ids=name)
def test_each_machine_minimum_is_multiplied_by_the_part_tested(
    member: Criterion, part: str, multiple: int
) -> None:
    # one phase, others earthed: about twice; others guarded: about three times (memory)
    facts = {"rated_voltage": 6600.0}
    whole = limit_for(member, facts, {})
    limit = limit_for(member, {**facts, "winding_part": part}, {})
    assert not isinstance(whole, str)
    assert not isinstance(limit, str)
    assert whole.lower is not None
    assert limit.lower == pytest.approx(multiple * whole.lower)
    assert ("memory" in limit.text) == (multiple > 1), "how the multiple is known stands beside the limit"


def test_only_the_armature_which_has_no_phases_goes_without_multiples() -> None:
    assert [c.id for c in LIBRARY.members(MINIMUM) if not c.multiplier_key] == [f"{MINIMUM}.armature"]
