"""Drying from whole records: one temperature, the shape, the estimate, the stop rule, the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import jsonschema
import numpy as np
import pytest

import typed
from soakage.app.contract_json import evaluation_json
from soakage.app.contract_schema import judge_schema
from soakage.app.evaluate import evaluate
from soakage.app.result import DryOut
from soakage.cli.text import evaluation_text
from soakage.model.record import Record
from soakage.standards.library import library

START = datetime.fromisoformat("2026-03-14T06:00:00+01:00")
HOUR = 3600.0
# Every asset and course is invented: thermoplastic insulation, halving per 10 K to 40 degC.
KEYS: dict[str, Any] = {
    **typed.MACHINE, "asset": "Invented motor", "insulation": "asphalt", "year": "1965", "purpose": "drying",
}  # fmt: skip


def read(hours: float, r40: float, warm: float = 40.0, index: float | None = 2.5, **more: Any) -> Record:
    """One reading of a drying: R60 at 40 degC [MOhm], the winding as warm as told [degC]."""
    r60 = r40 * 2 ** ((40 - warm) / 10)
    keys = {
        **KEYS, "started": (START + timedelta(hours=hours)).isoformat(), "winding_temperature": f"{warm:g} degC",
        **more,
    }  # fmt: skip
    if index is None:
        return typed.spot({**keys, "method": "insulation-resistance"}, f"{r60:.12g} MOhm")
    rows = [(15, 0.6 * r60), (30, 0.8 * r60), (60, r60), (600, r60 * index)]
    return typed.typed(keys, [(t, f"{r:.12g}") for t, r in rows], "time [s],resistance [MOhm]")


def course(hours: Sequence[float], tau: float = 8.0, level: float = 2000.0) -> list[float]:
    """Resistance at 40 degC [MOhm]: a fall to a minimum at 4 h, then an exponential rise of ln R to its level."""
    low = 0.1 * level
    fall = [low * (1 + 0.5 * max(0.0, 1 - h / 4)) for h in hours]
    return [
        f if h < 4 else level * float(np.exp(-np.log(10) * np.exp(-(h - 4) / tau)))
        for h, f in zip(hours, fall, strict=True)
    ]


def dried(hours: Sequence[float], index: float | None = 2.5, **more: Any) -> list[Record]:
    return [read(h, r, index=index, **more) for h, r in zip(hours, course(hours), strict=True)]


def only(records: Sequence[Record]) -> DryOut:
    (found,) = evaluate(records).dry_out
    return found


def test_a_drying_under_way_is_followed_and_foreseen() -> None:
    found = only(dried(np.arange(0, 25, 2.0).tolist()))
    assert found.stage == "rising"
    assert found.minimum == 2
    assert not found.stop
    assert found.time_constant is not None
    assert found.time_constant.value == pytest.approx(8 * HOUR, rel=0.02)
    assert found.level == pytest.approx(2e9, rel=0.02)
    # By hand: ln 10 exp(-x/8)(1 - exp(-12/8)) = ln 1.05 gives x, four hours after the start.
    expected = 4 + 8 * np.log(np.log(10) * (1 - np.exp(-1.5)) / np.log(1.05))
    assert found.levels_at is not None
    assert found.levels_at.value == pytest.approx(expected * HOUR, rel=0.02)
    assert "If nothing changes" in found.sentence
    assert "The stop rule is not met" in found.sentence


def test_a_large_machine_must_be_steady_longer_than_a_small_one() -> None:
    hours = np.arange(0, 41, 2.0).tolist()
    large, small = only(dried(hours)), only(dried(hours, rated_power="90 kW"))
    assert large.steady_needed == 12 * HOUR
    assert small.steady_needed == 5 * HOUR
    unknown = only(dried(hours, rated_power=None))
    assert unknown.steady_needed == 12 * HOUR
    assert small.stage == "steady"
    assert small.stop
    assert "The stop rule is met" in small.sentence
    assert "responsible engineer" in small.sentence


@pytest.mark.parametrize(
    ("index", "met", "said"),
    ((2.5, True, "meets its minimum"), (1.3, False, "does not meet"), (None, None, "no polarization index")),
)
def test_the_stop_rule_asks_for_the_index_too(index: float | None, met: bool | None, said: str) -> None:
    found = only(dried(np.arange(0, 61, 2.0).tolist(), index=index))
    assert found.stage == "steady"
    assert found.index_met is met
    assert found.stop is (met is True)
    assert said in found.sentence


def test_a_flat_minimum_is_not_dried() -> None:
    records = [
        read(h, r) for h, r in ((0, 900), (3, 400), (6, 201), (9, 200), (12, 201), (18, 200), (24, 201))
    ]
    found = only(records)
    assert found.stage == "at its minimum"
    assert not found.stop
    assert "steady there is not dried" in found.sentence


def test_only_values_at_one_temperature_are_compared() -> None:
    # Warming from 20 to 80 degC, the resistance at 40 degC unchanged: the reading falls 64-fold and nothing is wrong.
    records = [read(h, 500.0, warm=20 + 6 * h) for h in range(11)]
    found = only(records)
    assert found.rule
    assert found.base_temperature == pytest.approx(313.15)
    assert [p.resistance for p in found.points] == pytest.approx([5e8] * 11, rel=1e-9)
    assert found.points[-1].as_read < found.points[0].as_read / 60
    assert any("no failure" in caution for caution in found.cautions)


def test_too_few_readings_say_so() -> None:
    found = only(dried([0.0, 6.0]))
    assert found.stage == "too few readings"
    assert found.time_constant is None
    assert "2 readings so far" in found.reason
    assert found.reason in found.sentence


def test_a_record_alone_or_of_another_purpose_makes_no_drying() -> None:
    assert evaluate(dried([0.0])).dry_out == ()
    assert evaluate(dried([0.0, 6.0, 12.0], purpose="maintenance")).dry_out == ()


def test_what_can_not_be_used_is_named() -> None:
    records = dried([0.0, 2.0, 4.0])
    dateless = read(0.0, 300.0, started="2026-03-14")
    over = typed.spot(
        {**KEYS, "method": "insulation-resistance", "started": "2026-03-14T20:00:00+01:00"}, "> 10 TOhm"
    )
    untold = read(9.0, 300.0, winding_temperature=None)
    found = only([*records, dateless, over, untold])
    assert len(found.points) == 3
    left_out = [caution for caution in found.cautions if "left out" in caution]
    assert len(left_out) == 3
    assert any("time of day" in caution for caution in left_out)
    assert any("only a bound" in caution for caution in left_out)
    assert any("temperature of the others" in caution for caution in left_out)


def test_records_are_taken_by_time_whatever_their_order() -> None:
    records = dried(np.arange(0, 25, 2.0).tolist())
    assert only(records[::-1]).levels_at == only(records).levels_at
    assert [p.record for p in only(records[::-1]).points] == list(range(len(records)))[::-1]


def test_sections_are_followed_one_by_one() -> None:
    hours = [0.0, 2.0, 4.0, 6.0]
    both = [r for phase in ("U", "V") for r in dried(hours, section=phase, tested=phase, earthed="frame")]
    found = evaluate(both).dry_out
    assert [f.asset for f in found] == ["Invented motor, U", "Invented motor, V"]


@pytest.mark.parametrize(
    ("warm", "more", "said"),
    (
        ((20, 24, 28), {}, "Warm it slowly"),
        ((20, 34, 48), {}, "warmed by up to 7 K"),
        ((20, 46, 70), {}, "too fast"),
        ((85, 92, 92), {}, "reached 92"),
        ((70, 76, 76), {"rated_power": "90 kW"}, "reached 76"),
    ),
)
def test_temperature_and_rate_are_watched(warm: Sequence[float], more: dict[str, Any], said: str) -> None:
    # At most 90 degC (AEC-era manual, read), 75 degC for small sets (TM 5-6115-593-34, read).
    # About 5 K an hour, 10 at most (memory).
    records = [read(2.0 * k, 300.0, warm=t, **more) for k, t in enumerate(warm)]
    text = " ".join(only(records).cautions).replace("\N{NO-BREAK SPACE}", " ")
    assert said in text
    assert "Local codes and licensed practice come first" in text


def test_the_figures_of_the_rule_carry_their_status() -> None:
    lines = library().thresholds
    assert str(lines["dry-out.steady-large"].verified) == "memory"
    assert str(lines["dry-out.steady-change"].verified) == "practice"


def test_a_second_fall_is_seen() -> None:
    hours = np.arange(0, 25, 2.0).tolist()
    records = [*dried(hours), read(26, 900.0), read(28, 600.0)]
    found = only(records)
    assert found.stage == "falling again"
    assert found.levels_at is None
    assert "moisture coming in" in found.sentence


def test_it_is_printed_whole_and_fits_the_schema() -> None:
    evaluation = evaluate(dried(np.arange(0, 25, 2.0).tolist()))
    printed = evaluation_json(evaluation)
    jsonschema.validate(printed, judge_schema())
    (found,) = printed["dry_out"]
    assert found["points"][0]["at"] == "2026-03-14T06:00:00+01:00"
    assert found["levels_at"].keys() == {"value", "lower", "upper"}
    lines = "\n".join(evaluation_text(evaluation))
    assert "Drying: Invented motor" in lines
    assert "safe" not in " ".join((found["sentence"], *found["cautions"]))
