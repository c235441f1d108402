"""Assets, readings, records and statuses as plain frozen values."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from datetime import UTC, date, datetime
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from records import readings, record
from soakage.model.asset import Asset
from soakage.model.keys import KEYS
from soakage.model.record import Record
from soakage.model.test import Conditions, Instrument, Paper
from soakage.model.test import Test as Made
from soakage.model.verdict import Finding, QuantityValue, Status, capped, worst

LADDER = (Status.SOUND, Status.WATCH, Status.INVESTIGATE, Status.UNFIT)
BESIDE = (Status.NOT_APPLICABLE, Status.NOT_JUDGED, Status.INVALID_TEST)


# ---- statuses ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("status", "spelled"),
    tuple(
        zip(
            Status,
            ("sound", "watch", "investigate", "unfit", "not applicable", "not judged", "invalid test"),
            strict=True,
        )
    ),
)
def test_a_status_is_spelled_as_in_the_contract(status: Status, spelled: str) -> None:
    assert str(status) == spelled
    assert Status(spelled) is status


@pytest.mark.parametrize(
    ("status", "rung"), (*zip(LADDER, range(4), strict=True), *((s, -1) for s in BESIDE))
)
def test_the_rungs(status: Status, rung: int) -> None:
    assert status.rung == rung


@pytest.mark.parametrize(("first", "second"), tuple(product(Status, Status)))
def test_the_worst_of_two(first: Status, second: Status) -> None:
    found = worst((first, second))
    on_ladder = [s for s in (first, second) if s in LADDER]
    assert found == (max(on_ladder, key=LADDER.index) if on_ladder else None)
    assert worst((second, first)) == found


def test_the_worst_of_nothing_is_nothing() -> None:
    assert worst(()) is None
    assert worst(BESIDE) is None


@pytest.mark.parametrize(("status", "cap"), tuple(product(Status, (None, *LADDER))))
def test_a_cap_lowers_and_never_raises(status: Status, cap: Status | None) -> None:
    found = capped(status, cap)
    if status in BESIDE or cap is None:
        assert found is status
    else:
        assert found.rung == min(status.rung, cap.rung)


# ---- readings ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize("column", ("voltage", "current", "resistance", "bound"))
@pytest.mark.parametrize("shape", ((2,), (4,), (3, 1), ()))
def test_columns_of_another_shape_are_refused(column: str, shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match=column):
        readings(3, **{column: np.zeros(shape)})


def test_two_dimensions_are_refused() -> None:
    with pytest.raises(ValueError, match="one row each"):
        readings(2, time=np.zeros((2, 1)))


@pytest.mark.parametrize("column", ("time", "voltage", "current", "resistance", "bound"))
def test_readings_cannot_be_changed(column: str) -> None:
    stated = readings(3)
    with pytest.raises(ValueError, match="read-only"):
        getattr(stated, column)[0] = 5


@pytest.mark.parametrize("count", (0, 1, 600))
def test_readings_have_a_length(count: int) -> None:
    assert len(readings(count)) == count


def test_readings_are_equal_row_by_row_empty_ones_included() -> None:
    gaps = np.array([1.0, np.nan, 3.0])
    assert readings(3, current=gaps) == readings(3, current=gaps.copy())
    assert readings(3, current=gaps) != readings(3)
    assert readings(3) != readings(2)
    assert readings(3) != "readings"


@pytest.mark.parametrize("flag", ("voltage_assumed", "current_derived", "resistance_given"))
def test_marks_make_readings_differ(flag: str) -> None:
    assert readings(3, **{flag: True}) != readings(3)


@pytest.mark.parametrize("column", ("time", "voltage", "current", "resistance", "bound"))
@given(place=st.integers(0, 4))
def test_one_other_row_makes_readings_differ(column: str, place: int) -> None:
    changed = getattr(readings(5), column).copy()
    changed[place] += 1
    assert readings(5, **{column: changed}) != readings(5)


# ---- assets and records -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("stated", "title"),
    (
        ({}, "unnamed asset"),
        ({"name": "Pump 3 motor", "tag": "M-3", "serial": "77"}, "Pump 3 motor"),
        ({"tag": "M-3", "serial": "77"}, "M-3"),
        ({"serial": "77", "circuit": "Kitchen"}, "77"),
        ({"circuit": "Kitchen"}, "Kitchen"),
        ({"site": "Works"}, "unnamed asset"),
    ),
)
def test_the_name_a_person_would_use(stated: dict[str, str], title: str) -> None:
    assert Asset(**stated).title == title  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stated", "title"),
    (
        ({"name": "Motor", "section": "U"}, "Motor, U"),
        ({"circuit": "Kitchen", "between": "L-PE"}, "Kitchen, L-PE"),
        ({"name": "Board", "circuit": "Kitchen", "between": "L-N"}, "Board, Kitchen, L-N"),
        ({"name": "U", "section": "U"}, "U"),
        ({}, "unnamed asset"),
    ),
)
def test_the_title_of_a_record(stated: dict[str, str], title: str) -> None:
    assert record(**stated).title == title  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("started", "day"),
    (
        (None, None),
        (date(2026, 3, 14), date(2026, 3, 14)),
        (datetime(2026, 3, 14, 23, 59, tzinfo=UTC), date(2026, 3, 14)),
    ),
)
def test_the_day_of_a_record(started: date | None, day: date | None) -> None:
    stated = Record(Asset(), Made("ramp", started=started), readings())
    assert stated.day == day


@pytest.mark.parametrize("value", (Asset(), Made("ramp"), Paper(), Conditions(), Instrument(), record()))
def test_values_are_frozen(value: object) -> None:
    name = next(iter(type(value).__dataclass_fields__))  # type: ignore[attr-defined]
    with pytest.raises(FrozenInstanceError):
        setattr(value, name, "changed")


def test_what_is_stated_comes_in_the_order_of_the_table_and_without_gaps() -> None:
    stated = replace(
        record(("U",), ("frame",), name="Motor", asset_class="rotating-machine", rated_voltage=6600.0),
        conditions=Conditions(winding_temperature=300.65, relative_humidity=0.0),
        paper=Paper(visit="spring"),
    ).stated()
    assert list(stated) == [name for name in KEYS if name in stated]
    assert stated["asset"] == "Motor"
    assert stated["class"] == "rotating-machine"
    assert stated["winding_temperature"] == 300.65
    assert stated["relative_humidity"] == 0.0, "nought is a value"
    assert "insulation_temperature" not in stated, "one quantity, one name"
    assert "guarded" not in stated
    assert "year" not in stated


def test_an_empty_record_states_its_method_only() -> None:
    assert record().stated() == {"method": "insulation-resistance"}


@pytest.mark.parametrize(
    ("word", "family"),
    ((None, None), ("epoxy-mica", "thermosetting"), ("shellac", "thermoplastic"), ("paper", None)),
)
def test_the_family_of_an_insulation(word: str | None, family: str | None) -> None:
    assert Asset(insulation=word).insulation_family == family


def test_quantities_and_findings_default_to_what_is_not_known() -> None:
    value = QuantityValue("polarization_index", 2.0)
    assert (value.bound, value.uncertainty, value.rule, value.base_temperature) == (None,) * 4
    assert dict(value.inputs) == {}
    finding = Finding("sag", "The voltage fell.")
    assert (finding.status, finding.remedy, finding.turns) == (None, "", False)
