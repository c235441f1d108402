"""The register edited by hand: what was before stays, names are matched whole, nothing becomes two things."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

from changing import PLATE, entries, store_with, take, text, the_motor, where, whole
from keeping import opened, stores_closed
from soakage.app.editing import add_asset, edit_asset, edit_section, edit_site, retire
from soakage.app.instruments import calibrate, edit_instrument, edit_person
from soakage.app.lookup import asset_or_test, find_assets, the_asset, the_test
from soakage.app.ports import KnownAsset, KnownTest
from soakage.app.register import identity
from soakage.errors import InputError, UsageError
from soakage.store.memory import StoreMemory
from soakage.wiring.changing import assets_at, plain_values

__all__ = ["stores_closed", "where"]
BARE = '# class = "rotating-machine"\n'


def folded(memory: StoreMemory, kind: str, subject: str) -> Mapping[str, Any]:
    with memory.changing() as change:
        return change.folded(kind, subject).values


def test_an_asset_is_added_edited_and_renamed(made_address: str) -> None:
    memory = opened(made_address, "A. Invented")
    values, _ = plain_values({"asset": "Pump  9 motor", "site": "Invented works", "rated_voltage": "6.6 kV"})
    added = add_asset(memory, values)
    assert added.added
    assert {change.field: change.after for change in added.changed} == {
        "asset": "Pump 9 motor", "site": "Invented works", "rated_voltage": 6600.0
    }  # fmt: skip
    found = the_asset(memory, "Pump 9 motor")
    edited = edit_asset(memory, found, {"asset": "Lift pump motor", "rated_voltage": 3300.0}, reason="moved")
    assert [(one.field, one.before, one.after) for one in edited.changed] == [
        ("asset", "Pump 9 motor", "Lift pump motor"), ("rated_voltage", 6600.0, 3300.0),
    ]  # fmt: skip
    now = the_asset(memory, "Lift pump motor")
    assert now.id == found.id
    assert find_assets(memory, "Pump 9 motor") == []
    assert entries(memory, "asset", now.id) == [
        ("stated", "A. Invented", ""),
        ("stated", "A. Invented", "moved"),
    ]
    assert folded(memory, "site", identity("site", "Invented works"))["name"] == "Invented works"
    whole(memory)


def test_an_edit_that_changes_nothing_leaves_no_entry(where: str) -> None:
    memory, _ = store_with(where)
    motor = the_motor(memory)
    before = entries(memory, "asset", motor.id)
    assert edit_asset(memory, motor, {"year": 2004}).changed == ()
    assert entries(memory, "asset", motor.id) == before


def test_a_value_is_taken_away(where: str) -> None:
    memory, _ = store_with(where)
    edited = edit_asset(memory, the_motor(memory), {}, ["thermal-class"])
    assert [(one.field, one.before, one.after) for one in edited.changed] == [("thermal_class", "155", None)]
    assert "thermal_class" not in the_motor(memory).values


@pytest.mark.parametrize(
    ("values", "clear", "said"),
    (
        ({"method": "ramp"}, (), "method: no part of an asset"),
        ({"section": "U"}, (), "section: no part of an asset"),
        ({}, ("method",), "--clear method: no such part"),
        ({"year": 2001}, ("year",), "Leave one of the two out"),
        ({}, (), "Nothing to change is given"),
        ({}, ("asset",), "this would leave it none"),
    ),
)
def test_what_is_no_edit_of_an_asset_is_refused(
    where: str, values: dict[str, Any], clear: tuple[str, ...], said: str
) -> None:
    memory, _ = store_with(where)
    with pytest.raises(UsageError, match=said):
        edit_asset(memory, the_motor(memory), values, clear)


def test_options_are_read_as_everywhere(where: str) -> None:
    memory, _ = store_with(where)
    values, findings = plain_values({"thermal_class": "H", "winding_voltages": '{HV = "22 kV"}'})
    assert values == {"thermal_class": "180", "winding_voltages": {"HV": 22000.0}}
    assert [found.code for found in findings] == ["read_as"]
    with pytest.raises(InputError, match="year"):
        plain_values({"year": "soon"})
    assert edit_asset(memory, the_motor(memory), values).changed


def test_two_assets_do_not_get_one_name(where: str) -> None:
    memory, _ = store_with(where)
    with pytest.raises(UsageError, match="has this asset already"):
        add_asset(memory, {"asset": "Pump 3 motor", "site": "Invented works"})
    with pytest.raises(UsageError, match="needs a name"):
        add_asset(memory, {"site": "Invented works"})
    other = add_asset(memory, {"asset": "Pump 3 motor", "site": "Other works"})
    found = memory.assets([other.id])[other.id]
    with pytest.raises(UsageError, match="has this asset already"):
        edit_asset(memory, found, {"site": "Invented works"})
    with pytest.raises(UsageError, match="may be 2 assets"):
        the_asset(memory, "Pump 3 motor")
    assert the_asset(memory, "Pump 3 motor", "Other works").id == other.id
    assert the_asset(memory, other.id).id == other.id


def test_a_renamed_asset_is_met_by_its_first_name_and_not_made_anew(where: str) -> None:
    memory, (test,) = store_with(where)
    edit_asset(memory, the_motor(memory), {"asset": "Drain pump motor"})
    (later,) = take(memory, text(day="2026-05-14"))
    assert [one.asset for one in memory.tests(ids=[later])] == [test.asset]
    assert find_assets(memory, "Pump 3 motor") == []
    with pytest.raises(UsageError, match="is called Drain pump motor now"):
        add_asset(memory, {"asset": "Pump 3 motor", "site": "Invented works"})


def test_a_nameplate_change_names_the_verdicts_it_was_behind(where: str) -> None:
    memory, (stated, silent) = store_with(where, text(), text(day="2026-04-14", plate=BARE))
    motor = the_motor(memory)
    assert edit_asset(memory, motor, {"rated_voltage": 3300.0}).judged_before == (silent.id,)
    assert edit_asset(memory, motor, {"tag": "P-3"}).judged_before == (), "a tag judges nothing"
    assert stated.status == silent.status == "sound", "nothing was judged again"


def test_retired_and_back(where: str) -> None:
    memory, _ = store_with(where)
    assert retire(memory, the_motor(memory), reason="scrapped").changed
    assert the_motor(memory).values["retired"] is True
    assert retire(memory, the_motor(memory)).changed == ()
    retire(memory, the_motor(memory), back=True)
    assert "retired" not in the_motor(memory).values


# Sections and sites


def test_sections(where: str) -> None:
    memory, _ = store_with(where)
    edit_section(memory, the_motor(memory), "phase V", text="lead side", add=True)
    assert the_motor(memory).values["section:phase V"] == {"text": "lead side"}
    with pytest.raises(UsageError, match="is there already"):
        edit_section(memory, the_motor(memory), "phase V", add=True)
    with pytest.raises(UsageError, match="There are: phase U, phase V"):
        edit_section(memory, the_motor(memory), "phase W", text="x", add=False)
    with pytest.raises(UsageError, match="tests are of this section"):
        edit_section(memory, the_motor(memory), "phase U", add=False, remove=True)
    edit_section(memory, the_motor(memory), "phase V", add=False, remove=True)
    assert "section:phase V" not in the_motor(memory).values


def test_a_site_is_renamed_with_its_assets(made_address: str) -> None:
    memory, _ = store_with(made_address)
    edited = edit_site(
        memory, "Invented works", add=False, to="River works", assets=assets_at(memory, "Invented works")
    )
    assert [(one.field, one.before, one.after) for one in edited.changed] == [
        ("name", "Invented works", "River works")
    ]
    assert the_motor(memory).values["site"] == "River works"
    assert assets_at(memory, "Invented works") == []
    with memory.store.reading() as connection:
        from sqlalchemy import select

        from soakage.store import schema

        assert list(connection.execute(select(schema.site.c.name)).scalars()) == ["River works"]
    assert (
        entries(memory, "asset", the_motor(memory).id)[-1][2]
        == "The site Invented works is called River works now."
    )
    whole(memory)


def test_sites_are_refused_where_they_would_become_one(where: str) -> None:
    memory, _ = store_with(where)
    edit_site(memory, "Other works", add=True, text="behind the hill")
    with pytest.raises(UsageError, match="there already"):
        edit_site(memory, "Other works", add=True)
    with pytest.raises(UsageError, match="No site is called"):
        edit_site(memory, "Other", add=False, text="x")
    with pytest.raises(UsageError, match="Another site is called"):
        edit_site(memory, "Other works", add=False, to="Invented works")
    with pytest.raises(UsageError, match="needs a name"):
        edit_site(memory, " ", add=True)


# Instruments and people


def due(memory: StoreMemory, serial: str = "4711") -> str | None:
    subject = identity("instrument", serial)
    found = memory.instruments([subject])[subject].get("calibration_due")
    return None if found is None else str(found)


def test_the_calibration_that_runs_out_last_counts(made_address: str) -> None:
    memory = opened(made_address)
    edit_instrument(memory, "4711", {"instrument": "bench set"}, add=True)
    assert due(memory) is None
    first = calibrate(memory, "4711", date(2026, 3, 1), done=date(2025, 3, 1), certificate="C-4")
    assert [(one.before, one.after) for one in first.changed] == [(None, "2026-03-01")]
    calibrate(memory, "4711", date(2027, 3, 1))
    assert calibrate(memory, "4711", date(2025, 3, 1)).changed == ()
    assert due(memory) == "2027-03-01"
    fields = [remark["fields"] for remark in memory.remarks("instrument", identity("instrument", "4711"))]
    assert [one["due"] for one in fields] == ["2026-03-01", "2027-03-01", "2025-03-01"]
    assert fields[0]["certificate"] == "C-4"


def test_a_slip_in_a_date_is_put_right(where: str) -> None:
    memory = opened(where)
    edit_instrument(memory, "4711", {}, add=True)
    calibrate(memory, "4711", date(2072, 3, 1))
    edit_instrument(memory, "4711", {"calibration_due": "2027-03-01"}, add=False, reason="2027, not 2072")
    assert due(memory) == "2027-03-01"
    calibrate(memory, "4711", date(2028, 3, 1))
    assert due(memory) == "2028-03-01"


def test_records_bring_calibrations_and_lend_no_old_test_a_date(where: str) -> None:
    set_ = '# instrument = "bench set"\n# instrument_serial = "4711"\n'
    memory, _ = store_with(
        where,
        text(day="2025-03-14", more=f"{set_}# calibration_due = 2025-06-01\n"),
        text(day="2026-03-14", more=f"{set_}# calibration_due = 2026-06-01\n"),
        text(day="2024-03-14", more=set_),
    )
    assert due(memory) == "2026-06-01"
    with memory.changing() as change:
        assert change.folded("instrument", identity("instrument", "4711")).conflicts == {}
    (old,) = [
        one for one in memory.tests(assets=[the_motor(memory).id]) if str(one.record.day) == "2024-03-14"
    ]
    import json

    (given,) = memory.verdicts([old.id])[old.id]
    said = json.loads(memory.blob(given.result))["findings"]
    assert not any("calibration_due" in one["sentence"] for one in said if one["code"] == "from_register")


def test_instruments_are_told_by_their_serial_number(where: str) -> None:
    memory = opened(where)
    edit_instrument(memory, "4711", {}, add=True)
    with pytest.raises(UsageError, match="is there already"):
        edit_instrument(memory, "4711", {}, add=True)
    with pytest.raises(UsageError, match="No instrument has the serial number"):
        calibrate(memory, "471", date(2026, 3, 1))
    with pytest.raises(UsageError, match="stays"):
        edit_instrument(memory, "4711", {"instrument_serial": "4712"}, add=False)
    with pytest.raises(UsageError, match="cannot run out"):
        calibrate(memory, "4711", date(2026, 3, 1), done=date(2026, 4, 1))
    with pytest.raises(UsageError, match="Nothing to change"):
        edit_instrument(memory, "4711", {}, add=False)


def test_people(where: str) -> None:
    memory = opened(where)
    edit_person(memory, "A. Invented", {"licence_number": "L-1"}, add=True)
    edited = edit_person(memory, "A. Invented", {"name": "A. Invented-Other"}, ["licence-number"], add=False)
    assert edited.title == "A. Invented-Other"
    assert dict(folded(memory, "person", edited.id)) == {"name": "A. Invented-Other"}
    with pytest.raises(UsageError, match="there already"):
        edit_person(memory, "A. Invented", {}, add=True)
    with pytest.raises(UsageError, match="No person was added"):
        edit_person(memory, "B. Invented", {"text": "x"}, add=False)


# Looking up


def test_an_asset_is_found_by_its_whole_name_only(where: str) -> None:
    memory, (test,) = store_with(where, text(more='# tag = "P-3"\n# serial = "0815"\n'))
    for typed in ("Pump 3 motor", "  Pump 3   motor ", "P-3", "0815", test.asset or ""):
        assert isinstance(asset_or_test(memory, typed), KnownAsset), typed
    for typed in ("Pump 3", "pump 3 motor", "P-", ""):
        with pytest.raises(UsageError, match="No asset is called"):
            the_asset(memory, typed)
    with pytest.raises(UsageError, match="at Other works"):
        the_asset(memory, "Pump 3 motor", "Other works")


def test_a_test_is_found_by_the_beginning_of_its_id(where: str) -> None:
    memory, (test,) = store_with(where)
    for typed in (test.id, test.id[:8], f" {test.id[:12].upper()} "):
        assert the_test(memory, typed).id == test.id
        assert isinstance(asset_or_test(memory, typed), KnownTest)
    with pytest.raises(UsageError, match="at least its first 8"):
        the_test(memory, test.id[:7])
    with pytest.raises(UsageError, match="No test begins with"):
        the_test(memory, "0" * 12 if not test.id.startswith("0") else "f" * 12)


def test_the_plate_of_a_first_record_is_the_registers(where: str) -> None:
    memory, _ = store_with(where)
    assert the_motor(memory).values["rated_voltage"] == 6600.0
    assert "rated_voltage" in PLATE
