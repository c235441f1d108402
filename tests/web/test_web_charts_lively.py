"""Charts in a real browser: a drawing at once; then values, parts and scales, by mouse and by keyboard."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from web_help import picture

Visit = Any
READY = "html[data-charts=ready]"


@pytest.fixture
def charts(visit: Visit) -> Any:
    page = visit("/pieces")
    page.wait_for_selector(READY)
    return page


def ticks(chart: Any) -> list[str]:
    return [text for text in chart.locator("svg text").all_text_contents() if re.search(r"\d", text)]


@pytest.mark.parametrize("scheme", ("light", "dark"))
def test_without_scripts_there_is_a_drawing_and_the_numbers(visit: Visit, shots: Path, scheme: str) -> None:
    page = visit("/pieces", 1280, 800, scheme, java_script_enabled=False)
    image = page.locator("figure.chart img").first
    image.scroll_into_view_if_needed()
    page.wait_for_load_state("networkidle")
    picture(page, shots, f"pieces-without-scripts-{scheme}")
    assert "resistance rises" in image.get_attribute("alt")
    assert page.locator("figure.chart summary").first.inner_text() == "The numbers"
    assert not page.locator("figure.chart .choice").first.is_visible()


def test_the_drawing_is_laid_out_for_the_screen_and_the_light(visit: Visit) -> None:
    asked = {}
    for width, scheme in ((1280, "light"), (1280, "dark"), (390, "light"), (390, "dark")):
        page = visit("/pieces", width, 800, scheme, java_script_enabled=False)
        asked[width, scheme] = page.locator("figure.chart img").first.evaluate("image => image.currentSrc")
    assert len(set(asked.values())) == 4
    for (width, scheme), address in asked.items():
        assert f"screen-{scheme}" in address
        assert ("width=350" in address) == (width == 390)


def test_the_page_is_usable_before_the_library_arrives(visit: Visit) -> None:
    page = visit("/pieces")
    order = page.evaluate(
        """async () => { while (!document.documentElement.dataset.charts) await new Promise((r) => setTimeout(r, 20));
             const entries = performance.getEntriesByType('resource').filter((e) => e.name.endsWith('vega.js'));
             return [performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd, entries[0].startTime]; }"""
    )
    assert order[1] >= order[0]


def test_its_colours_are_those_of_the_page(charts: Any) -> None:
    strokes = charts.locator("figure.chart svg [stroke^='var(']").count()
    assert strokes > 4
    light = charts.locator("figure.chart svg path[stroke='var(--ink)']").first.evaluate(
        "p => getComputedStyle(p).stroke"
    )
    charts.emulate_media(color_scheme="dark")
    dark = charts.locator("figure.chart svg path[stroke='var(--ink)']").first.evaluate(
        "p => getComputedStyle(p).stroke"
    )
    assert light == "rgb(14, 31, 29)"
    assert dark == "rgb(226, 234, 231)"


def test_the_arrow_keys_tell_the_values(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    chart.locator("[data-drawing]").focus()
    charts.keyboard.press("Home")
    first = chart.locator("[data-reading]").inner_text()
    charts.keyboard.press("ArrowRight")
    second = chart.locator("[data-reading]").inner_text()
    charts.keyboard.press("End")
    last = chart.locator("[data-reading]").inner_text()
    assert first.startswith("5\u00a0s: ")
    assert second.startswith("10\u00a0s: ")
    assert last.startswith("10\u00a0min: ")
    assert last.endswith("531\u00a0MΩ")
    ring, svg = chart.locator(".pointed").bounding_box(), chart.locator("svg").bounding_box()
    assert ring["x"] > svg["x"] + 0.9 * svg["width"]


def test_the_pointer_tells_the_value_below_it(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    chart.scroll_into_view_if_needed()
    label = chart.locator("svg text", has_text=re.compile(r"^1\smin$")).first.bounding_box()
    svg = chart.locator("svg").bounding_box()
    charts.mouse.move(label["x"] + label["width"] / 2, svg["y"] + svg["height"] / 2)
    assert chart.locator("[data-reading]").inner_text().startswith("1\u00a0min: 445")


def test_a_part_that_is_drawn_over_is_looked_at_closer(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    chart.scroll_into_view_if_needed()
    svg = chart.locator("svg").bounding_box()
    middle = svg["y"] + svg["height"] / 2
    assert "5\u00a0s" in ticks(chart)
    charts.mouse.move(svg["x"] + 0.55 * svg["width"], middle)
    charts.mouse.down()
    charts.mouse.move(svg["x"] + 0.8 * svg["width"], middle, steps=4)
    charts.mouse.up()
    whole = chart.get_by_role("button", name="Whole")
    charts.wait_for_function("button => !button.disabled", arg=whole.element_handle())
    assert "5\u00a0s" not in ticks(chart)
    assert "2\u00a0min" in ticks(chart)
    whole.click()
    charts.wait_for_function("button => button.disabled", arg=whole.element_handle())
    assert "5\u00a0s" in ticks(chart)


def test_too_small_a_part_is_refused_in_words(visit: Visit) -> None:
    charts = visit("/pieces", expected="status of 400")
    charts.wait_for_selector(READY)
    chart = charts.locator("figure.chart").first
    chart.scroll_into_view_if_needed()
    svg = chart.locator("svg").bounding_box()
    middle = svg["y"] + svg["height"] / 2
    with charts.expect_response(lambda r: ".json" in r.url and r.status == 400):
        charts.mouse.move(svg["x"] + 0.12 * svg["width"], middle)
        charts.mouse.down()
        charts.mouse.move(svg["x"] + 0.15 * svg["width"], middle, steps=4)
        charts.mouse.up()
    charts.wait_for_function(
        "p => p.textContent.startsWith('Too few readings')",
        arg=chart.locator("[data-reading]").element_handle(),
    )


def test_linear_and_back(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    log = chart.get_by_role("button", name="Logarithmic")
    before = ticks(chart)
    log.click()
    charts.wait_for_function("(b) => b.getAttribute('aria-pressed') === 'false'", arg=log.element_handle())
    charts.wait_for_timeout(400)
    linear = ticks(chart)
    assert linear != before
    assert "0\u00a0s" in linear or "0\u00a0min" in linear or any(text.startswith("0") for text in linear)
    log.click()
    charts.wait_for_timeout(400)
    assert ticks(chart) == before


def test_the_table_shows_the_same_numbers(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    chart.get_by_role("button", name="Table").click()
    assert not chart.locator("svg").is_visible()
    cells = chart.locator("tbody tr").last.locator("td").all_inner_texts()
    assert cells == ["10\u00a0min", "531\u00a0MΩ"]
    chart.get_by_role("button", name="Chart", exact=True).click()
    assert chart.locator("svg").is_visible()


def test_it_is_laid_out_again_on_a_narrow_screen_and_not_shrunk(charts: Any) -> None:
    chart = charts.locator("figure.chart").first
    wide = len(ticks(chart))
    charts.set_viewport_size({"width": 390, "height": 844})
    charts.wait_for_function(
        "() => document.querySelector('figure.chart svg').getBoundingClientRect().width < 380"
    )
    charts.wait_for_timeout(400)
    narrow = ticks(chart)
    assert len(narrow) < wide
    sizes = chart.locator("svg text").evaluate_all(
        "all => all.map((t) => parseFloat(getComputedStyle(t).fontSize))"
    )
    assert set(sizes) == {14.0}


def test_files_can_be_taken_along(charts: Any, tmp_path: Path) -> None:
    chart = charts.locator("figure.chart").first
    for kind, start in (("SVG", b"<svg"), ("PNG", b"\x89PNG"), ("CSV", b"time_s,resistance_ohm")):
        with charts.expect_download() as waited:
            chart.get_by_role("link", name=kind).click()
        target = tmp_path / kind
        waited.value.save_as(target)
        assert target.read_bytes().startswith(start)
