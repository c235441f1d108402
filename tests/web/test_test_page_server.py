"""The page of a test as the server gives it: what stands on it, for every method, and what is refused."""

from __future__ import annotations

import re

import pytest

from kept_rig import OVER_RANGE, Kept, words

# What each record of the invented scenario has to say.  The verdicts are those of ``soakage demo``.
PAGES = [
    ("drain-pump-3-u.csv", "Investigate.", "spread among sister sections is 4.72", ("resistance", "current")),
    ("drain-pump-3-w.csv", "Investigate.", "polarization index 10 min / 1 min is 1.19", ("resistance", "current")),
    ("drain-pump-4.csv", "Unfit.", "29.9 MΩ, where at least 100 MΩ at 40 °C is required", ("resistance", "current")),
    ("generator-1-discharge.csv", "Investigate.", "dielectric discharge is 4.99 mA/(V F)", ("resistance", "current")),
    ("generator-2-discharge.csv", "Sound.", "1.56 mA/(V F)", ("resistance", "current")),
    ("generator-1-steps.csv", "Sound.", "fall of resistance with voltage −62.7 %", ("steps", "step-conductance")),
    ("generator-2-steps.csv", "Investigate.", "fall of resistance with voltage is 47.4 %",
     ("steps", "step-conductance")),
    ("generator-1-ramp.csv", "Not judged.", "no criterion of the profile decides", ("ramp",)),
    ("generator-2-ramp.csv", "Investigate.", "The ramp bends upward from about 13.1 kV", ("ramp",)),
    ("cable-7-l1.csv", "Sound.", "insulation resistance at 60 s 12.0 GΩ", ()),
    ("cable-7-oversheath.csv", "Investigate.", "212 kΩ, where at least 1.00 MΩ is required", ()),
    (OVER_RANGE, "Sound.", "> 100 GΩ", ("resistance",)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "lead", "reason", "charts"), PAGES, ids=[row[0] for row in PAGES])
def test_every_method_has_its_verdict_and_its_curves(
    kept: Kept, name: str, lead: str, reason: str, charts: tuple[str, ...]
) -> None:
    text = kept.page(name)
    heading = re.search(r'<h1 class="lead">(.*?)</h1>(?:\s*<p class="second">(.*?)</p>)?', text, re.DOTALL)
    assert heading is not None
    said = words(f"{heading[1]} {heading[2] or ''}")
    assert said.startswith(lead)
    assert reason.lower() in said.lower()
    named = dict.fromkeys(re.findall(rf'src="/tests/{kept.ids[name]}/charts/([a-z-]+)\.svg', text))
    assert tuple(named) == charts


@pytest.mark.parametrize(("name", "charts"), [(row[0], row[3]) for row in PAGES if row[3]], ids=str)
def test_every_curve_framed_is_drawn_when_asked_for(kept: Kept, name: str, charts: tuple[str, ...]) -> None:
    test = kept.ids[name]
    for kind in charts:
        drawing = kept.client.get(f"/tests/{test}/charts/{kind}.svg?look=screen-dark&width=600&height=300")
        assert drawing.status_code == 200
        assert drawing.headers["content-type"].startswith("image/svg+xml")
        assert drawing.url.path.startswith("/charts/")
        table = kept.client.get(f"/tests/{test}/charts/{kind}.csv")
        assert len(table.text.splitlines()) > 2


def test_the_limits_of_a_chart_are_those_of_the_verdict_that_stands(kept: Kept) -> None:
    shown = kept.api("drain-pump-4.csv", "/charts")["charts"]
    resistance = next(plot for plot in shown if plot["kind"] == "resistance")
    # IEEE Std 43-2013, cl. 12.3 (secondary): 100 MΩ at 40 °C, drawn where it lies at the temperature of the reading
    assert [limit["text"].partition(" at ")[0] for limit in resistance["limits"]] == ["at least 100\u00a0MΩ"]


def test_a_forecast_is_named_and_judges_nothing(kept: Kept) -> None:
    """A record that ends early foresees its index; the band is drawn and the sentence says what it is."""
    with_forecast = [name for name in kept.ids if "forecast" in (kept.api(name)["result"] or {})]
    for name in with_forecast:
        text = words(kept.page(name))
        assert "If nothing changes. Forecast, not a judgement:" in text
    assert "Forecast, not a judgement" not in kept.page("drain-pump-4.csv")


def test_the_knee_of_a_ramp_is_in_its_chart(kept: Kept) -> None:
    (ramp,) = kept.api("generator-2-ramp.csv", "/charts")["charts"]
    assert ramp["rules"][0]["text"].startswith("knee from about")
    assert 12_500 < ramp["rules"][0]["at"] < 13_500


def test_the_parts_and_what_is_left_of_them_stand_under_the_current(kept: Kept) -> None:
    text = kept.page("drain-pump-3-u.csv")
    assert "Current, measured less model" in text
    assert "Follows the model: scatter" in words(text)
    current = next(p for p in kept.api("drain-pump-3-u.csv", "/charts")["charts"] if p["kind"] == "current")
    assert {line["role"] for line in current["lines"]} == {"measured", "constant", "part"}


def test_a_spot_reading_says_that_it_has_no_curve(kept: Kept) -> None:
    text = kept.page("workshop-panel.csv:26")
    assert "This reading has no curve" in text
    assert "Unfit." in text
    assert "4 water heater, N-PE" in text
    assert "workshop-panel.csv, line 26" in words(text)


def test_a_bound_keeps_its_sign_and_has_no_uncertainty(kept: Kept) -> None:
    text = kept.page(OVER_RANGE)
    figures = re.search(r'<ul class="quantities">(.*?)</ul>', text, re.DOTALL)
    assert figures is not None
    assert "> 100 GΩ" in words(figures[1])
    assert "±" not in figures[1]


def test_the_network_of_a_visit_is_drawn_and_has_its_numbers(kept: Kept) -> None:
    name = next(name for name in kept.ids if name.startswith("transformer-1-hv-lv") or "transformer" in name)
    text = kept.page(name)
    assert f"/tests/{kept.ids[name]}/charts/network.svg?look=screen-dark" in text
    for look, ink in (("light", "#0E1F1D"), ("dark", "#E2EAE7")):
        drawing = kept.client.get(f"/tests/{kept.ids[name]}/charts/network.svg?look=screen-{look}")
        assert drawing.headers["content-type"].startswith("image/svg+xml")
        assert ink in drawing.text
        assert "currentColor" not in drawing.text
        assert "var(--" not in drawing.text
    table = words(kept.page(name, "/network"))
    assert "HV and LV" in table
    assert "GΩ" in table


def test_the_tally_counts_and_filters_the_criteria(kept: Kept) -> None:
    name = "drain-pump-3-w.csv"
    counts: dict[str, int] = {}
    for judgement in kept.api(name)["result"]["judgements"]:
        counts[judgement["status"]] = counts.get(judgement["status"], 0) + 1
    text = kept.page(name)
    for status, count in counts.items():
        assert f"<b>{count}</b> {status}" in text
        assert f"?only={status.replace(' ', '%20')}#criteria" in text
        filtered = kept.page(name, f"?only={status}")
        rows = re.findall(r'<span class="criterion">', filtered)
        assert len(rows) == count
        assert f"Shown: {status}." in words(filtered)
    everything = kept.page(name, "?only=nonsense")
    assert len(re.findall(r'<span class="criterion">', everything)) == sum(counts.values())


def test_each_criterion_has_measured_asked_source_how_known_and_reason(kept: Kept) -> None:
    text = words(kept.page("drain-pump-3-w.csv"))
    assert "Minimum polarization index, thermal class 130 (B) and above" in text
    assert "at least 2.00" in text
    assert "IEEE Std 43-2013, cl. 12.2 as reported decides" in text
    assert "common practice, no source no source" in text
    assert "GB 50150-2006, cl. 3.0.2 read" in text


def test_causes_have_for_against_and_to_confirm(kept: Kept) -> None:
    text = kept.page("generator-2-steps.csv")
    causes = re.search(r'<div class="causes">(.*?)</div>\s*</div>', text, re.DOTALL)
    assert causes is not None
    said = words(text)
    assert "A defect that conducts with voltage" in said
    for word in ("For", "Against", "To confirm"):
        assert f"<dt>{word}</dt>" in text
    assert "Ranked by evidence; no probabilities are computed." in said


def test_a_sound_test_is_asked_for_no_cause(kept: Kept) -> None:
    assert "Probable causes" not in kept.page("generator-2-discharge.csv")


def test_what_holds_after_the_test_is_a_caution_with_its_time(kept: Kept) -> None:
    text = words(kept.page("drain-pump-3-u.csv"))
    # four times the time under voltage: IEEE Std 43-2013, cl. 5.5 (secondary)
    assert "Minimum earthing time after this test: 40 min. When it has passed: prove dead" in text
    assert "Never take a lead off" in text


NEVER = ("may be energised", "is safe", "safe to", "discharged.", "all clear", "is clear")


@pytest.mark.parametrize("name", [row[0] for row in PAGES])
def test_no_page_says_that_plant_may_be_energised(kept: Kept, name: str) -> None:
    text = words(kept.page(name)).lower()
    assert [phrase for phrase in NEVER if phrase in text] == []
    assert "it gives no leave to energise" in text


def test_what_was_stated_is_all_there(kept: Kept) -> None:
    page = kept.api("drain-pump-3-u.csv")
    text = words(kept.page("drain-pump-3-u.csv"))
    for shown in ("Rated voltage 6.6 kV", "Thermal class 155", "Winding form wound", "Dew point, worked out"):
        assert shown in text
    assert f"Readings ({len(page['record']['readings']['time'])})" in text


def test_what_the_register_gave_is_marked(kept: Kept) -> None:
    name = "generator-1-discharge.csv"
    told = kept.api(name, "/verdicts", {"reason": "The register knows more by now."})
    if not told["changed"]:
        pytest.fail("the scenario has a record that is silent on something its register knows")
    codes = {finding["code"]: finding["sentence"] for finding in kept.api(name)["result"]["findings"]}
    filled = codes["from_register"].partition(": ")[2].rstrip(".").split(", ")
    text = kept.page(name)
    assert text.count("<sup>1</sup>") == len(filled)
    assert "from the register, where the record is silent" in text


def test_a_test_without_a_verdict_says_so(kept: Kept) -> None:
    import sqlite3

    store = kept.client.app.state.house.settings.store  # type: ignore[attr-defined]
    with sqlite3.connect(store) as opened:
        opened.execute("update test set status=null, sentence=null, verdict=null")
    opened.close()
    text = words(kept.page("drain-pump-4.csv"))
    assert "Not judged. No verdict has been given yet." in text
    assert "Nothing to sign: no verdict has been given. Judge it first." in text
    assert "Report, PDF" not in text
    refused = kept.post("drain-pump-4.csv", "sign")
    assert refused.status_code == 409
    assert "no verdict has been given" in words(refused.text)


@pytest.mark.parametrize("test", ("0" * 32, "abc", "drain-pump-3", "..%2f..%2fetc", "%00", "é"))
@pytest.mark.parametrize(
    "more", ("", "/revise", "/again", "/why/polarization_index", "/file", "/report.pdf", "/network")
)
def test_what_is_not_there_is_answered_in_words(kept: Kept, test: str, more: str) -> None:
    answer = kept.client.get(f"/tests/{test}{more}", headers={"Accept": "text/html"})
    assert answer.status_code in (404, 422)
    assert "<h1" in answer.text


@pytest.mark.parametrize(
    "more",
    (
        "/charts/knee.svg",
        "/charts/ramp.svg",
        "/charts/network.svg",
        "/why/nothing",
        "/attachments/" + "0" * 64,
    ),
)
def test_a_part_that_a_test_does_not_have_is_not_found(kept: Kept, more: str) -> None:
    assert "error" in kept.page("drain-pump-3-u.csv", more, status=404)


def test_earlier_tests_and_sisters_are_compared_as_chosen(kept: Kept) -> None:
    name = "drain-pump-3-u.csv"
    text = kept.page(name)
    assert re.findall(r'name="beside" value="([0-9a-f]{32})" checked', text) == [
        kept.ids["drain-pump-3-v.csv"], kept.ids["drain-pump-3-w.csv"],
    ]  # fmt: skip
    assert "Resistance against time, with phase V, phase W" in words(text)
    one = kept.page(name, f"?beside=&beside={kept.ids['drain-pump-3-w.csv']}")
    assert "Resistance against time, with phase W" in words(one)
    assert one.count(" checked") == 1
    none = kept.page(name, "?beside=")
    assert " checked" not in none
    assert "Resistance against time, with" not in words(none)


def test_a_test_of_another_asset_cannot_be_put_beside(kept: Kept) -> None:
    text = kept.page("drain-pump-3-u.csv", f"?beside={kept.ids['generator-1-ramp.csv']}")
    assert " checked" not in text


def test_why_says_formula_inputs_source_uncertainty_and_criteria(kept: Kept) -> None:
    text = words(kept.page("drain-pump-3-w.csv", "/why/polarization_index"))
    assert "PI = R(600 s) / R(60 s)" in text
    assert "IEEE Std 43-2013, cl. 5.4" in text
    assert "is the expanded uncertainty, k = 2, about 95 % coverage" in text
    assert "of the variance" in text
    assert "Minimum polarization index" in text
    corrected = words(kept.page("drain-pump-3-w.csv", "/why/insulation_resistance_60s_corrected"))
    assert "at 40 °C" in corrected
    assert "Temperature rule:" in corrected
    assert "from memory" in corrected


def test_why_of_a_bound_says_on_which_side_the_truth_lies(kept: Kept) -> None:
    text = words(kept.page(OVER_RANGE, "/why/insulation_resistance_60s"))
    assert "The truth lies at or above it." in text
    assert "None is given:" in text


def test_every_figure_shown_leads_to_its_why(kept: Kept) -> None:
    text = kept.page("drain-pump-3-u.csv")
    links = set(re.findall(r'href="(/tests/[0-9a-f]{32}/why/[a-z0-9_]+)"', text))
    assert len(links) > 10
    for link in links:
        assert kept.client.get(link, headers={"Accept": "text/html"}).status_code == 200
