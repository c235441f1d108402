"""What holds of every criterion, temperature rule and table that ships, whatever it says; and of every broken file."""

from __future__ import annotations

import math
import tomllib
from importlib.resources import files
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakage.errors import StandardDataError
from soakage.model.keys import KEYS
from soakage.model.verdict import Limit, Status
from soakage.quantities import lookup
from soakage.standards.criterion import Criterion, Kind, TemperatureRule
from soakage.standards.formulas import FORMULAS
from soakage.standards.judge import status_of
from soakage.standards.library import library, read_library
from soakage.standards.limits import limit_for
from soakage.standards.parsing import key_dimension, number, read_conditions
from soakage.standards.temperature import factor, sensitivity
from soakage.units import Bound

LIBRARY = library()
CRITERIA = list(LIBRARY.criteria.values())
RULES = list(LIBRARY.temperature_rules.values())
FOLDER = files("soakage.standards") / "data"
DOCUMENTS = {item.name: item.read_bytes() for item in FOLDER.iterdir() if item.name.endswith(".toml")}
RUNGS = (Status.SOUND, Status.WATCH, Status.INVESTIGATE, Status.UNFIT)


def named(entry: Any) -> str:
    return str(entry.id)


def formed(criterion: Criterion) -> Limit | None:
    """Return the limit of a criterion for the facts of its first example."""
    example = criterion.examples[0]
    before = example.facts.get("reference")
    references = (
        {(criterion.reference, criterion.quantity): float(before)} if isinstance(before, float | int) else {}
    )
    limit = limit_for(criterion, example.facts, references)
    return limit if isinstance(limit, Limit) else None


# ------------------------------------------------------------------------------------------------------ criteria
@pytest.mark.parametrize("place", range(8))
def test_a_limit_has_one_side_its_own_unit_and_a_text(place: int) -> None:
    for criterion in CRITERIA[place::8]:
        limit = formed(criterion)
        assert limit is not None, criterion.id
        assert limit.unit == lookup(criterion.quantity).unit
        assert limit.text
        if criterion.kind is Kind.BAND:
            assert limit.lower is None
            assert limit.upper is None
            assert len(criterion.edges) + 1 == len(criterion.statuses)
            assert list(criterion.edges) == sorted(criterion.edges)
            continue
        assert (limit.lower is None) != (limit.upper is None)
        figure = limit.lower if limit.lower is not None else limit.upper
        assert figure is not None
        assert math.isfinite(figure)
        assert limit.text.startswith("at least" if criterion.sense == "lower" else "at most")


@pytest.mark.parametrize("place", range(8))
def test_a_value_on_the_limit_meets_it_and_the_next_float_breaks_it(place: int) -> None:
    for criterion in CRITERIA[place::8]:
        limit = formed(criterion)
        if limit is None or criterion.kind is Kind.BAND:
            continue
        edge = limit.lower if limit.lower is not None else limit.upper
        assert edge is not None
        worse = edge * (1 - 1e-6) if criterion.sense == "lower" else edge * (1 + 1e-6)
        better = edge * (1 + 1e-6) if criterion.sense == "lower" else edge * (1 - 1e-6)
        assert status_of(criterion, limit, edge, None)[0] is Status.SOUND, criterion.id
        assert status_of(criterion, limit, better, None)[0] is Status.SOUND
        assert status_of(criterion, limit, worse, None)[0] is criterion.breach


@pytest.mark.parametrize("criterion", [c for c in CRITERIA if c.kind is Kind.BAND], ids=named)
def test_a_band_gives_the_status_between_its_edges(criterion: Criterion) -> None:
    limit = formed(criterion)
    assert limit is not None
    edges = [criterion.edges[0] * 0.5, *criterion.edges, criterion.edges[-1] * 2]
    for low, high, status in zip(edges, edges[1:], criterion.statuses, strict=False):
        assert status_of(criterion, limit, 0.5 * (low + high), None)[0] is status
        assert str(status) in limit.text
    for edge, below, above in zip(criterion.edges, criterion.statuses, criterion.statuses[1:], strict=False):
        assert status_of(criterion, limit, edge, None)[0] in (below, above)


@pytest.mark.parametrize("place", range(8))
def test_a_bound_is_judged_only_where_it_settles_the_matter(place: int) -> None:
    """A lower bound above a lower limit meets it; below it, it says nothing. And the other way about."""
    for criterion in CRITERIA[place::8]:
        limit = formed(criterion)
        if limit is None or criterion.kind is Kind.BAND:
            continue
        edge = limit.lower if limit.lower is not None else limit.upper
        assert edge is not None
        lower = criterion.sense == "lower"
        good, bad = (edge * 2, edge / 2) if lower else (edge / 2, edge * 2)
        settles_good, settles_bad = (Bound.LOWER, Bound.UPPER) if lower else (Bound.UPPER, Bound.LOWER)
        assert status_of(criterion, limit, good, settles_good)[0] is Status.SOUND
        assert status_of(criterion, limit, bad, settles_bad)[0] is criterion.breach
        assert status_of(criterion, limit, bad, settles_good)[0] is Status.NOT_JUDGED
        assert status_of(criterion, limit, good, settles_bad)[0] is Status.NOT_JUDGED


@settings(max_examples=60)
@given(
    st.sampled_from([c for c in CRITERIA if c.kind is not Kind.BAND]),
    st.floats(1e-3, 1e3),
    st.floats(1e-3, 1e3),
)
def test_a_better_value_is_never_judged_worse(criterion: Criterion, one: float, other: float) -> None:
    limit = formed(criterion)
    assert limit is not None
    edge = limit.lower if limit.lower is not None else limit.upper
    assert edge is not None
    low, high = sorted((one * edge, other * edge))
    worse, better = (low, high) if criterion.sense == "lower" else (high, low)
    first, second = (status_of(criterion, limit, v, None)[0] for v in (worse, better))
    assert second.rung <= first.rung


@pytest.mark.parametrize("place", range(8))
def test_a_missing_nameplate_value_is_named_not_made_up(place: int) -> None:
    for criterion in CRITERIA[place::8]:
        found = limit_for(criterion, {}, {})
        needs = criterion.kind in (Kind.LINEAR, Kind.TABLE, Kind.FORMULA, Kind.REFERENCE)
        assert isinstance(found, str) == needs, criterion.id
        if isinstance(found, str):
            assert found.endswith(".")
            assert "nan" not in found


@pytest.mark.parametrize("criterion", [c for c in CRITERIA if c.kind is Kind.TABLE], ids=named)
def test_a_table_takes_the_row_it_says(criterion: Criterion) -> None:
    for key, figure in criterion.rows:
        found = limit_for(criterion, {criterion.of: key}, {})
        assert isinstance(found, Limit)
        assert (found.lower if found.lower is not None else found.upper) == pytest.approx(figure)
    beyond = limit_for(criterion, {criterion.of: criterion.rows[-1][0] * 1.01}, {})
    assert isinstance(beyond, Limit) == criterion.beyond_last
    if criterion.row_rule != "ln-interpolated" and len(criterion.rows) > 1:
        (low, _), (high, second) = criterion.rows[:2]
        between = limit_for(criterion, {criterion.of: 0.5 * (low + high)}, {})
        assert isinstance(between, Limit)
        assert (between.lower if between.lower is not None else between.upper) == pytest.approx(second)


@pytest.mark.parametrize("criterion", [c for c in CRITERIA if c.kind is Kind.LINEAR], ids=named)
def test_a_line_rises_evenly(criterion: Criterion) -> None:
    def at(value: float) -> float:
        found = limit_for(criterion, {criterion.of: value}, {})
        assert isinstance(found, Limit)
        figure = found.lower if found.lower is not None else found.upper
        assert figure is not None
        return figure

    one, two, three = (at(v) for v in (1e3, 2e3, 3e3))
    assert three - two == pytest.approx(two - one)
    assert one == pytest.approx(criterion.intercept + 1e3 * criterion.slope)


@pytest.mark.parametrize("place", range(8))
def test_every_criterion_names_things_that_are(place: int) -> None:
    for criterion in CRITERIA[place::8]:
        assert lookup(criterion.quantity).id == criterion.quantity
        assert criterion.breach in RUNGS[1:]
        assert criterion.breach_means.endswith(".")
        assert criterion.rationale
        assert criterion.formula in FORMULAS or not criterion.formula
        if criterion.of:
            assert criterion.of in KEYS or key_dimension(criterion.of) != "ratio"


# -------------------------------------------------------------------------------------------- temperature rules
def base_of(rule: TemperatureRule) -> float:
    return rule.base if rule.base is not None else 40.0


def inside(rule: TemperatureRule) -> list[float]:
    return [t for t in np.linspace(-10, 130, 57).tolist() if factor(rule, t, base_of(rule)).value is not None]


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_a_factor_is_one_at_its_base_and_rises_with_temperature(rule: TemperatureRule) -> None:
    """Insulation conducts better the warmer it is: a warm reading is referred upward to a cooler base."""
    warm = inside(rule)
    assert len(warm) > 3
    values = [factor(rule, t, base_of(rule)).value for t in warm]
    assert all(v is not None and v > 0 and math.isfinite(v) for v in values)
    known = np.array([v for v in values if v is not None])
    assert (np.diff(known) >= -1e-12).all()
    at_base = factor(rule, base_of(rule), base_of(rule))
    if at_base.value is not None:
        assert at_base.value == pytest.approx(1.0, rel=6e-3)


@pytest.mark.parametrize("rule", RULES, ids=named)
@pytest.mark.parametrize("temperature", (-200.0, 1000.0))
def test_outside_its_range_a_rule_makes_nothing_up(rule: TemperatureRule, temperature: float) -> None:
    found = factor(rule, temperature, base_of(rule))
    if found.value is None:
        assert "no value is made up beyond it" in found.reason
        assert rule.name in found.reason
    else:
        assert found.flag or rule.flag_beyond is None


@pytest.mark.parametrize("rule", [r for r in RULES if r.base is not None], ids=named)
def test_a_rule_with_a_base_refers_to_no_other(rule: TemperatureRule) -> None:
    found = factor(rule, base_of(rule), base_of(rule) + 5.0)
    assert found.value is None
    assert "only" in found.reason


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_the_sensitivity_is_the_slope_of_the_logarithm(rule: TemperatureRule) -> None:
    for t in inside(rule)[2:-2:6]:
        found = sensitivity(rule, t, base_of(rule))
        low, high = (factor(rule, t + d, base_of(rule)).value for d in (-0.02, 0.02))
        if found is None or low is None or high is None:
            continue
        assert found == pytest.approx(math.log(high / low) / 0.04, rel=0.35, abs=2e-3)
        assert found >= 0


def test_no_sensitivity_where_there_is_no_factor() -> None:
    bounded = [r for r in RULES if factor(r, 1000.0, base_of(r)).value is None]
    assert bounded
    assert all(sensitivity(rule, 1000.0, base_of(rule)) is None for rule in bounded)


# ---------------------------------------------------------------------------------------------- reading of files
@pytest.mark.parametrize(
    ("value", "dimension", "si"),
    (
        ("100 MOhm", "resistance", 1e8), ("40 degC", "temperature", 313.15), (1.5, "ratio", 1.5), (3, "ratio", 3.0),
        ("5 %", "fraction", 0.05), (0.05, "fraction", 0.05), ("1 km", "length", 1e3), ("2 ft", "length", 0.6096),
    ),
)  # fmt: skip
def test_a_number_of_a_file_in_si(value: object, dimension: str, si: float) -> None:
    assert number(value, dimension) == pytest.approx(si)


@pytest.mark.parametrize(
    ("value", "dimension"), ((100, "resistance"), (1.5, "temperature"), (0, "voltage"), (True, "length"))
)
def test_a_bare_number_needs_its_unit(value: object, dimension: str) -> None:
    with pytest.raises(Exception, match=r"unit|True"):
        number(value, dimension)


@pytest.mark.parametrize(
    "table",
    (
        {"class": "cable"},
        {"class": 3},
        {"rated_voltage": {"over": "1 kV"}},
        {"rated_voltage": {"above": 1000}},
        {"year": None},
    ),
)
def test_a_condition_that_is_none_is_refused(table: dict[str, object]) -> None:
    with pytest.raises(StandardDataError):
        read_conditions(table)


def dumped(value: object) -> str:
    """Write a value of a TOML file back as TOML, inline."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    if isinstance(value, list):
        return f"[{', '.join(map(dumped, value))}]"
    assert isinstance(value, dict)
    return "{" + ", ".join(f'"{k}" = {dumped(v)}' for k, v in value.items()) + "}"


def document(parsed: dict[str, Any]) -> bytes:
    lines = ["[standard]", *(f"{k} = {dumped(v)}" for k, v in parsed["standard"].items())]
    for name, entries in parsed.items():
        if name != "standard":
            for entry in entries:
                lines += [f"[[{name}]]", *(f'"{k}" = {dumped(v)}' for k, v in entry.items())]
    return "\n".join(lines).encode()


@pytest.mark.parametrize("name", sorted(DOCUMENTS))
def test_a_file_written_again_says_the_same(name: str) -> None:
    again = read_library([(name, document(tomllib.loads(DOCUMENTS[name].decode())))])
    for shelf in ("criteria", "groups", "temperature_rules", "voltage_tables", "thresholds", "references"):
        for key, entry in getattr(again, shelf).items():
            shipped = getattr(LIBRARY, shelf)[key]
            if hasattr(entry, "standard"):
                assert entry.standard.id == shipped.standard.id
                assert entry.name == shipped.name
                assert getattr(entry, "examples", None) == getattr(shipped, "examples", None)
            else:
                assert entry == shipped


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(sorted(DOCUMENTS)), st.data())
def test_a_file_without_one_of_its_keys_is_refused_by_name_or_read(name: str, data: st.DataObject) -> None:
    parsed = tomllib.loads(DOCUMENTS[name].decode())
    shelves = [key for key, entries in parsed.items() if key != "standard" and entries]
    if not shelves:
        return
    shelf = data.draw(st.sampled_from(shelves))
    entry = data.draw(st.sampled_from(parsed[shelf]))
    key = data.draw(st.sampled_from(sorted(entry)))
    replaced = data.draw(st.sampled_from((None, 3, "nonsense", [], ["x"], {"x": 1}, True, -1.5, "5 parsec")))
    if replaced is None:
        del entry[key]
    else:
        entry[key] = replaced
    said = refusal(name, document(parsed))
    if said is not None:
        assert said.startswith(f"{name}: ")
        assert f"[[{shelf}]]" in said or "id" in said


def refusal(name: str, content: bytes) -> str | None:
    """Return what a file is refused with; None where it is read. Nothing else may be raised."""
    try:
        read_library([(name, content)])
    except StandardDataError as refused:
        return str(refused)
    return None
