"""A record as plain values and back, key by key, and what makes two records one test or two."""

from __future__ import annotations

import json
import math
import tomllib
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import combinations
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from records import readings
from soakage.model.keys import KEYS, Kind
from soakage.model.record import Origin
from soakage.model.stated import (
    canonical,
    content_id,
    digest,
    findings_of,
    findings_plain,
    plain_value,
    readings_digest,
    record_of,
    stated_plain,
    value_of,
)
from soakage.model.test import Accuracy, PreviousTest, Step, VoltageFound
from soakage.model.verdict import Finding, Status

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "cases_stated.toml").read_text(encoding="utf-8")
)["key"]
EACH = pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
METHOD = {"method": "insulation-resistance"}
WHOLE = {case["name"]: case["value"] for case in CASES}
EAST = timezone(timedelta(hours=2))
# what the odd kinds become in the model; all others are held as they are, lists as tuples
BECOMES: dict[str, object] = {
    "in_service_since": date(1998, 6, 1),
    "started": datetime(2026, 3, 14, 9, 20, tzinfo=EAST),
    "calibration_due": date(2026, 9, 2),
    "steps": (Step(0.0, 1000.0), Step(60.0, 2000.0)),
    "voltage_found": VoltageFound(ac=31.0, frequency=50.0),
    "previous_test": PreviousTest(5000.0, 600.0, 3600.0),
    "accuracy": (Accuracy(1e10, 0.05, 2e-11, 1e6, 0.5), Accuracy(reading=0.2)),
    "winding_voltages": {"HV": 11000.0, "LV": 400.0},
    "winding_powers": {"HV": 1e6, "LV": 5e5},
}


def held(stated: dict[str, Any], field: str) -> Any:
    part, name = field.split(".")
    return getattr(getattr(record_of({**METHOD, **stated}, readings(2)), part), name)


def test_every_key_has_its_case() -> None:
    # a temperature is stated under one of its two names; the record keeps one
    assert [case["name"] for case in CASES] == [name for name in KEYS if name != "insulation_temperature"]


@EACH
def test_a_plain_value_goes_where_the_key_belongs(case: dict[str, Any]) -> None:
    name, value = case["name"], case["value"]
    key = KEYS[name]
    assert f"{key.part}.{key.field}" == case["field"]
    wanted = BECOMES.get(name, tuple(value) if key.kind is Kind.LIST else value)
    found = held({name: value}, case["field"])
    assert (dict(found) if isinstance(found, MappingProxyType) else found) == wanted


@EACH
def test_a_plain_value_comes_back_the_same(case: dict[str, Any]) -> None:
    for value in (case["value"], case["other"]):
        stated = {**METHOD, case["name"]: value}
        assert stated_plain(record_of(stated, readings(2))) == stated
        assert plain_value(case["name"], value_of(case["name"], value)) == value


@EACH
def test_a_plain_value_is_json(case: dict[str, Any]) -> None:
    for value in (case["value"], case["other"]):
        plain = plain_value(case["name"], value_of(case["name"], value))
        assert json.loads(json.dumps(plain, allow_nan=False)) == value


@EACH
def test_another_value_is_another_test(case: dict[str, Any]) -> None:
    stated = [{**METHOD, case["name"]: case["value"]}, {**METHOD, case["name"]: case["other"]}, METHOD]
    ids = [content_id(record_of(one, readings(2))) for one in stated]
    assert len(set(ids)) == 3


@EACH
def test_one_key_left_out_of_many_is_another_test(case: dict[str, Any]) -> None:
    without = {name: value for name, value in WHOLE.items() if name != case["name"]}
    without.setdefault("method", "insulation-resistance")
    assert content_id(record_of(without, readings(2))) != content_id(record_of(WHOLE, readings(2)))


def test_a_whole_record_comes_back_the_same() -> None:
    record = record_of(WHOLE, readings(3))
    assert stated_plain(record) == WHOLE
    again = record_of(stated_plain(record), record.readings)
    assert again == record
    assert content_id(again) == content_id(record)


def test_the_order_in_which_keys_are_stated_does_not_count() -> None:
    backwards = dict(reversed(list(WHOLE.items())))
    assert content_id(record_of(backwards, readings(2))) == content_id(record_of(WHOLE, readings(2)))


def test_a_temperature_has_one_name_in_the_store() -> None:
    one = record_of({**METHOD, "winding_temperature": 300.65}, readings(1))
    other = record_of({**METHOD, "insulation_temperature": 300.65}, readings(1))
    assert content_id(one) == content_id(other)
    assert "insulation_temperature" not in stated_plain(other)


@pytest.mark.parametrize("name", ("colour", "", "Permit", "rated-voltage", "readings"))
def test_a_key_the_table_lacks_is_refused(name: str) -> None:
    with pytest.raises(KeyError):
        record_of({**METHOD, name: "red"}, readings(1))


def test_a_list_that_is_empty_is_not_stated() -> None:
    assert stated_plain(record_of({**METHOD, "tested": []}, readings(1))) == METHOD


def test_nought_is_a_value_and_is_kept() -> None:
    stated = {**METHOD, "relative_humidity": 0.0, "test_voltage": 0.0}
    assert stated_plain(record_of(stated, readings(1))) == stated


# ----------------------------------------------------------------------------- where it came from
@pytest.mark.parametrize(
    "origin", (Origin(), Origin("a.csv", "a" * 64), Origin("b.xlsx", "b" * 64), Origin("b.xlsx", "b" * 64, 7))
)
def test_where_a_record_came_from_does_not_make_it_another(origin: Origin) -> None:
    plain = record_of(WHOLE, readings(2))
    assert content_id(record_of(WHOLE, readings(2), origin=origin)) == content_id(plain)


def test_what_was_noticed_while_reading_does_not_make_it_another() -> None:
    noticed = (Finding("read_as", "Thermal class F is read as 155."),)
    assert content_id(record_of(WHOLE, readings(2), findings=noticed)) == content_id(
        record_of(WHOLE, readings(2))
    )


def test_keys_the_reader_did_not_know_count() -> None:
    plain = record_of(WHOLE, readings(2))
    red, blue = (record_of(WHOLE, readings(2), extra={"paint": colour}) for colour in ("red", "blue"))
    assert len({content_id(one) for one in (plain, red, blue)}) == 3
    assert dict(red.extra) == {"paint": "red"}


def test_an_unknown_key_is_not_mistaken_for_a_known_one() -> None:
    known = record_of({**METHOD, "permit": "PTW-1"}, readings(1))
    unknown = record_of(METHOD, readings(1), extra={"permit": "PTW-1"})
    assert content_id(known) != content_id(unknown)


# ------------------------------------------------------------------------------------- the readings
@pytest.mark.parametrize("column", ("time", "voltage", "current", "resistance"))
@pytest.mark.parametrize("row", (0, 1, 2))
def test_one_other_figure_is_another_reading(column: str, row: int) -> None:
    changed = getattr(readings(3), column).copy()
    changed[row] = np.nextafter(changed[row], np.inf)
    assert readings_digest(readings(3, **{column: changed})) != readings_digest(readings(3))


@pytest.mark.parametrize("bound", (-1, 1))
@pytest.mark.parametrize("row", (0, 2))
def test_a_bound_is_another_reading(bound: int, row: int) -> None:
    bounds = np.zeros(3, np.int8)
    bounds[row] = bound
    assert readings_digest(readings(3, bound=bounds)) != readings_digest(readings(3))


@pytest.mark.parametrize("flag", ("voltage_assumed", "current_derived", "resistance_given"))
def test_a_mark_is_another_reading(flag: str) -> None:
    assert readings_digest(readings(3, **{flag: True})) != readings_digest(readings(3))


def test_no_two_sets_of_marks_are_alike() -> None:
    flags = ("voltage_assumed", "current_derived", "resistance_given")
    sets = [dict.fromkeys(chosen, True) for n in range(4) for chosen in combinations(flags, n)]
    assert len({readings_digest(readings(2, **one)) for one in sets}) == 8


def test_nothing_read_is_nothing_read_whatever_its_bits() -> None:
    quiet = np.array([1.0, np.nan, 3.0])
    other = quiet.copy()
    other.view(np.uint64)[1] = 0x7FF8_0000_0000_BEEF
    assert math.isnan(other[1])
    assert readings_digest(readings(3, current=quiet)) == readings_digest(readings(3, current=other))


def test_nothing_read_is_no_nought() -> None:
    one, other = np.array([1.0, np.nan]), np.array([1.0, 0.0])
    assert readings_digest(readings(2, current=one)) != readings_digest(readings(2, current=other))


def test_a_row_moved_from_one_column_to_the_next_is_seen() -> None:
    swapped = readings(3, voltage=readings(3).current * 2, current=readings(3).voltage)
    straight = readings(3, voltage=readings(3).voltage, current=readings(3).current * 2)
    assert readings_digest(swapped) != readings_digest(straight)


def test_the_order_of_rows_counts() -> None:
    time = np.array([2.0, 1.0, 3.0])
    assert readings_digest(readings(3, time=time)) != readings_digest(readings(3, time=np.sort(time)))


@pytest.mark.parametrize("dtype", ("<f8", ">f8", "<f4", "<i4"))
def test_how_a_machine_holds_numbers_does_not_count(dtype: str) -> None:
    whole = np.array([1.0, 2.0, 3.0])
    assert readings_digest(readings(3, time=whole.astype(dtype))) == readings_digest(readings(3, time=whole))


def test_no_rows_have_a_digest_too() -> None:
    assert len(readings_digest(readings(0))) == 64
    assert readings_digest(readings(0)) != readings_digest(readings(1))


# ---------------------------------------------------------------------------------- text and hashes
@pytest.mark.parametrize(
    ("text", "known"),
    (
        # FIPS 180-4 and its published example messages (from memory), each also by the standard library
        ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
    ),
)
def test_the_digest_is_sha_256(text: str, known: str) -> None:
    assert digest(text) == known
    assert digest(text.encode()) == known


def test_a_text_is_hashed_as_utf_8() -> None:
    assert digest("10 MΩ") == digest("10 M\u03a9".encode())
    assert digest("10 M\u03a9") != digest("10 M\u2126"), "two signs that look alike stay two texts"


@pytest.mark.parametrize(
    ("value", "text"),
    (
        ({"b": 1, "a": 2}, '{"a":2,"b":1}'),
        ([1, 2.5, "x"], '[1,2.5,"x"]'),
        ({"a": {"d": None, "c": True}}, '{"a":{"c":true,"d":null}}'),
        ("MΩ", '"MΩ"'),
        (1e22, "1e+22"),
        (0.1, "0.1"),
        ([], "[]"),
        ({}, "{}"),
    ),
)
def test_canonical_text(value: object, text: str) -> None:
    assert canonical(value) == text


@pytest.mark.parametrize("value", (math.nan, math.inf, -math.inf, [math.nan], {"a": math.inf}))
def test_what_is_no_number_has_no_canonical_text(value: object) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical(value)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(JSON)
def test_canonical_text_reads_back_and_is_a_fixed_point(value: Any) -> None:
    text = canonical(value)
    assert json.loads(text) == value
    assert canonical(json.loads(text)) == text


@given(st.dictionaries(st.text(max_size=6), st.integers(), min_size=1, max_size=6), st.randoms())
def test_canonical_text_does_not_know_an_order(value: dict[str, int], random: Any) -> None:
    items = list(value.items())
    random.shuffle(items)
    assert canonical(dict(items)) == canonical(value)


# -------------------------------------------------------------------------------------- the findings
FINDINGS = (
    Finding("sag", "The voltage fell.", Status.INVESTIGATE, "Look at the supply.", turns=True),
    Finding("read_as", "Thermal class F is read as 155."),
    Finding("calibration-near", "It ends soon.", None, "Plan it."),
    Finding("note", "Ω, µ and “quotes”.", Status.WATCH),
)


def test_findings_come_back_the_same() -> None:
    assert findings_of(findings_plain(FINDINGS)) == FINDINGS
    assert findings_of(json.loads(json.dumps(findings_plain(FINDINGS)))) == FINDINGS


@pytest.mark.parametrize("status", (None, *Status))
def test_a_finding_keeps_its_cap(status: Status | None) -> None:
    (plain,) = findings_plain([replace(FINDINGS[0], status=status)])
    assert plain["status"] == (None if status is None else str(status))
    (again,) = findings_of([plain])
    assert again.status is status


def test_a_status_nobody_knows_is_refused() -> None:
    (plain,) = findings_plain(FINDINGS[:1])
    with pytest.raises(ValueError, match="fine"):
        findings_of([plain | {"status": "fine"}])


# -------------------------------------------------------------------------------------------- times
@pytest.mark.parametrize(
    ("text", "value"),
    (
        ("2026-03-14", date(2026, 3, 14)),
        ("2026-03-14T09:20:00", datetime(2026, 3, 14, 9, 20)),  # noqa: DTZ001 - no zone stated
        ("2026-03-14T09:20:00+00:00", datetime(2026, 3, 14, 9, 20, tzinfo=UTC)),
        ("2026-03-14T09:20:00+02:00", datetime(2026, 3, 14, 9, 20, tzinfo=EAST)),
        ("2026-03-14T09:20:30.250000+02:00", datetime(2026, 3, 14, 9, 20, 30, 250_000, tzinfo=EAST)),
    ),
)
def test_a_moment_keeps_what_was_stated_of_it(text: str, value: date) -> None:
    found = value_of("started", text)
    assert found == value
    assert type(found) is type(value)
    assert plain_value("started", found) == text


def test_the_same_moment_in_another_zone_was_stated_otherwise() -> None:
    east, zulu = "2026-03-14T09:20:00+02:00", "2026-03-14T07:20:00+00:00"
    one, other = (record_of({**METHOD, "started": text}, readings(1)) for text in (east, zulu))
    assert one.test.started == other.test.started
    assert content_id(one) != content_id(other), "what was written is what is kept"


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_figure_is_kept_to_the_last_bit(value: float) -> None:
    record = record_of({**METHOD, "capacitance": value}, readings(1))
    again = json.loads(canonical(stated_plain(record)))
    assert record_of(again, readings(1)).test.capacitance == value
