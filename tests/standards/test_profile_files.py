"""Profile files: what a company may change, and how a wrong file is refused."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import pytest

from soakage.app.rules import Rules, check_methods
from soakage.errors import StandardDataError
from soakage.standards.criterion import Verified
from soakage.standards.library import library
from soakage.standards.profile import Profile, embedded_profile, profile, read_profile
from soakage.wiring import named_profile

sys.path.insert(0, str(Path(__file__).parents[1] / "app"))
from typed import MACHINE, SWITCHGEAR, by, evaluation, judged, machine, spot, status

LIBRARY = library()
HEAD = '[profile]\nid = "works"\ntitle = "Works rules"\ninclude = "default"\n'
FORM_WOUND = "ieee-43-2013.minimum-resistance.form-wound"
BAND = "practice.polarization-index-band"


def read(text: str, head: str = HEAD) -> Profile:
    return read_profile("works.toml", (head + text).encode(), LIBRARY, embedded_profile)


def works(text: str, head: str = HEAD) -> Rules:
    return Rules(read(text, head), LIBRARY)


# ---- include, leave out, override, add
def test_an_included_profile_judges_as_itself() -> None:
    assert judged(machine(99), works("")).judgements == judged(machine(99)).judgements
    assert read("").sha256 != profile().sha256


def test_without_include_nothing_of_the_default_is_used() -> None:
    evaluated = judged(machine(99), works("", HEAD.replace('include = "default"\n', "")))
    assert evaluated.judgements == ()
    assert evaluated.verdict.status == "not judged"


@pytest.mark.parametrize("left", (BAND, f"{BAND}.form-wound"))
def test_a_criterion_or_group_is_left_out(left: str) -> None:
    rules = works(f'[[leave_out]]\ncriterion = "{left}"\nreason = "We trend instead."\n')
    low = machine(500, (1.5, 2.0))
    assert status(low) == "watch"
    assert status(low, rules) == "sound"
    assert not [j for j in judged(low, rules).judgements if j.criterion.startswith(BAND)]


def test_a_limit_is_overridden_and_marked_as_ones_own() -> None:
    text = f'[[override]]\ncriterion = "{FORM_WOUND}"\nlimit = "250 MOhm"\nreason = "Owner\'s rule 7."\n'
    rules = works(text)
    assert status(machine(249), rules) == "unfit"
    assert status(machine(250), rules) == "sound"
    judgement = by(judged(machine(250), rules), FORM_WOUND)
    assert judgement.verified == Verified.USER
    assert judgement.user_limit
    assert judgement.limit is not None
    assert judgement.limit.lower == 250e6
    # the part of the winding still multiplies, the base still stands
    one = machine(499, tested="U", earthed="V, W, frame", neutral="opened")
    assert status(one, rules) == "unfit"
    assert status(machine(250, winding_temperature="30 degC"), rules) == "unfit"


@pytest.mark.parametrize("limit", ("2.5", '"2.5"'))
def test_a_ratio_is_overridden_by_a_number_or_a_text(limit: str) -> None:
    name = "ieee-43-2013.minimum-polarization-index.class-130-and-above"
    rules = works(f'[[override]]\ncriterion = "{name}"\nlimit = {limit}\nreason = "Ours."\n')
    assert status(machine(500, (1.5, 2.4)), rules) == "investigate"
    assert status(machine(500, (1.5, 2.5)), rules) == "sound"


OWN = """
[[criterion]]
id = "works.fans"
group = "ieee-43-2013.minimum-resistance"
name = "Fans of the boiler house"
quantity = "insulation_resistance_60s_corrected"
kind = "constant"
limit = "400 MOhm"
base_temperature = "40 degC"
applies = { class = ["rotating-machine"], section = ["fan"] }
verified = "user"
rationale = "They stand in the wet."
breach = "investigate"
breach_means = "Dry it."
examples = [
  { facts = { class = "rotating-machine" }, value = "400 MOhm", status = "sound" },
  { facts = { class = "rotating-machine" }, value = "399 MOhm", status = "investigate" },
]
"""


def test_an_own_criterion_stands_before_its_group_and_leaves_the_rest() -> None:
    rules = works(OWN)
    assert status(machine(399, section="fan"), rules) == "investigate"
    assert (
        by(judged(machine(399, section="fan"), rules), "works.fans").data_hash
        == rules.profile.criteria["works.fans"].standard.sha256
    )
    assert status(machine(399, section="pump"), rules) == "sound"
    assert status(machine(99, section="pump"), rules) == "unfit"


def test_a_use_decides_and_caps_before_that_of_the_included_profile() -> None:
    use = '[[use]]\ncriteria = ["ieee-43-2013.minimum-resistance"]\ncap = "investigate"\ndecides = ["*"]\n'
    assert status(machine(99), works(use)) == "investigate"
    assert "No more than investigate" in by(judged(machine(99), works(use)), FORM_WOUND).reason


def test_what_decides_is_set_by_method_and_purpose() -> None:
    text = f"""
[[use]]
criteria = ["{BAND}"]
decides = ["polarization-index"]
purposes = ["acceptance"]
"""
    for purpose, decides in (("acceptance", True), ("maintenance", False), (None, False)):
        assert by(judged(machine(500, purpose=purpose), works(text)), BAND).decides == decides


def test_what_is_only_shown_judges_nothing() -> None:
    text = '[[use]]\ncriteria = ["gb-50150-2006.machine-polarization-index"]\nshown = true\n'
    judgement = by(judged(machine(500, (1.5, 1.2)), works(text)), "gb-50150-2006.machine-polarization")
    assert judgement.status == "not applicable"
    assert "not met" in judgement.reason


# ---- retire and demand
@pytest.mark.parametrize(
    ("started", "judges"), (("2026-03-13", True), ("2026-03-14", False), ("2027-01-01", False), (None, True))
)
def test_a_rule_is_retired_from_a_day_on(started: str | None, judges: bool) -> None:
    rules = works(f'[[retire]]\ncriterion = "{BAND}"\nfrom = 2026-03-14\nreason = "Not of use."\n')
    found = [
        j for j in judged(machine(500, started=started), rules).judgements if j.criterion.startswith(BAND)
    ]
    assert bool(found) == judges
    assert rules.profile.changes[0].day == date(2026, 3, 14)


def test_a_demanded_key_holds_sound_and_watch_back_never_a_breach() -> None:
    rules = works('[demand]\nkeys = ["work_order"]\n')
    evaluated = judged(machine(500), rules)
    assert evaluated.verdict.status == "not judged"
    assert "'work_order'" in evaluated.verdict.sentence
    assert status(machine(500, work_order="WO-1"), rules) == "sound"
    assert status(machine(50), rules) == "unfit"
    assert status(machine(500, (1.5, 1.2)), rules) == "investigate"


def test_a_demand_is_met_by_what_is_stated_under_either_name() -> None:
    rules = works('[demand]\nkeys = ["insulation_temperature", "insulation"]\n')
    assert (
        status(machine(500, insulation="hemp"), rules) == "sound"
    )  # at 40 degC every rule leaves it as it is
    assert status(machine(500), rules) == "sound"


def test_temperature_rules_of_ones_own_come_first() -> None:
    text = """
[[temperature]]
applies = { class = ["rotating-machine"] }
rule = "ieee-43-2013.thermoplastic"
base = "40 degC"
"""
    corrected = judged(machine(400, winding_temperature="20 degC"), works(text)).quantities[
        "insulation_resistance_60s_corrected"
    ]
    assert corrected.value == pytest.approx(100e6)


def test_report_wording_is_carried() -> None:
    assert read('[report]\nheading = "Works report"\n').wording == {"heading": "Works report"}


@pytest.mark.parametrize("wording", ('headline = "x"', 'logo_file = "x"'))
def test_wording_that_no_report_shows_is_refused(wording: str) -> None:
    with pytest.raises(StandardDataError, match=r"company.*heading.*note"):
        read(f"[report]\n{wording}\n")


def test_wording_goes_with_the_result_and_judges_nothing() -> None:
    text = '[report]\ncompany = "Lowland works (invented)"\nnote = "Keep ten years."\n'
    result = evaluation(machine(500), rules=works(text))
    assert result.rules.wording == {"company": "Lowland works (invented)", "note": "Keep ten years."}
    assert result.records[0].judgements == evaluation(machine(500)).records[0].judgements
    assert evaluation(machine(500)).rules.wording == {}


def test_the_report_names_the_profile() -> None:
    result = evaluation(spot(SWITCHGEAR, "9 GOhm"), rules=works(""))
    assert (result.rules.profile, result.rules.profile_title) == ("works", "Works rules")
    assert result.rules.profile_sha256 == read("").sha256
    assert evaluation(machine(500)).rules.profile == "default"
    assert MACHINE["class"] == "rotating-machine"


# ---- wrong files
@pytest.mark.parametrize(
    ("text", "words"),
    (
        ("[profile", ("TOML",)),
        ("[other]\na = 1\n", ("unknown tables", "'other'")),
        ('[[use]]\ncriteria = ["nothing.such"]\n', ("'nothing.such'",)),
        ('[[use]]\ncriteria = ["practice.polarization-index-bend"]\n', ("Did you mean", BAND)),
        ('[[use]]\ndecides = ["*"]\n', ("'criteria' is missing",)),
        (f'[[use]]\ncriteria = ["{BAND}"]\ndecide = ["*"]\n', ("'decide'", "decides")),
        (f'[[use]]\ncriteria = ["{BAND}"]\npurposes = ["fun"]\n', ("'fun'", "acceptance")),
        (f'[[use]]\ncriteria = ["{BAND}"]\ncap = "bad"\n', ("'bad'",)),
        (f'[use]\ncriteria = ["{BAND}"]\n', ()),
        (f'[[leave_out]]\ncriterion = "{BAND}"\n', (BAND, "reason")),
        ('[[leave_out]]\ncriterion = "no.such"\nreason = "x"\n', ("'no.such'",)),
        (f'[[override]]\ncriterion = "{FORM_WOUND}"\nlimit = "250 MOhm"\n', ("reason",)),
        (f'[[override]]\ncriterion = "{FORM_WOUND}"\nlimit = "250 V"\nreason = "x"\n', ("250 V",)),
        (f'[[override]]\ncriterion = "{FORM_WOUND}"\nlimit = 250\nreason = "x"\n', ("250",)),
        ('[[override]]\ncriterion = "ieee-43-2013.minimum-resistance"\nlimit = "1 MOhm"\nreason = "x"\n',
         ("group", FORM_WOUND)),
        (f'[[retire]]\ncriterion = "{BAND}"\nfrom = "soon"\nreason = "x"\n', ("'soon'", "2026-03-14")),
        (f'[[retire]]\ncriterion = "{BAND}"\nreason = "x"\n', ("'from' is missing",)),
        ('[demand]\nkeys = ["workorder"]\n', ("'workorder'", "work_order")),
        ('[[temperature]]\nrule = "no.such"\nbase = "40 degC"\n', ("'no.such'",)),
        ('[[voltage]]\ntables = ["no.such"]\n', ("'no.such'",)),
    ),
)  # fmt: skip
def test_a_wrong_file_is_refused_naming_file_and_entry(text: str, words: tuple[str, ...]) -> None:
    with pytest.raises(StandardDataError) as caught:
        read(text)
    said = str(caught.value)
    assert said.startswith("works.toml: ")
    assert said.count("works.toml") == 1
    for word in words:
        assert word in said


def test_a_method_that_does_not_exist_decides_nothing() -> None:
    text = f'[[use]]\ncriteria = ["{BAND}"]\ndecides = ["ohmmeter"]\n'
    with pytest.raises(
        StandardDataError, match=r"works: decides names 'ohmmeter'; allowed: .*polarization-index"
    ):
        works(text)
    with pytest.raises(StandardDataError, match=r"^mine.toml: decides names 'ohmmeter'"):
        check_methods(read(text), "mine.toml")
    assert check_methods(profile()) is profile()


def test_a_head_without_id_and_an_unknown_include_are_refused() -> None:
    with pytest.raises(StandardDataError, match="'profile' is missing"):
        read("", "")
    with pytest.raises(StandardDataError, match="'id' is missing"):
        read("", '[profile]\ntitle = "x"\n')
    with pytest.raises(StandardDataError, match="No profile is called 'nobody'"):
        read("", HEAD.replace('"default"', '"nobody"'))
    with pytest.raises(StandardDataError, match="Known: default"):
        profile("nobody")


def test_a_profile_is_named_by_id_or_by_file(tmp_path: Path) -> None:
    assert named_profile("default").id == "default"
    path = tmp_path / "works.toml"
    path.write_text(HEAD, encoding="utf-8")
    assert named_profile(str(path)).id == "works"
    with pytest.raises(StandardDataError, match=r"missing\.toml"):
        named_profile(str(tmp_path / "missing.toml"))
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StandardDataError, match="TOML"):
        named_profile(str(path))


def test_the_default_profile_gives_a_reason_for_every_rule() -> None:
    assert all(use.reason for use in profile().uses)
    assert all(use.reason for use in profile().temperatures)
    assert profile().changes == ()
