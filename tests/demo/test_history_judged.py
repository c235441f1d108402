"""Each invented asset against its expectation, the two editions that judged one of them, and the physics of a test."""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from demo_history import evaluated, line, of, records, section_of, truths
from soakage.app.evaluate import evaluate
from soakage.app.rules import Rules
from soakage.demo.history import edition_profile
from soakage.model.verdict import Status
from soakage.physics.absorption import absorption_ratio_model
from soakage.standards.library import library
from soakage.standards.profile import embedded_profile, read_profile

EXPECTED: dict[str, dict[str, Any]] = tomllib.loads(
    Path(__file__).with_name("history_expected.toml").read_text("utf-8")
)


def test_every_asset_has_its_expectation() -> None:
    assert list(EXPECTED) == list(truths())


@pytest.mark.parametrize("asset", EXPECTED)
def test_asset_is_what_it_is_expected_to_be(asset: str) -> None:
    wanted, truth, entries = EXPECTED[asset], truths()[asset], of(asset)
    assert truth.asset_class == wanted["class"]
    assert (truth.rule or "") == wanted["rule"]
    assert len(truth.sections) == wanted["sections"]
    assert len({entry.record.day for entry in entries}) == wanted["visits"]
    assert len(entries) == wanted["visits"] * wanted["sections"]
    assert list(dict.fromkeys(entry.record.test.method for entry in entries)) == wanted["methods"]


@pytest.mark.parametrize("asset", EXPECTED)
def test_asset_is_judged_as_expected(asset: str) -> None:
    assert Counter(str(entry.verdict.status) for entry in of(asset)) == EXPECTED[asset]["verdicts"]


@pytest.mark.parametrize("asset", EXPECTED)
def test_nothing_is_said_against_a_test_that_was_made_well(asset: str) -> None:
    # Kept by hand says little, an asset beyond the range is beyond it, a damp surface is one; nothing else.
    allowed = {"time_not_stated", "humidity_missing", "terminals_not_given", "over_range", "surface_not_dry"}
    codes = {finding.code for entry in of(asset) for finding in entry.findings}
    assert codes <= allowed
    if "time_not_stated" in codes:
        assert truths()[asset].kept_by_hand_until is not None
    assert ("over_range" in codes) == (truths()[asset].top is not None)
    assert ("surface_not_dry" in codes) == (truths()[asset].season is not None)


# The edition


def test_the_two_editions_disagree_about_the_armature() -> None:
    # 100 MOhm in the edition of 2000, 5 MOhm in that of 2013: IEEE Std 43, cl. 12.3 (secondary).
    truth = truths()["Hoist drive armature"]
    own = [r for r in records() if r.asset.name == truth.asset]
    profile = read_profile("edition-2000.toml", edition_profile().encode(), library(), embedded_profile)
    older = evaluate(own, Rules(profile, library())).records
    newer = of(truth.asset)
    change = truth.edition_change
    assert change is not None
    assert {e.verdict.status for e in older} == {Status.UNFIT}
    assert {e.verdict.status for e in newer} == {Status.SOUND}
    for entries, document, limit in ((older, change.before, 100e6), (newer, change.after, 5e6)):
        for entry in entries:
            (deciding,) = [j for j in entry.judgements if j.decides]
            assert deciding.criterion.startswith(document)
            assert deciding.limit is not None
            assert deciding.limit.lower == pytest.approx(limit)
    assert {e.quantities[truth.quantity].rule for e in older} == {"ieee-43-2000.halving"}


def test_the_record_says_which_edition_judged_it() -> None:
    truth = truths()["Hoist drive armature"]
    change = truth.edition_change
    assert change is not None
    said = []
    for entry in of(truth.asset):
        assert entry.record.day is not None
        document = change.before if entry.record.day < change.day else change.after
        assert f"judged this by {document}." in (entry.record.paper.notes or "")
        said.append(document)
    assert set(said) == {change.before, change.after}
    assert said == sorted(said)


def test_the_older_rules_say_that_they_are_invented() -> None:
    profile = read_profile("edition-2000.toml", edition_profile().encode(), library(), embedded_profile)
    assert profile.id == "edition-2000"
    assert "invented" in profile.title


# Physics inside one test


def test_curves_are_a_power_law_beside_a_leakage() -> None:
    # R(t) of I = V (A t^-n + G), closed form (derived): ratios of one record follow from one share of leakage.
    for entry in of("Lift pump 1 motor", "phase V"):
        read = entry.record.readings
        index = entry.quantities["polarization_index"].value
        share = (1 / index - 10**-0.8) / (1 - 10**-0.8)
        model = absorption_ratio_model(0.8, share, read.time, 60.0)
        at_minute = entry.quantities["insulation_resistance_60s"].value
        assert read.resistance == pytest.approx(at_minute * model, rel=0.03)


def test_index_falls_with_the_resistance() -> None:
    entries = of("Ash pump 2 motor", "phase W")
    index = [e.quantities["polarization_index"].value for e in entries]
    assert index[0] > 2.5
    assert index[-1] < 1.5
    assert float(np.corrcoef(index, np.arange(len(index)))[0, 1]) < -0.9


def test_the_falling_phase_is_on_its_way_to_its_minimum() -> None:
    # 200 MOhm for one phase with the others earthed: twice 100 MOhm (secondary, the factor from memory).
    truth = truths()["Ash pump 2 motor"]
    years, logs = line(truth, of(truth.asset, "phase W"))
    slope, intercept = np.polyfit(years, logs, 1)
    reached = (math.log(200e6) - intercept) / slope
    assert years[-1] + 1 < reached < years[-1] + 7


def test_most_of_the_fleet_is_sound_and_what_is_not_has_its_reason() -> None:
    troubled = {
        e.record.asset.name for e in evaluated() if e.verdict.status not in (Status.SOUND, Status.NOT_JUDGED)
    }
    assert troubled == {"Mill 1 motor", "Ash pump 2 motor", "Cooler fan motor", "River gate motor"}
    unjudged = {section_of(e.record) for e in evaluated() if e.verdict.status is Status.NOT_JUDGED}
    assert unjudged == {"HV and LV"}  # joined windings serve the network of three connections
