"""What is written reads back to the same record, whatever its values."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from importing import FULL, MINIMAL, TABLE, only_fault, read_all, read_one, without_origin
from soakage.errors import UsageError
from soakage.importers.values import Value
from soakage.importers.write_record import (
    header_line,
    header_values,
    record_text,
    schedule_text,
    sheet_text,
)
from soakage.methods import methods
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES, KEYS, Key, Kind
from soakage.model.readings import LOWER, UPPER, VALUE, Readings
from soakage.model.record import Record
from soakage.model.test import Accuracy, Conditions, Instrument, Paper, PreviousTest, Step, VoltageFound
from soakage.model.test import Test as Stated

FORMS = ((",", False), (";", False), (";", True), ("\t", False), ("\t", True))
texts = st.text(min_size=1, max_size=30).filter(lambda t: t.strip() == t and t)
names = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), min_size=1, max_size=8)
sizes = st.floats(1e-9, 1e12, allow_subnormal=False)
zones = st.one_of(st.just(UTC), st.integers(-12, 14).map(lambda h: timezone(timedelta(hours=h))))
clocks = st.datetimes(datetime(1900, 1, 1), datetime(2190, 1, 1))  # noqa: DTZ001 - with and without a zone
whens = st.one_of(
    st.dates(date(1900, 1, 1), date(2190, 1, 1)),
    clocks,
    st.builds(lambda clock, zone: clock.replace(tzinfo=zone), clocks, zones),
)


def figures(key: Key) -> st.SearchStrategy[float]:
    if key.dimension == "temperature":
        return st.floats(1.0, 1000.0)
    return st.floats(0.001, 1.0) if key.dimension == "humidity" else sizes


def values(key: Key) -> st.SearchStrategy[Any]:
    kinds: dict[Kind, st.SearchStrategy[Any]] = {
        Kind.TEXT: texts,
        Kind.WORD: st.sampled_from(key.words or ("",)),
        Kind.NUMBER: figures(key),
        Kind.YEAR: st.integers(1900, 2100),
        Kind.DATE: st.dates(date(1900, 1, 1), date(2190, 1, 1)),
        Kind.WHEN: whens,
        Kind.LIST: st.lists(names, min_size=1, max_size=4).map(tuple),
        Kind.NUMBERS: st.dictionaries(names, sizes, min_size=1, max_size=3),
        Kind.STEPS: st.lists(st.floats(0, 1e5), min_size=1, max_size=4, unique=True).map(
            lambda edges: tuple(Step(edge, 1000.0 + edge) for edge in sorted(edges))
        ),
        Kind.ACCURACY: st.lists(
            st.builds(Accuracy, sizes, st.floats(0.001, 1), st.none(), sizes), min_size=1, max_size=3
        ).map(tuple),
        Kind.VOLTAGE_FOUND: st.builds(VoltageFound, sizes, st.none() | sizes, st.none() | st.floats(1, 400)),
        Kind.PREVIOUS_TEST: st.builds(PreviousTest, sizes, sizes, sizes),
    }
    return kinds[key.kind]


@st.composite
def stated(draw: st.DrawFn) -> dict[str, dict[str, Any]]:
    parts: dict[str, dict[str, Any]] = {
        "asset": {},
        "paper": {},
        "conditions": {},
        "test": {},
        "instrument": {},
    }
    chosen = draw(st.lists(st.sampled_from(list(KEYS)), max_size=12, unique=True))
    for name in chosen:
        key = KEYS[name]
        if name not in ("steps", "hold", "discharge_started"):
            parts[key.part][key.field] = draw(values(key))
    parts["asset"]["asset_class"] = draw(st.sampled_from(CLASSES))
    parts["test"]["method"] = draw(
        st.sampled_from([m for m in methods() if m not in ("ramp", "step-voltage")])
    )
    return parts


@st.composite
def readings(draw: st.DrawFn) -> Readings:
    count = draw(st.integers(1, 6))

    def column(low: float, high: float) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.array(draw(st.lists(st.floats(low, high), min_size=count, max_size=count)))

    time = np.cumsum(column(0.1, 1000.0))
    voltage, bound = (
        column(1.0, 1e5),
        np.array(
            draw(st.lists(st.sampled_from((VALUE, LOWER, UPPER)), min_size=count, max_size=count)), np.int8
        ),
    )
    if draw(st.booleans()):
        current = column(1e-12, 1e-2)
        return Readings(time, voltage, current, voltage / current, bound)
    resistance = column(1e3, 1e14)
    return Readings(
        time, voltage, voltage / resistance, resistance, bound, current_derived=True, resistance_given=True
    )


def built(parts: dict[str, dict[str, Any]], rows: Readings, extra: dict[str, str]) -> Record:
    return Record(
        Asset(**parts["asset"]), Stated(**parts["test"]), rows, Conditions(**parts["conditions"]),
        Instrument(**parts["instrument"]), Paper(**parts["paper"]), extra=extra,
    )  # fmt: skip


def bare(record: Record) -> Record:
    return replace(without_origin(record), findings=())


@settings(max_examples=150, deadline=None)
@given(
    stated(),
    readings(),
    st.dictionaries(st.from_regex(r"x_[a-z]{1,6}", fullmatch=True), st.text(max_size=20), max_size=2),
    st.sampled_from(FORMS),
)
def test_any_record_reads_back(
    parts: dict[str, dict[str, Any]], rows: Readings, extra: dict[str, str], form: tuple[str, bool]
) -> None:
    record = built(parts, rows, extra)
    written = record_text(record, delimiter=form[0], decimal_comma=form[1])
    again = read_one(written)
    assert bare(again) == bare(record)
    assert record_text(again, delimiter=form[0], decimal_comma=form[1]) == written


@pytest.mark.parametrize(("delimiter", "comma"), FORMS)
def test_the_example_reads_back(delimiter: str, comma: bool) -> None:
    record = read_one(FULL + TABLE)
    again = read_one(record_text(record, delimiter=delimiter, decimal_comma=comma))
    assert without_origin(again) == without_origin(record)


@pytest.mark.parametrize(
    "table",
    (
        "time [s],current [uA]\n15,2\n60,\n",
        "time [s],resistance [MOhm]\n15,0.00\n60,> 10 TOhm\n",
        "resistance [MOhm]\n300\n",
        "time [s],voltage [V],current [uA]\n15,5000,< 0.01\n60,5000,-1\n",
        "time [s],voltage [V],current [uA],resistance [GOhm]\n15,5000,2,\n60,,1,5\n90,5000,,> 7\n",
        "time [s],voltage [V],current [uA]\n15,-5000,-2\n",
    ),
)
@pytest.mark.parametrize(
    "header", ("", "# test_voltage = 5 kV\n", "# test_voltage = 5 kV\n# discharge_started = 50 s\n")
)
def test_marks_and_gaps_read_back(header: str, table: str) -> None:
    record = read_one(MINIMAL + header + table)
    assert bare(read_one(record_text(record))) == bare(record)


def test_steps_and_holds_read_back() -> None:
    header = MINIMAL.replace("polarization-index", "step-voltage")
    for table in (
        "# hold = 60 s\nvoltage [kV],current [uA]\n1,1\n2,2.5\n",
        (
            '# steps = [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]\n'
            "time [s],current [uA]\n60,1\n120,2\n"
        ),
    ):
        record = read_one(header + table)
        assert bare(read_one(record_text(record))) == bare(record)


def test_figures_are_written_short() -> None:
    text = record_text(read_one(FULL + TABLE))
    assert "time [s],voltage [V],current [uA]\n15,5003,31.8\n30,5002,22.1\n" in text
    assert '# rated_voltage = "6.6 kV"\n' in text
    assert "# started = 2026-03-14T09:20:00+02:00\n" in text
    assert '# tested = ["U", "V", "W"]\n' in text


@pytest.mark.parametrize(("delimiter", "comma"), ((",", True), ("|", False), ("", False)))
def test_delimiters_that_cannot_be(delimiter: str, comma: bool) -> None:
    with pytest.raises(UsageError, match="semicolon"):
        record_text(read_one(MINIMAL + TABLE), delimiter=delimiter, decimal_comma=comma)


def test_unknown_keys_are_written_back() -> None:
    assert header_values(read_one(f'{MINIMAL}# works number = "A = 7"\n{TABLE}'))["works number"] == "A = 7"
    assert header_line("works number", "A = 7") == '# works number = "A = 7"'


def test_a_sheet_to_fill_in() -> None:
    stated_keys: dict[str, Value] = {
        "class": "rotating-machine",
        "method": "polarization-index",
        "asset": "",
        "tested": ["U", "V"],
    }
    text = sheet_text(stated_keys, [15, 30, 60, 600])
    assert text.startswith("# soakage = 1\n")
    assert "# asset =\n" in text
    assert text.endswith("time [s],voltage [V],current [uA]\n15,,\n30,,\n60,,\n600,,\n")
    assert "no readings yet" in only_fault(text).problem
    filled = text.replace("15,,", "15,5000,3").replace("60,,", "60,5000,2")
    record = read_one(filled)
    assert record.readings.resistance[0] == 5000 / 3e-6
    assert np.isnan(record.readings.resistance).tolist() == [False, True, False, True]
    assert record.test.tested == ("U", "V")


def test_a_sheet_for_a_spreadsheet_of_the_semicolon() -> None:
    text = sheet_text(
        {"class": "cable", "method": "cable-core"}, [60], ["time [s]", "resistance [MOhm]"], delimiter=";"
    )
    assert text.endswith("time [s];resistance [MOhm]\n60;\n")
    with pytest.raises(UsageError):
        sheet_text({}, [60], delimiter="/")


def test_a_schedule_to_fill_in_reads_back_with_delimiters_in_its_names() -> None:
    keys: dict[str, Value] = {
        "class": "low-voltage-installation",
        "method": "circuit",
        "test_voltage": "500 V",
    }
    rows = [["Hall, north", "L-PE", "> 200"], ["Oven; grill", "N-PE", "12.5"]]
    for delimiter in (",", ";", "\t"):
        text = schedule_text(keys, rows, ["circuit", "between", "resistance [MOhm]"], delimiter=delimiter)
        records = read_all(text)
        assert [record.asset.circuit for record in records] == ["Hall, north", "Oven; grill"]
        assert [record.readings.resistance[0] for record in records] == [200e6, 12.5e6]
