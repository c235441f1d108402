"""A forecast held against the complete tests of a site: which count, from which look, and what is said of them."""

from __future__ import annotations

from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from soakage.app.archive import FIRST_MARK, INDEX_MARK, Backing, backing_sentence, complete_tests, look, upto
from soakage.app.contract_json import evaluation_json
from soakage.app.contract_schema import judge_schema
from soakage.app.evaluate import evaluate
from soakage.app.result import Forecast
from soakage.app.rules import default_rules
from soakage.model.record import Record
from soakage.physics.conformal import FEWEST_TESTS, archive_scale
from soakage.physics.currents import staircase_current
from soakage.physics.forecast import forecast_index
from typed import HEALTHY, MACHINE, machine, sampled, typed

TIME = np.concatenate([np.arange(5.0, 121.0, 5.0), np.arange(130.0, 601.0, 10.0)])


def winding(seed: int, until: float = 600.0, **more: str | None) -> Record:
    """Readings of a simulated winding, exponent and leakage drawn anew, with 1 % of noise."""
    rng = np.random.default_rng(seed)
    response = replace(HEALTHY, absorption_exponent=rng.uniform(0.6, 1.0), conductance=rng.uniform(0.0, 1e-9))
    time = TIME[until >= TIME]
    current = staircase_current(response, time, [0.0], [5e3]) * (1 + 0.01 * rng.standard_normal(time.size))
    rows = [(f"{t:g}", 5000, f"{i:.9g}") for t, i in zip(time, current, strict=True)]
    return typed({**MACHINE, **more}, rows, "time [s],voltage [V],current [A]")


ARCHIVE = tuple(winding(seed) for seed in range(FEWEST_TESTS + 2))
SHORT = winding(99, until=120.0)


def foreseen(archive: tuple[Record, ...] | None, record: Record = SHORT) -> Forecast:
    found = evaluate([record], archive=archive).records[0].forecast
    assert found is not None
    return found


def test_the_band_is_rescaled_by_tests_seen_up_to_the_same_time() -> None:
    plain, rescaled = foreseen(None), foreseen(ARCHIVE)
    # The same worked by hand from the readings, without the archive of the application.
    seen = [
        (r.readings.time <= 120.0, r.readings, r.readings.current[11] / r.readings.current[-1])
        for r in ARCHIVE
    ]
    assert TIME[11] == FIRST_MARK
    assert TIME[-1] == INDEX_MARK
    made = [forecast_index(r.time[early], r.current[early]) for early, r, _ in seen]
    expected = archive_scale(made, [index for *_, index in seen])
    assert rescaled.archive_tests == len(ARCHIVE) == expected.tests
    assert rescaled.scale == pytest.approx(expected.scale)
    assert rescaled.estimate == pytest.approx(plain.estimate)
    for end in ("lower", "upper"):
        off, was = (np.log(getattr(f, end) / f.estimate) for f in (rescaled, plain))
        assert off == pytest.approx(expected.scale * was, rel=1e-6)


def test_the_probability_follows_the_rescaled_band() -> None:
    plain, rescaled = foreseen(None, winding(3, 90.0)), foreseen(ARCHIVE, winding(3, 90.0))
    assert rescaled.scale < 1.0, "the model is wider than these tests need"
    assert plain.probability_meets is not None
    assert rescaled.probability_meets is not None
    assert abs(rescaled.probability_meets - 0.5) >= abs(plain.probability_meets - 0.5) - 1e-9


def test_too_few_tests_rescale_nothing_and_are_counted() -> None:
    plain, few = foreseen(None), foreseen(ARCHIVE[: FEWEST_TESTS - 1])
    assert (few.archive_tests, few.scale) == (FEWEST_TESTS - 1, 1.0)
    assert (few.lower, few.estimate, few.upper) == (plain.lower, plain.estimate, plain.upper)
    assert "fewer than the 20" in backing_sentence(few)
    assert "not rescaled" in backing_sentence(few)


def test_without_an_archive_nothing_is_said_of_one() -> None:
    plain = foreseen(None)
    assert plain.archive_tests is None
    assert plain.scale == 1.0
    assert backing_sentence(plain) == ""


def test_an_empty_archive_is_said_to_hold_none() -> None:
    empty = foreseen(())
    assert empty.archive_tests == 0
    assert backing_sentence(empty).startswith("0 complete tests")


def test_the_sentence_says_how_many_and_promises_no_single_machine() -> None:
    said = backing_sentence(foreseen(ARCHIVE))
    assert f"from {len(ARCHIVE)} complete tests of this class" in said
    assert "not for one machine" in said
    assert "1 complete test of" in backing_sentence(foreseen(ARCHIVE[:1]))


@pytest.mark.parametrize(
    "record",
    (
        SHORT,
        winding(1, ended="tripped"),
        machine(435.0, volts=5000.0, method="insulation-resistance"),
        machine(435.0, volts=5000.0, method="step-voltage"),
    ),
    ids=("ended early", "tripped", "a spot reading", "steps"),
)
def test_what_is_no_complete_test_does_not_count(record: Record) -> None:
    assert complete_tests([record], default_rules()).tests == ()


def test_a_complete_test_keeps_the_index_its_readings_give() -> None:
    (test,) = complete_tests([ARCHIVE[0]], default_rules()).tests
    current = ARCHIVE[0].readings.current
    assert test.index == pytest.approx(current[11] / current[-1])
    assert test.asset_class == "rotating-machine"


def test_a_test_of_few_readings_is_complete_but_says_nothing_of_an_early_look() -> None:
    marks = complete_tests([machine(435.0, volts=5000.0)] * 30, default_rules())
    assert len(marks.tests) == 30
    assert marks.backing("rotating-machine", 120.0) == Backing(0, 1.0)


def test_tests_of_another_class_do_not_count() -> None:
    kept = complete_tests(ARCHIVE, default_rules())
    assert kept.backing("rotating-machine", 120.0).tests == len(ARCHIVE)
    assert kept.backing("cable", 120.0) == Backing(0, 1.0)


def test_a_look_ends_where_the_record_at_hand_ended() -> None:
    kept = complete_tests(ARCHIVE, default_rules())
    early, late = (kept.backing("rotating-machine", at) for at in (80.0, 300.0))
    assert early.tests == late.tests
    assert early.scale != late.scale
    assert kept.backing("rotating-machine", 80.0) is early, "worked out once"


def test_readings_that_a_forecast_cannot_use_are_left_out() -> None:
    (test,) = complete_tests([ARCHIVE[0]], default_rules()).tests
    assert look(None) is None
    assert upto(test.readings, 59.0) is None, "ends before the first mark"
    assert upto(test.readings, 60.0) is None, "12 readings are too few"
    enough = upto(test.readings, 75.0)
    assert enough is not None
    assert enough.time[-1] == 75.0


def test_a_short_record_of_a_few_readings_is_judged_without_a_forecast() -> None:
    rows = [(t, 5000, f"{1e-5 * (t / 60) ** -0.8 + 1.5e-6:.6g}") for t in range(10, 101, 10)]
    record = typed(MACHINE, rows, "time [s],voltage [V],current [A]")
    evaluated = evaluate([record]).records[0]
    assert evaluated.forecast is None
    assert str(evaluated.verdict.status) == "not judged"


def test_the_archive_is_judged_nowhere() -> None:
    whole = evaluate([SHORT], archive=ARCHIVE)
    assert len(whole.records) == 1
    assert [str(e.verdict.status) for e in whole.records] == [
        str(e.verdict.status) for e in evaluate([SHORT]).records
    ]
    assert all("forecast" not in j.criterion for j in whole.records[0].judgements)


@pytest.mark.parametrize("archive", (None, (), ARCHIVE))
def test_the_json_tells_it(archive: tuple[Record, ...] | None) -> None:
    printed = evaluation_json(evaluate([SHORT], archive=archive))
    jsonschema.validate(printed, judge_schema())
    forecast = printed["records"][0]["forecast"]
    assert forecast["archive_tests"] == (None if archive is None else len(archive))
    assert (forecast["scale"] == 1.0) == (not archive)


def test_the_schema_asks_for_both_keys() -> None:
    printed = evaluation_json(evaluate([SHORT]))
    for key in ("archive_tests", "scale"):
        lacking = {k: v for k, v in printed["records"][0]["forecast"].items() if k != key}
        broken = {**printed, "records": [{**printed["records"][0], "forecast": lacking}]}
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, judge_schema())


def test_a_complete_record_has_no_forecast_whatever_the_archive() -> None:
    assert evaluate([sampled()], archive=ARCHIVE).records[0].forecast is None
