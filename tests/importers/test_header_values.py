from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from importing import MINIMAL, TABLE, codes, faults_of, only_fault, read_one
from soakage.importers.values import names, plain_key, quoted, read_value, split_list, unquoted
from soakage.model.record import Record
from soakage.model.test import Accuracy, PreviousTest, Step, VoltageFound


def with_line(line: str) -> Record:
    return read_one(f"{MINIMAL}{line}\n{TABLE}")


@pytest.mark.parametrize(
    ("text", "value"),
    (
        ("plain", "plain"),
        ('"quoted"', "quoted"),
        ("'literal \\n'", "literal \\n"),
        (r'"tab\tquote\"slash\\"', 'tab\tquote"slash\\'),
        (r'"\u00b5\U000003a9"', "µΩ"),
        ('["U", "V"]', ["U", "V"]),
        ('["U",V,]', ["U", "V"]),
        ("[]", []),
        ('{dc = "0 V", ac = 12 V}', {"dc": "0 V", "ac": "12 V"}),
        ('[{at = "0 s"}, {at = "60 s"}]', [{"at": "0 s"}, {"at": "60 s"}]),
        ('{H1 = "33 kV", "X 1" = "11 kV"}', {"H1": "33 kV", "X 1": "11 kV"}),
        ('5" bushing', '5" bushing'),
    ),
)
def test_values(text: str, value: object) -> None:
    assert read_value(text) == value


@pytest.mark.parametrize(
    "text",
    (
        '["U"',
        "{a = 1",
        "[a] b",
        "{a}",
        "{= 1}",
        "[,]",
        "{a = 1, a = 2}",
        "[[[[[[[[[[1]]]]]]]]]]",
        r'"\q"',
        r'"\ud800"',
    ),
)
def test_values_that_are_broken(text: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        read_value(text)


@given(st.text())
def test_quoting_round_trips(text: str) -> None:
    written = quoted(text)
    assert "\n" not in written
    assert "\r" not in written
    assert unquoted(written) == text


def test_lists_without_brackets() -> None:
    assert split_list('U, "V, 2"; W\tX') == ["U", "V, 2", "W", "X"]
    assert split_list("") == []
    assert names(["a", " b "]) == ("a", "b")
    with pytest.raises(ValueError, match="names"):
        names([["a"]])


def test_keys_are_read_however_they_are_spelled() -> None:
    assert plain_key(" Rated-Voltage ") == "rated_voltage"
    assert with_line("# Rated voltage = 6.6 kV").asset.rated_voltage == 6600


@pytest.mark.parametrize("text", ('"6.6 kV"', "6.6 kV", "6,6 kV", "6600 V", "'6.6kV'"))
def test_numbers_quoted_or_bare_point_or_comma(text: str) -> None:
    assert with_line(f"# rated_voltage = {text}").asset.rated_voltage == 6600


def test_ambiguous_comma_shows_both_readings() -> None:
    fault = only_fault(f"{MINIMAL}# test_voltage = 1,500 V\n{TABLE}")
    assert fault.row == 4
    assert fault.field == "test_voltage"
    assert "1500" in fault.problem
    assert "1.5" in fault.problem


@pytest.mark.parametrize(
    ("line", "word"),
    (
        ("# rated_voltage = 6600", "Unit missing"),
        ("# rated_voltage = 6.6 kA", "current"),
        ("# rated_voltage = > 6 kV", "bound"),
        ("# rated_voltage = -6 kV", "above zero"),
        ("# test_voltage = 0 V", "above zero"),
        ("# length = 0 m", "above zero"),
        ("# winding_temperature = -300 degC", "absolute zero"),
        ("# winding_temperature = 27.5", "Unit missing"),
        ("# relative_humidity = 120 %", "100"),
        ("# relative_humidity = 55", "Unit missing"),
        ("# year = 20004", "no year"),
        ("# year = 1066", "no year"),
        ("# started = 14/03/2026", "year, month, day"),
        ("# started = 2026-02-30", "no such date"),
        ("# started = 2026-03-14T25:00", "no such date"),
        ("# calibration_due = soon", "no date"),
        ("# winding = form", "not known"),
        ("# hazardous_area = maybe", "not known"),
        ("# thermal_class = Z", "not known"),
        ('# tested = ["U"', "missing"),
        ("# steps = [{at = 0 s}]", "both at and voltage"),
        ("# steps = [{at = 0 s, voltage = 1 kV}, {at = 0 s, voltage = 2 kV}]", "do not rise"),
        ("# steps = 1 kV", "parts named"),
        ("# accuracy = 5 %", "parts named"),
        ('# accuracy = {gain = "5 %"}', "no part"),
        ('# accuracy = {reading = ["5 %"]}', "single figure"),
        ("# voltage_found = 12 V", "not told"),
        ('# voltage_found = {ac = "-12 V"}', "negative"),
        ('# previous_test = {voltage = "5 kV"}', "lacks held, earthed"),
        ("# winding_voltages = 33 kV, 11 kV", "2 figures for 0 windings"),
        ("# hold = 0 s", "above zero"),
    ),
)
def test_known_key_with_a_bad_value_names_its_line(line: str, word: str) -> None:
    fault = only_fault(f"{MINIMAL}{line}\n{TABLE}")
    assert fault.row == 4
    assert fault.field == line.split()[1]
    assert word.lower() in str(fault).lower()
    assert fault.allowed


def test_voltage_found_without_its_kind_shows_both_forms() -> None:
    fault = only_fault(f"{MINIMAL}# voltage_found = 12 V\n{TABLE}")
    assert '{dc = "12 V"}' in fault.allowed
    assert '{ac = "12 V", frequency = "50 Hz"}' in fault.allowed


def test_near_word_is_offered() -> None:
    assert "form-wound" in only_fault(f"{MINIMAL}# winding = formwound\n{TABLE}").remedy


def test_every_fault_of_a_file_is_reported_at_once() -> None:
    text = "# soakage = 2\n# class = motor\n# rated_voltage = 6600\n# year = x\n" + TABLE.replace(
        "22.1", "-x"
    ).replace("14.9", "nan")
    faults = faults_of(text)
    assert [(fault.row, fault.field) for fault in faults] == [
        (1, "soakage"),
        (2, "class"),
        (3, "rated_voltage"),
        (4, "year"),
        (None, "method"),
        (7, "current"),
        (8, "current"),
    ]


def test_words_forgive_case_and_joints() -> None:
    assert with_line("# winding = Form wound").asset.winding == "form-wound"
    assert with_line("# hazardous_area = true").paper.hazardous_area == "yes"
    assert with_line("# current = AC").asset.machine_current == "ac"


@pytest.mark.parametrize(
    ("letter", "number"), (("F", "155"), ("h", "180"), ("class B", "130"), ("A", "105"), ("E", "120"))
)
def test_thermal_class_letters(letter: str, number: str) -> None:
    """IEC 60085:2007, table 1 (from memory): A 105, E 120, B 130, F 155, H 180."""
    record = with_line(f"# thermal_class = {letter}")
    assert record.asset.thermal_class == number
    assert codes(record) == ["read_as"]
    assert codes(with_line(f"# thermal_class = {number}")) == []


@pytest.mark.parametrize(
    ("word", "family", "code"),
    (
        ("epoxy-mica", "thermosetting", ["read_as"]),
        ("VPI", "thermosetting", ["read_as"]),
        ("asphalt", "thermoplastic", ["read_as"]),
        ("Shellac", "thermoplastic", ["read_as"]),
        ("thermosetting", "thermosetting", []),
        ("gutta-percha", None, ["insulation_not_recognised"]),
    ),
)
def test_insulation_words_are_kept_and_their_reading_shown(
    word: str, family: str | None, code: list[str]
) -> None:
    record = with_line(f"# insulation = {word}")
    assert record.asset.insulation == word
    assert record.asset.insulation_family == family
    assert codes(record) == code
    assert not code or word in record.findings[0].sentence


def test_dates() -> None:
    zone = timezone(timedelta(hours=2))
    assert with_line("# started = 2026-03-14T09:20:00+02:00").test.started == datetime(
        2026, 3, 14, 9, 20, tzinfo=zone
    )
    assert with_line('# started = "2026-03-14 09:20Z"').test.started == datetime(
        2026, 3, 14, 9, 20, tzinfo=UTC
    )
    assert with_line("# started = 2026-03-14").test.started == date(2026, 3, 14)
    assert codes(with_line("# started = 2026-03-14")) == []
    assert with_line("# calibration_due = 2027-01-31").instrument.calibration_due == date(2027, 1, 31)


def test_no_zone_is_local_time_and_marked() -> None:
    record = with_line("# started = 2026-03-14T09:20")
    started = record.test.started
    assert isinstance(started, datetime)
    assert started.tzinfo is None
    assert codes(record) == ["zone_not_stated"]


def test_hours_out_of_service_bare_is_hours() -> None:
    assert with_line("# hours_out_of_service = 36").conditions.hours_out_of_service == 36 * 3600
    assert with_line("# hours_out_of_service = 1,5").conditions.hours_out_of_service == 5400
    assert with_line("# hours_out_of_service = 90 min").conditions.hours_out_of_service == 5400


def test_small_tables() -> None:
    assert with_line(
        '# voltage_found = {dc = "0 V", ac = "12 V", frequency = "50 Hz"}'
    ).test.voltage_found == VoltageFound(0.0, 12.0, 50.0)
    assert with_line(
        "# previous_test = {voltage = 5 kV, held = 10 min, earthed = 2 h}"
    ).test.previous_test == PreviousTest(5000.0, 600.0, 7200.0)
    steps = with_line(
        '# steps = [{at = "0 s", voltage = "1 kV"}, {at = "60 s", voltage = "2 kV"}]'
    ).test.steps
    assert steps == (Step(0.0, 1000.0), Step(60.0, 2000.0))
    accuracy = with_line(
        '# accuracy = [{range = "10 GOhm", reading = "5 %", offset = "20 pA", '
        'resolution = "1 MOhm", timing = "0.5 s"}]'
    ).instrument.accuracy
    assert accuracy == (Accuracy(1e10, 0.05, 20e-12, 1e6, 0.5),)
    assert with_line("# accuracy = {reading = 5 %}").instrument.accuracy == (Accuracy(reading=0.05),)


def test_winding_voltages_by_name_or_in_the_order_of_the_terminals() -> None:
    by_name = with_line('# winding_voltages = {H = "33 kV", X = "11 kV"}').asset.winding_voltages
    listed = with_line(
        '# terminals = ["H", "X", "tank"]\n# winding_voltages = ["33 kV", "11 kV"]'
    ).asset.winding_voltages
    # the order of the two lines does not matter
    bare = with_line(
        '# winding_voltages = 33 kV, 11 kV\n# terminals = ["H", "X", "tank"]'
    ).asset.winding_voltages
    assert by_name == listed == bare == {"H": 33000.0, "X": 11000.0}


def test_commas_inside_texts_stay() -> None:
    assert with_line("# notes = Cold, dry day").paper.notes == "Cold, dry day"
    assert with_line('# asset = "Pump 3, motor"').asset.name == "Pump 3, motor"
    assert with_line("# attached = cable, surge capacitor").conditions.attached == (
        "cable",
        "surge capacitor",
    )


def test_empty_values_state_nothing() -> None:
    record = with_line('# asset =\n# site = ""\n# rated_voltage =\n# tested = []')
    assert record.asset.name is None
    assert record.asset.site is None
    assert record.asset.rated_voltage is None
    assert record.test.tested == ()
