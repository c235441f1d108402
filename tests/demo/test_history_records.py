"""The records of the invented history: what is there, that it is the same each time, and that files carry it."""

from __future__ import annotations

import hashlib
import os
import random
import re
import subprocess
import sys
import time
from collections import Counter
from dataclasses import replace
from datetime import date, datetime
from itertools import groupby

import numpy as np
import pytest

from demo_history import records, section_of, truths
from soakage.demo.history import END, history_files, history_records, history_truth, record_path
from soakage.demo.history_fleet import FLEET, SITES
from soakage.demo.scenario import NOTE
from soakage.importers.reading import read_bytes
from soakage.importers.write_record import record_text
from soakage.model.connection import winding_part
from soakage.model.keys import CLASSES
from soakage.model.record import Origin, Record

FILES = history_files()


def same(one: Record, other: Record) -> bool:
    """Whether two records are one, findings and origins of the reading apart."""
    return replace(one, origin=Origin(), findings=()) == replace(other, origin=Origin(), findings=())


def test_forty_assets_at_three_sites_over_ten_years() -> None:
    assert len(FLEET) == len(truths()) == len({truth.serial for truth in truths().values()}) == 40
    assert {truth.site for truth in truths().values()} == set(SITES)
    assert len(SITES) == 3
    days = [record.day for record in records() if record.day is not None]
    assert len(days) == len(records())
    assert 700 <= len(records()) <= 1200
    assert date(2016, 9, 30) <= min(days) <= date(2017, 3, 1)
    assert date(2026, 8, 1) <= max(days) < END


def test_every_site_has_enough_to_compare() -> None:
    counts = Counter(truth.site for truth in truths().values())
    assert min(counts.values()) >= 10


def test_every_class_but_apparatus_and_every_kind_of_machine() -> None:
    assert {record.asset.asset_class for record in records()} == set(CLASSES) - {"apparatus"}
    windings = {record.asset.winding for record in records()} - {None}
    assert windings == {"form-wound", "random-wound", "field", "armature"}
    assert {record.asset.filling for record in records()} >= {"oil", "dry"}
    assert {record.asset.machine_current for record in records()} >= {"ac", "dc"}


def test_peers_of_one_kind_are_many_enough_for_percentiles() -> None:
    peers = Counter((r.asset.rated_voltage, r.asset.winding, r.asset.serial) for r in records())
    motors = {serial for voltage, winding, serial in peers if (voltage, winding) == (6600.0, "form-wound")}
    assert len(motors) >= 8


def test_form_wound_motors_have_three_phases_on_an_opened_neutral() -> None:
    motor = [r for r in records() if r.asset.name == "Kiln fan 1 motor"]
    assert {r.asset.section for r in motor} == {"phase U", "phase V", "phase W"}
    assert {winding_part(r) for r in motor} == {"phase-others-earthed"}
    assert {r.asset.neutral for r in motor} == {"opened"}
    assert list(motor[0].readings.time) == [15, 30, *range(60, 601, 60)]


def test_generators_are_read_as_whole_windings() -> None:
    assert {winding_part(r) for r in records() if r.asset.name == "Set 1 stator"} == {"whole"}


def test_cables_have_three_cores_and_a_length() -> None:
    cables = [r for r in records() if r.asset.asset_class == "cable"]
    assert {r.asset.section for r in cables} == {"core L1", "core L2", "core L3"}
    assert all(r.asset.length and r.asset.length > 100 for r in cables)


def test_every_visit_has_every_section() -> None:
    for truth in truths().values():
        own = [r for r in records() if r.asset.serial == truth.serial]
        for _, visit in groupby(own, key=lambda r: r.day):
            assert [section_of(r) for r in visit] == [section.name for section in truth.sections]


def test_visits_come_yearly_two_yearly_or_quarterly() -> None:
    for member in FLEET:
        days = sorted({r.day for r in records() if r.asset.name == member.name and r.day is not None})
        gaps = np.diff(np.array([day.toordinal() for day in days]))
        assert (np.abs(gaps - member.every * 365.25) <= 23).all(), member.name


def test_nobody_tests_at_the_weekend() -> None:
    assert max(r.day.weekday() for r in records() if r.day is not None) == 4


def test_sections_of_a_visit_are_tested_one_after_the_other() -> None:
    for record in records():
        if section_of(record) in ("phase V", "core L2", "bar L2"):
            started = record.test.started
            assert isinstance(started, datetime)
            assert (started.hour, started.minute) == (8, 50)
            assert started.tzinfo is not None


def test_records_are_the_same_each_call() -> None:
    assert all(one == other for one, other in zip(records(), history_records(), strict=True))


def test_files_are_the_same_bytes_in_another_process() -> None:
    script = (
        "import hashlib; from soakage.demo.history import history_files; "
        "print(hashlib.sha256(repr(history_files()).encode()).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        check=True,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": "7"},
    )
    assert done.stdout.strip() == hashlib.sha256(repr(FILES).encode()).hexdigest()


def test_nothing_random_outside_is_touched() -> None:
    before = random.getstate()
    ours = np.random.get_state(legacy=False)["state"]["key"].copy()  # noqa: NPY002
    history_records(1)
    assert random.getstate() == before
    assert np.array_equal(np.random.get_state(legacy=False)["state"]["key"], ours)  # noqa: NPY002


def test_a_shorter_history_is_the_end_of_the_longer_one() -> None:
    short = history_records(4)
    assert 0 < len(short) < len(records()) / 2
    places = {record_path(record): record for record in records()}
    assert all(places[record_path(record)] == record for record in short)


def test_a_longer_history_goes_further_back() -> None:
    long = history_records(12)
    assert min(r.day for r in long if r.day is not None) < date(2015, 3, 1)
    assert len(long) > len(records())


def test_another_end_moves_everything() -> None:
    moved = history_records(2, date(2030, 1, 1))
    days = [record.day for record in moved if record.day is not None]
    assert date(2027, 12, 1) < min(days) <= max(days) < date(2030, 1, 1)
    (truth,) = [t for t in history_truth(10, date(2030, 1, 1)) if t.asset == "Mill 1 motor"]
    assert truth.events[0].day.year == 2025


def test_making_all_of_it_is_quick() -> None:
    began = time.process_time()
    history_records()
    history_files()
    assert time.process_time() - began < 3.0


def test_every_file_reads_back_to_its_record() -> None:
    assert len(FILES) == len(records())
    for record in records():
        path = record_path(record)
        (got,) = read_bytes(FILES[path].encode(), path)
        assert same(got, record), path


def test_another_spelling_of_a_file_is_still_the_same_record() -> None:
    for record in records()[::97]:
        text = record_text(record, delimiter=";", decimal_comma=True)
        (got,) = read_bytes(text.encode(), "typed.csv")
        assert same(got, record)


def test_what_the_reader_remarks_is_what_was_meant() -> None:
    codes = Counter(
        finding.code
        for record in records()
        for finding in read_bytes(FILES[record_path(record)].encode(), record_path(record))[0].findings
    )
    by_hand = sum(record.test.tested == () for record in records())
    assert codes["voltage_not_stated"] == by_hand
    assert codes["unknown_key"] == len(records())  # `invented` is no key of the record file
    assert not {"resistance_current_disagree", "voltage_assumed", "no_reading"} & set(codes)


def test_paths_are_site_asset_and_date_with_section() -> None:
    for path in FILES:
        assert re.fullmatch(r"[a-z-]+/[a-z0-9-]+/\d{4}-\d\d-\d\d-[a-z0-9-]+\.csv", path)
    assert len({path.split("/")[0] for path in FILES}) == 3
    assert len({path.rsplit("/", 1)[0] for path in FILES}) == 40


def test_no_two_records_are_alike() -> None:
    assert len(set(FILES.values())) == len(FILES)
    tables = Counter(
        text.split('invented = "yes"\n')[1] for path, text in FILES.items() if "board-b" not in path
    )
    # Two spot readings may meet by chance; whole curves do not.
    assert all(count == 1 for table, count in tables.items() if table.count("\n") > 3)
    assert sum(count - 1 for count in tables.values()) < 10


@pytest.mark.parametrize("path", sorted(FILES)[::60])
def test_every_text_says_that_it_is_invented(path: str) -> None:
    (record,) = read_bytes(FILES[path].encode(), path)
    assert record.extra["invented"] == "yes"
    assert "(invented)" in (record.asset.site or "")
    assert "invented" in (record.asset.serial or "")


def test_every_record_says_that_it_is_invented() -> None:
    for record in records():
        assert record.extra == {"invented": "yes"}
        assert (record.paper.notes or "").endswith(NOTE)
        assert (record.asset.site or "").endswith("(invented)")
        assert record.paper.tested_by is None or record.paper.tested_by.endswith("(invented)")
        assert record.instrument.name is None or record.instrument.name.endswith("(invented)")


def test_a_person_could_have_typed_them() -> None:
    for path, text in FILES.items():
        table = [row for row in text.splitlines() if not row.startswith("#")][1:]
        assert not any(re.search(r"\d[eE][+-]?\d", row) for row in table), path
        for row in table:
            for cell in row.split(","):
                assert len(cell.replace(".", "").strip("> 0")) <= 4, (path, row)


def test_instruments_are_within_their_calibration() -> None:
    for record in records():
        due = record.instrument.calibration_due
        assert record.day is not None
        if record.test.tested:
            assert due is not None
            assert 0 <= (due - record.day).days <= 400
            assert record.instrument.serial
            assert record.instrument.accuracy[0].reading == 0.05


def test_instruments_change_once_and_then_show_a_current() -> None:
    kiln = [r for r in records() if r.asset.name == "Kiln fan 1 motor"]
    given = [r.readings.resistance_given for r in kiln]
    assert given == sorted(given, reverse=True)
    assert set(given) == {True, False}
    assert len({r.instrument.serial for r in kiln}) == 2


def test_the_insulation_is_never_below_the_dew_point_of_its_air() -> None:
    # The dew point lies below the temperature of air that is not saturated (definition); a cable lies in the
    # soil, its cores are dry.
    for record in records():
        seen = record.conditions
        if seen.ambient_temperature is None or record.asset.asset_class in (
            "cable",
            "low-voltage-installation",
        ):
            continue
        assert seen.relative_humidity is not None
        assert 0.2 < seen.relative_humidity < 1
        assert seen.winding_temperature is not None
        assert seen.winding_temperature >= seen.ambient_temperature - 2.5


def test_temperatures_are_inside_every_rule() -> None:
    # 10 to 40 degC, the cool range of the thermosetting rule: IEEE Std 43-2013, cl. 6.3 (memory).
    for record in records():
        temperature = record.conditions.winding_temperature
        assert temperature is None or 283.15 <= temperature <= 313.15


def test_purposes_and_testers() -> None:
    assert {r.paper.purpose for r in records()} == {"maintenance", "after-repair", None}
    assert len({r.paper.tested_by for r in records()} - {None}) == 5
