"""Records of any content, for tests that what is written reads back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import numpy as np
from hypothesis import strategies as st

from importing import without_origin
from soakage.methods import methods
from soakage.model.asset import Asset
from soakage.model.keys import CLASSES, KEYS, Key, Kind
from soakage.model.readings import LOWER, UPPER, VALUE, Readings
from soakage.model.record import Record
from soakage.model.test import Accuracy, Conditions, Instrument, Paper, PreviousTest, Step, VoltageFound
from soakage.model.test import Test as Stated

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


extras = st.dictionaries(st.from_regex(r"x_[a-z]{1,6}", fullmatch=True), st.text(max_size=20), max_size=2)
any_records = st.builds(built, stated(), readings(), extras)
