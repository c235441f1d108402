"""``trend --json`` in the shape of the contract, held by its schema."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from histories import LIBRARY, QUANTITY, TODAY, limit, point, yearly
from soakage import __version__
from soakage.app.due import due_tests
from soakage.app.history import AssetEvent, Happening, HistoryPoint
from soakage.app.peers import Kin, Peer, Peers
from soakage.app.trend import trends
from soakage.app.trend_json import trend_json
from soakage.app.trend_schema import trend_schema, work_list_schema
from soakage.units import Bound

KIN = Kin("rotating-machine", 6600.0)
OTHERS = Peers(KIN, tuple(Peer(f"a{k}", KIN, point(date(2020, 1, 1), 1e8 * (k + 1))) for k in range(12)))


def answer(
    points: list[HistoryPoint], events: tuple[AssetEvent, ...] = (), peers: Peers | None = None
) -> Any:
    found = trends(points, events, limit(), peers, library=LIBRARY, today=TODAY)
    made = trend_json({"name": "Pump 3"}, found, due_tests("Pump 3", found, LIBRARY))
    return json.loads(json.dumps(made, allow_nan=False))


def closed(shape: Any) -> Any:
    if isinstance(shape, list):
        return [closed(part) for part in shape]
    if not isinstance(shape, dict):
        return shape
    inner = {key: closed(value) for key, value in shape.items()}
    if "properties" in inner:
        inner["additionalProperties"] = False
    return inner


SEASONS = [point(date(2010 + k // 2, 1 + 6 * (k % 2), 1), 1e9 + 4e8 * (k % 2) + 1e6 * k) for k in range(16)]
STEPPED = [replace(p, value=p.value * (0.2 if k > 6 else 1)) for k, p in enumerate(yearly(12, slope=0.0))]
CASES: dict[str, tuple[list[HistoryPoint], tuple[AssetEvent, ...], Peers | None]] = {
    "falling": (yearly(12, slope=-0.2, scatter=0.02), (), OTHERS),
    "none": ([], (), None),
    "one": (yearly(1), (), OTHERS),
    "rewound": (yearly(12), (AssetEvent(date(2016, 1, 1), Happening.REWIND, "new coils"),), None),
    "sisters": ([*yearly(12), *yearly(12, section="V", seed=4)], (), None),
    "over range": ([replace(p, bound=Bound.LOWER) for p in yearly(8)], (), OTHERS),
    "humid": ([replace(p, relative_humidity=0.3 + 0.05 * k) for k, p in enumerate(yearly(12))], (), None),
    "seasons": (SEASONS, (), None),
    "stepped": (STEPPED, (), None),
    "plain": ([point(date(2010 + k, 1, 1), 0.01 * k, quantity="voltage_dependence") for k in range(7)], (), None),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_every_answer_fits_the_schema_and_nothing_in_it_is_unnamed(name: str) -> None:
    errors = Draft202012Validator(closed({**trend_schema(), "properties": {
        **trend_schema()["properties"], "asset": {}}})).iter_errors(answer(*CASES[name]))  # fmt: skip
    assert [f"{error.json_path}: {error.message[:120]}" for error in errors] == []


def test_the_cases_fill_every_part() -> None:
    whole = [trend for case in CASES.values() for trend in answer(*case)["trends"]]
    for key in whole[0]:
        values = [trend[key] for trend in whole]
        # rule and such are always there; the rest must be seen filled.
        assert any(value not in (None, [], {}) for value in values), key
    assert any(trend["season"]["p"] < 0.05 for trend in whole if trend["season"])


def test_schemas_are_schemas() -> None:
    for made in (trend_schema(), work_list_schema()):
        Draft202012Validator.check_schema(made)


def test_the_keys_of_the_contract() -> None:
    given = answer(*CASES["falling"])
    assert (given["soakage"], given["contract"], given["asset"]) == (__version__, 1, {"name": "Pump 3"})
    trend = given["trends"][0]
    assert (trend["section"], trend["quantity"], trend["transform"]) == ("U", QUANTITY, "ln")
    assert (trend["rule"], trend["base_temperature"]) == ("halving-10k", 313.15)
    assert set(trend["points"][0]) == {"test", "at", "value", "bound", "uncertainty", "status", "suspect"}
    slope = trend["slope_per_year"]
    assert slope["lower"] < slope["value"] < slope["upper"] < 0
    assert slope["value"] == pytest.approx(-0.2, abs=0.01)
    assert set(trend["reaches"]) == {"criterion", "limit", "date", "lower", "upper"}
    assert trend["reaches"]["lower"] < trend["reaches"]["date"] < trend["reaches"]["upper"]
    assert trend["reason"] is None
    assert "can not predict time to failure" in trend["caution"]


def test_where_no_date_can_be_given_reaches_is_null_and_reason_says_why() -> None:
    trend = answer(*CASES["one"])["trends"][0]
    assert trend["reaches"] is None
    assert trend["slope_per_year"] is None
    assert trend["reason"].startswith("Not enough readings: 1,")
    assert trend["falls"] == {"from_last": None, "from_first": None}


def test_an_earlier_series_keeps_its_points_and_its_end() -> None:
    (earlier,) = answer(*CASES["rewound"])["trends"][0]["earlier_series"]
    assert (earlier["from"], earlier["to"]) == ("2010-05-01", "2015-05-01")
    assert len(earlier["points"]) == 6
    assert earlier["ended_by"] == "rewind on 2016-01-01: new coils"


def test_bounds_are_spelled_as_in_the_contract() -> None:
    trend = answer(*CASES["over range"])["trends"][0]
    assert {p["bound"] for p in trend["points"]} == {"lower"}
    assert trend["peers"]["lower"] < trend["peers"]["upper"]


def test_no_points_are_an_empty_answer() -> None:
    given = answer(*CASES["none"])
    assert (given["trends"], given["due"]) == ([], [])


def test_the_work_list_stands_beside() -> None:
    (item,) = answer(*CASES["falling"])["due"]
    assert (item["asset"], item["section"], item["last_status"], item["last"]) == (
        "Pump 3",
        "U",
        "sound",
        "2021-05-01",
    )
    assert item["due"] > item["last"]
