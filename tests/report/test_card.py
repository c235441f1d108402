"""The card: what stands on it, in which order, and that its bytes repeat."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from soakage.app.plan import Plan, plan
from soakage.errors import UsageError
from soakage.model.asset import Asset
from soakage.report.card_content import AIR_DEGC, HUMIDITY, card_content, dew_table
from soakage.report.card_pdf import card_pdf
from soakage.report.card_table import CIRCUITS, schedule, tables

MOTOR = Asset(
    site="Alder Mill, invented", name="Feed pump 2 motor", asset_class="rotating-machine",
    rated_voltage=6600.0, winding="form-wound", insulation="epoxy-mica", thermal_class="155", year=2004,
)  # fmt: skip
GENERATOR = replace(MOTOR, name="Generator G1", rated_voltage=13800.0)
THREE = Asset(
    name="T1", asset_class="transformer", filling="oil", winding_voltages={"H": 132e3, "L": 33e3, "T": 11e3}
)
TWO = replace(THREE, winding_voltages={"H": 11e3, "L": 433.0})
CABLE = Asset(name="Feeder 7", asset_class="cable", rated_voltage=15e3, length=600.0, sheath_thickness=0.0025)
BOARD = Asset(name="Board B", asset_class="switchgear", rated_voltage=12e3)
PANEL = Asset(name="Panel P4", asset_class="low-voltage-installation", nominal_voltage=230.0)
WIDE = Asset(
    name="Panel P5", asset_class="low-voltage-installation", nominal_voltage=400.0,
    terminals=("L1", "L2", "L3", "N", "PE"),
)  # fmt: skip
CASES: dict[str, tuple[Asset, dict[str, Any]]] = {
    "motor": (MOTOR, {"hazardous_area": "no", "capacitance": 88e-9}),
    "three windings": (THREE, {"purpose": "acceptance"}),
    "two windings": (TWO, {}),
    "cable": (CABLE, {}),
    "board": (BOARD, {"hazardous_area": "yes", "gas_free_certificate": "GF-118"}),
    "panel": (PANEL, {}),
    "wide panel": (WIDE, {}),
    "steps": (GENERATOR, {"methods": ("step-voltage",)}),
    "ramp": (GENERATOR, {"methods": ("ramp", "dielectric-discharge")}),
    "bare": (Asset(asset_class="apparatus"), {}),
}


@cache
def planned(case: str) -> Plan:
    asset, stated = CASES[case]
    return plan(asset, **stated)


@cache
def pages(case: str, paper: str = "a4") -> tuple[str, ...]:
    reader = PdfReader(io.BytesIO(card_pdf(planned(case), paper=paper)))
    return tuple(" ".join(page.extract_text().replace("\u00a0", " ").split()) for page in reader.pages)


def whole(case: str) -> str:
    return re.sub(r"(?<=[a-z])- (?=[a-z])", "-", " ".join(pages(case)))  # a compound broken over two lines


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("paper", ("a4", "letter"))
def test_every_kind_of_plan_fits_few_pages(case: str, paper: str) -> None:
    assert len(pages(case, paper)) <= (4 if case == "ramp" else 3), "three tests on the ramp's card"


@pytest.mark.parametrize(("paper", "size"), (("a4", (595.3, 841.9)), ("letter", (612.0, 792.0))))
def test_paper(paper: str, size: tuple[float, float]) -> None:
    # ISO 216: 210 x 297 mm; US letter 8.5 x 11 in, in points of 1/72 in.
    page = PdfReader(io.BytesIO(card_pdf(planned("motor"), paper=paper))).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.1)


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(UsageError, match="a4, letter"):
        card_pdf(planned("motor"), paper="a5")


@pytest.mark.parametrize("case", ("motor", "steps", "wide panel"))
def test_the_same_plan_gives_the_same_bytes(case: str) -> None:
    asset, stated = CASES[case]
    assert card_pdf(plan(asset, **stated)) == card_pdf(plan(asset, **stated))


@pytest.mark.parametrize("case", CASES)
def test_cautions_come_before_everything_else(case: str) -> None:
    first = pages(case)[0]
    places = [first.find(word) for word in ("Cautions", "Isolate", "Who", "Conditions")]
    assert places == sorted(places)
    assert places[0] >= 0
    assert "person in charge" in first[: places[1]]


@pytest.mark.parametrize("case", CASES)
def test_the_order_is_that_of_the_hands(case: str) -> None:
    text = whole(case)
    words = (
        "Cautions Local", "Isolate Permit", "Who Person", "Conditions Air", "Connect Check", "Charging:",
        "Write down", "A minimum, no proof",
    )  # fmt: skip
    places = [text.find(word) for word in words]
    assert -1 not in places
    assert places == sorted(places)


@pytest.mark.parametrize("case", CASES)
def test_later_pages_say_what_they_belong_to(case: str) -> None:
    title = planned(case).asset.title
    for number, page in enumerate(pages(case), start=1):
        assert title in page
        assert "Plan card" in page
        assert f"page {number} of {len(pages(case))}" in page


@pytest.mark.parametrize("case", CASES)
def test_nothing_is_promised(case: str) -> None:
    text = whole(case)
    assert not re.search(r"\bsafe\b|\bdischarged\b|all clear|may be energi", text, re.IGNORECASE)
    assert "prove dead" in text


@pytest.mark.parametrize("case", CASES)
def test_every_caution_of_the_plan_is_on_the_card(case: str) -> None:
    text = whole(case)
    for caution in planned(case).cautions:
        assert caution.lead.replace("\u00a0", " ") in text


@pytest.mark.parametrize("case", CASES)
def test_every_item_note_and_criterion_is_on_the_card(case: str) -> None:
    text = whole(case)
    found = planned(case)
    for words in (*found.checklist, *found.notes, *(entry.name for entry in found.criteria)):
        assert words.replace("\u00a0", " ") in text


@pytest.mark.parametrize("word", ("Tested by", "Witnessed by", "Permit", "Person in charge", "Date"))
def test_who(word: str) -> None:
    assert word in pages("motor")[0]


@pytest.mark.parametrize(
    ("case", "words"),
    (
        ("motor", "Hazardous area: no"),
        ("cable", "Hazardous area: not stated"),
        ("board", "Hazardous area: yes, gas-free certificate GF-118"),
    ),
)
def test_hazardous_area(case: str, words: str) -> None:
    assert words in whole(case)


def test_a_refused_plan_has_no_card() -> None:
    with pytest.raises(UsageError, match="gas-free certificate"):
        card_pdf(plan(MOTOR, hazardous_area="yes"))


# ---- the dew point -------------------------------------------------------------------------------
def test_the_dew_table_is_that_of_the_published_constants() -> None:
    # WMO constants (secondary), computed table: 10 degC 40 % -3.00, 20 degC 60 % 12.00, 25 degC 60 % 16.69,
    # 30 degC 80 % 26.17, 30 degC 90 % 28.18 (derived).
    rows = {row[0]: row[1:] for row in dew_table()}
    assert list(rows) == [f"{air:.0f}" for air in AIR_DEGC]
    column = {f"{share:.0%}": place for place, share in enumerate(HUMIDITY)}
    for air, humidity, point in (
        ("10", "40%", "−3"), ("20", "60%", "12"), ("25", "60%", "17"), ("30", "80%", "26"),
        ("30", "90%", "28"),
    ):  # fmt: skip
        assert rows[air][column[humidity]] == point


def test_the_table_does_not_print_a_negative_nought() -> None:
    assert not any(cell == "−0" for row in dew_table() for cell in row)


# ---- what is written on it -----------------------------------------------------------------------
def test_marks_and_ratios_of_ten_minutes() -> None:
    (table,) = tables(planned("motor"))
    labels = [row["label"].replace("\u00a0", " ") for row in table["rows"]]
    assert labels[0] == "Voltage on at"
    assert labels[1:7] == ["15 s", "30 s", "1 min", "3 min 10 s", "5 min", "10 min"]
    assert labels[-2:] == ["Earthed at", "Lift not before"]
    assert "PI 10 min / 1 min" in labels
    assert all(row["cells"] == [True] * 3 for row in table["rows"])


def test_seven_connections_take_two_tables() -> None:
    found = tables(planned("three windings"))
    assert [len(table["columns"]) for table in found] == [4, 3]
    by_label = {row["label"].replace("\u00a0", " "): row["cells"] for row in found[0]["rows"]}
    assert by_label["1 min"] == [True] * 4
    assert by_label["10 min"] == [True, True, True, False]
    assert "10 min" not in {row["label"].replace("\u00a0", " ") for row in found[1]["rows"]}


@pytest.mark.parametrize("case", CASES)
def test_every_connection_has_a_column(case: str) -> None:
    found = planned(case)
    columns = sum(len(table["columns"]) for table in tables(found))
    circuits = schedule(found)
    assert columns + (len(circuits["columns"]) if circuits else 0) == len(found.connections)


def test_a_schedule_has_empty_rows() -> None:
    found = schedule(planned("panel"))
    assert found is not None
    assert found["columns"] == ["L–PE", "N–PE", "L–N"]
    assert len(found["rows"]) == CIRCUITS
    assert schedule(planned("motor")) is None


def test_the_discharge_has_its_own_rows() -> None:
    labels = [row["label"].replace("\u00a0", " ") for row in tables(planned("ramp"))[0]["rows"]]
    assert labels.index("Shorted at") + 1 == labels.index("1 min of discharge")
    assert labels.index("10 min") < labels.index("Shorted at")


# ---- voltage and earthing ------------------------------------------------------------------------
def test_the_voltage_stands_with_its_row_and_status() -> None:
    text = whole("motor")
    for words in ("5 kV", "2.5 kV to 5 kV", "IEEE Std 43-2000, Table 1", "As reported by others, not read."):
        assert words in text


def test_windings_of_one_set_at_one_voltage() -> None:
    text = whole("two windings")
    assert "Connections 1, 2 and 3: direct voltage" in text
    assert "The weakest winding that is live or compared decides." in text
    assert "Connection 4: direct voltage" in text


def test_an_oversheath_has_no_voltage_of_ours() -> None:
    assert "Connection 4: no table gives it; ask the maker." in whole("cable")


def test_earthing_is_said_for_each_length() -> None:
    text = whole("three windings")
    assert "40 min" in text
    assert "After connection 4, 5, 6 and 7: 4 min." in text


def test_charge_and_energy() -> None:
    assert "440 µC and 1.10 J" in whole("motor")
    assert "capacitance not known" in whole("cable")


def test_the_limit_is_printed_as_it_will_be_read() -> None:
    # 200 MOhm at 40 degC over K of the thermosetting rule: 262, 244, 228 MOhm at 20, 25, 30 degC.
    assert "Read at 20, 25, 30 °C: 262 MΩ, 244 MΩ, 228 MΩ" in whole("motor")


# ---- overvoltage ---------------------------------------------------------------------------------
@pytest.mark.parametrize("case", ("steps", "ramp"))
def test_consent_stop_rule_and_repair_have_lines_to_sign(case: str) -> None:
    text = whole(case)
    for words in ("judged by", "signature and date", "Person who calls stop", "Repair by", "29.3 kV"):
        assert words in text
    assert text.index("PI 10 min / 1 min") < text.index("judged by"), "the index is written down before"


@pytest.mark.parametrize("case", [case for case in CASES if case not in ("steps", "ramp")])
def test_other_cards_have_none_of_it(case: str) -> None:
    assert "signature and date" not in whole(case)
    assert "consent" not in whole(case)


def test_the_subtitle_keeps_the_two_voltages_apart() -> None:
    text = card_content(planned("steps"))["subtitle"].replace("\u00a0", " ")
    assert text.startswith("Polarization index at 10 kV, step voltage to 29.3 kV, 6 connections")


# ---- drawings ------------------------------------------------------------------------------------
@pytest.mark.parametrize("case", CASES)
def test_each_drawing_shows_what_the_connection_says(case: str) -> None:
    found = planned(case)
    for drawn in card_content(found)["connections"]:
        connection = found.connections[drawn["number"] - 1]
        live = {item["name"] for item in drawn["items"] if item["rail"] == "live"}
        earthed = {item["name"] for item in drawn["items"] if item["rail"] == "earth"}
        assert live == set(connection.tested)
        assert earthed == set(connection.earthed)


def test_conductors_of_a_schedule_are_drawn_to_earth_and_listed_between() -> None:
    content = card_content(planned("wide panel"))
    assert [drawn["title"] for drawn in content["connections"]] == [
        "1: L1–PE",
        "2: L2–PE",
        "3: L3–PE",
        "4: N–PE",
    ]
    assert content["between"] == ["L1–L2", "L1–L3", "L1–N", "L2–L3", "L2–N", "L3–N"]
    rails = {item["name"]: item["rail"] for item in content["connections"][0]["items"]}
    assert rails == {"L1": "live", "L2": "floating", "L3": "floating", "N": "floating", "PE": "earth"}


def test_text_of_the_user_is_never_markup() -> None:
    odd = '#panic("x") *bold* _it_ $x$ @ref <a> \\ "'
    found = plan(replace(MOTOR, name=odd, site="#set page(width: 1pt)", tag="= T"))
    text = " ".join(
        PdfReader(io.BytesIO(card_pdf(found))).pages[0].extract_text().replace("\u00a0", " ").split()
    )
    assert '#panic("x") *bold*' in text
    assert "#set page" in text


def test_a_character_the_typeface_lacks_is_written_out() -> None:
    text = PdfReader(io.BytesIO(card_pdf(plan(replace(MOTOR, name="Pump 泵"))))).pages[0].extract_text()
    assert "U+6CF5" in text


def test_many_terminals_still_fit() -> None:
    phases = tuple(f"P{n}" for n in range(1, 7))
    found = plan(
        Asset(
            name="Six-phase board", asset_class="switchgear", rated_voltage=6e3, terminals=(*phases, "earth")
        )
    )
    assert len(found.connections) == 6
    assert len(PdfReader(io.BytesIO(card_pdf(found))).pages) <= 3
