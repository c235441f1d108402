"""Transformers, switchgear, cables and circuits from the typed record to the verdict, class by class."""

from __future__ import annotations

import pytest

from soakage.model.record import Record
from soakage.wiring import rules
from typed import CABLE, CIRCUIT, SWITCHGEAR, TRANSFORMER, by, codes, judged, said, spot, status, typed

MINIMUM, FLOOR = "neta-100-5.minimum-resistance", "neta-mts-2019.transformer-polarization-index"
APPARATUS, PUBLISHED = "neta-100-1.minimum-resistance", "cable.published-minimum"
LOW = "iec-60364-6-2016.minimum-resistance"
INDEX_TEST = {"method": "polarization-index"}


def transformer_index(megohm: float, index: float, **keys: str | None) -> Record:
    rows = [(60, f"{megohm:.9g}"), (600, f"{megohm * index:.9g}")]
    return typed({**TRANSFORMER, **INDEX_TEST, **keys}, rows, "time [s],resistance [MOhm]")


# ---- transformers: ANSI/NETA ATS-2025 Table 100.5 at 20 degC (secondary)
@pytest.mark.parametrize(
    ("filling", "tested", "megohm"),
    (
        ("oil", "HV", 5000), ("ester", "HV", 5000), ("dry", "HV", 25000),
        ("oil", "LV", 100), ("ester", "LV", 100), ("dry", "LV", 500),
    ),
)  # fmt: skip
def test_the_row_is_that_of_the_winding_tested(filling: str, tested: str, megohm: float) -> None:
    keys = {"filling": filling, "tested": tested, "earthed": "tank"}
    assert status(spot(TRANSFORMER, f"{megohm} MOhm", **keys)) == "sound"
    evaluated = judged(spot(TRANSFORMER, f"{megohm * 0.999} MOhm", **keys))
    assert by(evaluated, MINIMUM).status == evaluated.verdict.status == "investigate"


def test_the_rated_voltage_alone_is_the_high_voltage_windings() -> None:
    keys = {"winding_voltages": None, "rated_voltage": "11 kV"}
    assert status(spot(TRANSFORMER, "5000 MOhm", **keys)) == "sound"
    assert status(spot(TRANSFORMER, "4990 MOhm", **keys)) == "investigate"
    evaluated = judged(spot(TRANSFORMER, "5000 MOhm", **keys, tested="LV", earthed="HV, tank"))
    assert evaluated.verdict.status == "not judged"
    assert "winding_voltages" in by(evaluated, MINIMUM).reason


def test_joined_windings_are_not_judged_by_the_table() -> None:
    evaluated = judged(spot(TRANSFORMER, "1 MOhm", tested="HV, LV", earthed="tank"))
    assert evaluated.verdict.status == "not judged"
    assert "joined" in evaluated.verdict.sentence


@pytest.mark.parametrize("filling", ("oil", "dry", None))
def test_a_shorted_transformer_is_unfit_whatever_the_filling(filling: str | None) -> None:
    assert status(spot(TRANSFORMER, "0.00 MOhm", filling=filling)) == "unfit"
    assert status(spot(TRANSFORMER, "99 kOhm", filling=filling)) == "unfit"


def test_a_shorted_joined_set_is_unfit_too() -> None:
    assert status(spot(TRANSFORMER, "1 kOhm", tested="HV, LV", earthed="tank")) == "unfit"


def test_a_missing_filling_is_tried_as_liquid_and_as_dry() -> None:
    assert status(spot(TRANSFORMER, "26 GOhm", filling=None)) == "sound"
    assert status(spot(TRANSFORMER, "4 GOhm", filling=None)) == "investigate"
    evaluated = judged(spot(TRANSFORMER, "10 GOhm", filling=None))
    assert evaluated.verdict.status == "not judged"
    assert "'filling'" in by(evaluated, MINIMUM).reason


@pytest.mark.parametrize(("filling", "factor"), (("oil", 3.95), ("ester", 3.95), ("dry", 2.5)))
def test_the_column_of_the_factor_follows_the_filling(filling: str, factor: float) -> None:
    # Table 100.14.1 at 40 degC (secondary); worked example 1: 2 MOhm times 3.95 is 7.9 MOhm
    evaluated = judged(spot(TRANSFORMER, "2 MOhm", filling=filling, winding_temperature="40 degC"))
    corrected = evaluated.quantities["insulation_resistance_60s_corrected"]
    assert corrected.value == pytest.approx(2e6 * factor)
    assert corrected.base_temperature == pytest.approx(293.15)


@pytest.mark.parametrize(
    ("filling", "megohm", "index", "expected"),
    (
        ("dry", 30e3, 0.99, "investigate"),
        ("dry", 30e3, 1.0, "sound"),
        ("oil", 6e3, 0.99, "watch"),
        ("oil", 6e3, 1.0, "sound"),
        ("oil", 4e3, 0.99, "investigate"),  # the resistance is below its minimum too
        ("oil", 4e3, 1.5, "investigate"),
        (None, 30e3, 0.99, "not judged"),
        (None, 30e3, 1.2, "sound"),
    ),
)
def test_an_index_below_1(filling: str | None, megohm: float, index: float, expected: str) -> None:
    evaluated = judged(transformer_index(megohm, index, filling=filling))
    falling = {"resistance_falling"} & codes(evaluated)
    assert evaluated.verdict.status == expected
    assert not falling


def test_the_bands_of_oil_paper_are_shown_and_judge_nothing() -> None:
    evaluated = judged(transformer_index(6e3, 1.05))
    assert by(evaluated, "practice.oil-paper-index-band").status == "not applicable"
    assert evaluated.verdict.status == "sound"


@pytest.mark.parametrize(("air", "flagged"), (("24 degC", True), ("26 degC", False)))
def test_a_unit_still_cooling_is_flagged(air: str, flagged: bool) -> None:
    keys = {"winding_temperature": "40 degC", "ambient_temperature": air}
    assert ("still_cooling" in codes(judged(spot(TRANSFORMER, "9 GOhm", **keys)))) == flagged


# ---- switchgear and apparatus: Table 100.1, the first row not below the rating
@pytest.mark.parametrize(
    ("rated", "megohm"),
    (("480 V", 100), ("1 kV", 100), ("1001 V", 500), ("12 kV", 5000), ("15 kV", 5000), ("15.1 kV", 10000),
     ("36 kV", 100000), ("145 kV", 100000)),
)  # fmt: skip
@pytest.mark.parametrize("kind", ("switchgear", "apparatus"))
def test_the_next_higher_row(kind: str, rated: str, megohm: float) -> None:
    keys = {"class": kind, "rated_voltage": rated}
    assert by(judged(spot(SWITCHGEAR, f"{megohm} MOhm", **keys)), APPARATUS).status == "sound"
    below = judged(spot(SWITCHGEAR, f"{megohm * 0.999} MOhm", **keys))
    assert by(below, APPARATUS).status == below.verdict.status == "investigate"


@pytest.mark.parametrize(("filling", "factor"), ((None, 2.5), ("dry", 2.5), ("oil", 3.95)))
def test_oil_filled_switchgear_takes_the_oil_column(filling: str | None, factor: float) -> None:
    keys = {"filling": filling, "winding_temperature": None, "insulation_temperature": "40 degC"}
    evaluated = judged(spot(SWITCHGEAR, "8 GOhm", **keys))
    assert evaluated.quantities["insulation_resistance_60s_corrected"].value == pytest.approx(8e9 * factor)


def test_shorted_switchgear_is_unfit() -> None:
    assert status(spot(SWITCHGEAR, "99 kOhm")) == "unfit"
    assert status(spot(SWITCHGEAR, "101 kOhm")) == "investigate"


def test_switchgear_without_a_rating_names_the_key() -> None:
    evaluated = judged(spot(SWITCHGEAR, "8 GOhm", rated_voltage=None))
    assert evaluated.verdict.status == "not judged"
    assert "rated_voltage" in by(evaluated, APPARATUS).reason


# ---- cables
@pytest.mark.parametrize(
    ("resistance", "expected"),
    (("5 GOhm", "sound"), ("4.99 GOhm", "watch"), ("1 MOhm", "watch"), ("0.99 MOhm", "investigate"),
     ("1 kOhm", "investigate"), ("0.00 MOhm", "investigate")),
)  # fmt: skip
def test_a_cable_below_its_published_minimum_is_watched(resistance: str, expected: str) -> None:
    # Table 100.1 by rating where no length is stated (note 6: typical values); the floor of 1 MOhm is ours
    assert status(spot(CABLE, resistance)) == expected


def test_the_sentence_of_a_watched_cable_does_not_call_the_minimum_met() -> None:
    sentence = judged(spot(CABLE, "4 GOhm")).verdict.sentence
    assert "meets every" not in sentence
    assert "required" in sentence


def test_a_stated_length_takes_the_rule_by_length() -> None:
    # 39: 15 kV, 2 000 ft: (15 + 1) 1000 / 2000 = 8 MOhm (rule memory, number derived); as read, no base known
    for resistance, expected in (("8 MOhm", "sound"), ("7.99 MOhm", "watch")):
        evaluated = judged(spot(CABLE, resistance, length="2000 ft", insulation_temperature=None))
        assert evaluated.verdict.status == expected
        assert by(evaluated, "ufgs-33-71-02").value == evaluated.quantities["insulation_resistance_60s"].value


def test_resistance_times_length_is_the_same_for_any_length_of_one_cable() -> None:
    # NAVEDTRA 14120 (read): compare by the reading times the length
    long, short = (
        judged(spot(CABLE, resistance, length=length)).quantities["resistance_length"]
        for resistance, length in (("1 GOhm", "1000 m"), ("10 GOhm", "100 m"))
    )
    assert long.value == short.value == pytest.approx(1e12)
    assert judged(spot(CABLE, "> 10 GOhm", length="100 m")).quantities["resistance_length"].bound == "lower"
    assert "resistance_length" not in judged(spot(CABLE, "1 GOhm")).quantities


@pytest.mark.parametrize("method", ("insulation-resistance", "cable-core", "dielectric-absorption-ratio"))
def test_every_resistance_test_of_a_cable_is_decided_by_the_minimum(method: str) -> None:
    rows = [(30, "6 GOhm"), (60, "6 GOhm")]
    assert status(typed({**CABLE, "method": method}, rows, "time [s],resistance")) == "sound"


# ---- low-voltage installations: IEC 60364-6:2016 Table 6.1 (secondary)
@pytest.mark.parametrize(
    ("nominal", "section", "megohm"),
    (("230 V", None, 1.0), ("500 V", None, 1.0), ("690 V", None, 1.0), ("24 V", "SELV", 0.5),
     ("48 V", "PELV", 0.5), ("48 V", "FELV", 1.0), (None, None, 1.0)),
)  # fmt: skip
def test_the_three_rows_of_the_table(nominal: str | None, section: str | None, megohm: float) -> None:
    keys = {"nominal_voltage": nominal, "section": section}
    on, below = (judged(spot(CIRCUIT, f"{r} MOhm", **keys)) for r in (megohm, megohm * 0.99))
    assert on.verdict.status == "sound"
    assert by(below, LOW).status == below.verdict.status == "unfit"


def test_circuits_are_never_corrected_nor_asked_for_a_temperature() -> None:
    evaluated = judged(
        spot(CIRCUIT, "5 MOhm", None, ambient_temperature="5 degC", winding_temperature="5 degC")
    )
    assert not any(name.endswith("_corrected") for name in evaluated.quantities)
    assert {"temperature_missing", "humidity_missing"} & codes(evaluated) == set()
    assert evaluated.verdict.status == "sound"


@pytest.mark.parametrize(
    ("nominal", "section", "volts", "code"),
    (("230 V", None, "500 V", None), ("230 V", None, "250 V", "test_voltage_below_table"),
     ("690 V", None, "1 kV", None), ("24 V", "SELV", "250 V", None),
     ("24 V", "SELV", "500 V", "test_voltage_above_table")),
)  # fmt: skip
def test_circuit_test_voltages(nominal: str, section: str | None, volts: str, code: str | None) -> None:
    keys = {"nominal_voltage": nominal, "section": section, "test_voltage": volts}
    found = codes(judged(spot(CIRCUIT, "5 MOhm", **keys)))
    assert found & {"test_voltage_above_table", "test_voltage_below_table"} == ({code} if code else set())


# ---- a user's own limit
def test_a_users_limit_stands_at_the_base_temperature_of_the_class() -> None:
    # solid column at 40 degC: 2.5 (Table 100.14.1, secondary)
    own = rules(limits=("20 GOhm",))
    warm = {"winding_temperature": "40 degC"}
    assert status(spot(SWITCHGEAR, "8 GOhm", **warm), own) == "sound"
    assert status(spot(SWITCHGEAR, "7.9 GOhm", **warm), own) == "unfit"
    judgement = by(judged(spot(SWITCHGEAR, "8 GOhm", **warm), own), "user.")
    assert judgement.user_limit
    assert judgement.verified == "user"
    assert status(spot(SWITCHGEAR, "30 GOhm", winding_temperature=None), own) == "not judged"


def test_on_a_circuit_a_users_limit_is_raw_and_marked() -> None:
    for time in ("60", None):
        evaluated = judged(spot(CIRCUIT, "3 MOhm", time), rules(limits=("5 MOhm",)))
        judgement = by(evaluated, "user.")
        assert evaluated.verdict.status == judgement.status == "unfit"
        assert "as read" in judgement.name
        assert judgement.value == 3e6


@pytest.mark.parametrize(
    ("text", "sense"),
    (("dielectric_discharge 3 mA/(V F)", "upper"), ("phase_spread 1.5", "upper"),
     ("voltage_dependence 20 %", "upper"), ("polarization_index 2.5", "lower"), ("200 MOhm", "lower"),
     ("> 200 MOhm", "lower"), ("≥ 200 MOhm", "lower"), ("dew_point < 10 degC", "upper"),
     ("dew_point ≤ 10 degC", "upper"), ("phase_spread ≥ 1.5", "lower")),
)  # fmt: skip
def test_the_side_of_a_users_limit(text: str, sense: str) -> None:
    (limit,) = rules(limits=(text,)).limits
    assert limit.sense == sense


def test_a_terminal_left_floating_is_watched() -> None:
    keys = {"terminals": "HV, LV, tank"}
    evaluated = judged(spot(TRANSFORMER, "6 GOhm", **keys, earthed="tank"))
    assert evaluated.verdict.status == "watch"
    assert "LV" in said(evaluated, "terminal_floating")
    assert "terminal_floating" not in codes(judged(spot(TRANSFORMER, "6 GOhm", **keys)))
