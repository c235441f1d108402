"""Start, one asset and all plant in a real browser: sizes and looks, by keyboard, without a script."""

from __future__ import annotations

import json
import re
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from plant_rig import plant_live, small_plant
from soakage.web.run import Running
from web_help import no_violations, picture

__all__ = ["plant_live", "small_plant"]
Visit = Any
SIZES = ((1280, 800), (390, 844))
PATHS = (
    "/",
    "/due",
    "/assets",
    "/assets/new",
    "asset",
    "asset/edit",
    "asset/history",
    "/plant",
    "/plant/peers",
    "/demo",
)
NARROWEST = 320


@pytest.fixture(scope="session")
def live(plant_live: Running) -> Running:
    """Have the browser visit the invented plant."""
    return plant_live


@pytest.fixture
def mill(live: Running) -> str:
    with urllib.request.urlopen(f"{live.address.rstrip('/')}/api/assets?find=mill+1") as answer:  # noqa: S310
        return str(json.load(answer)["assets"][0]["id"])


def settled(page: Any) -> None:
    """Wait until everything that is fetched later has arrived, and charts are lively."""
    if page.locator("[data-part]").count():
        page.wait_for_selector("[data-part][data-arrived]", timeout=60_000)
    if page.locator("[data-chart]").count():
        page.wait_for_selector("html[data-charts=ready]", timeout=60_000)


def where(path: str, mill: str) -> str:
    return path if path.startswith("/") else path.replace("asset", f"/assets/{mill}", 1)


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("path", PATHS)
def test_no_rule_of_accessibility_is_broken(
    visit: Visit, shots: Path, mill: str, path: str, size: tuple[int, int], scheme: str
) -> None:
    page = visit(where(path, mill), *size, scheme)
    settled(page)
    page.evaluate(
        "document.querySelectorAll('main details:not(.chart-table)').forEach((it) => { it.open = true; })"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    name = path.strip("/").replace("/", "-") or "start"
    picture(page, shots, f"plant-{name}-{size[0]}-{scheme}")
    no_violations(page)


@pytest.mark.parametrize("path", PATHS)
def test_nothing_is_wider_than_a_small_phone_and_all_of_it_can_be_pressed_with_gloves(
    visit: Visit, mill: str, path: str
) -> None:
    page = visit(where(path, mill), NARROWEST, 800)
    settled(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROWEST
    small = page.evaluate(
        """() => [...document.querySelectorAll(
            'main :is(a, button, input:not([type=hidden]), select, textarea, summary)')]
          .filter((it) => it.checkVisibility() && !it.closest('.crumbs, p:not(.acts, .chart-more)'))
          .map((it) => [it.outerHTML.slice(0, 120), it.getBoundingClientRect()])
          .filter(([, box]) => box.height < 43.5 || box.width < 43.5)
          .map(([said, box]) => [said, box.width, box.height])"""
    )
    assert [one for one in small if 'type="checkbox"' not in one[0]] == []


def tabbed(page: Any, text: str, most: int = 60) -> None:
    """Press Tab until what has this text is in focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        said = page.evaluate(
            "document.activeElement.textContent.trim() || document.activeElement.ariaLabel || ''"
        )
        if text in said:
            return
    pytest.fail(f"{text!r} is not reached by the keyboard")


def test_from_the_start_to_a_test_and_to_an_asset_by_keyboard_alone(visit: Visit, mill: str) -> None:
    page = visit("/")
    settled(page)
    tabbed(page, "Mill 1 motor")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/tests/[0-9a-f]{32}"))
    page.goto(page.url.partition("/tests/")[0] + "/")
    page.keyboard.press("Tab")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "find":
            break
    page.keyboard.type("mill 1")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/assets/{mill}")
    assert page.get_by_role("heading", level=1).inner_text() == "Mill 1 motor"


def test_the_keys_of_the_chart_tell_its_days(visit: Visit, mill: str) -> None:
    page = visit(f"/assets/{mill}")
    settled(page)
    chart = page.locator("[data-drawing]").first
    chart.focus()
    page.keyboard.press("End")
    told = page.locator("[data-reading]").first.inner_text().replace("\u00a0", " ")
    assert told.startswith("17 April 2026: ")
    page.keyboard.press("Home")
    assert "2017" in page.locator("[data-reading]").first.inner_text()
    page.get_by_role("button", name="Table").first.click()
    assert page.locator("[data-table] td").first.is_visible()


def test_a_note_and_an_event_are_added_with_the_keyboard(visit: Visit, mill: str) -> None:
    page = visit(f"/assets/{mill}")
    page.get_by_text("Add a note").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("Rain came in at the cable box.")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**told=noted")
    assert page.get_by_role("status").inner_text() == "The note was added."
    assert page.get_by_text("Rain came in at the cable box.").is_visible()
    page.get_by_text("Add an event").click()
    page.get_by_label("What").select_option("cleaning")
    page.get_by_label("Day").fill("2024-01-15")
    page.get_by_role("button", name="Add the event").click()
    page.wait_for_url("**told=happened")
    assert page.get_by_text("2024-01-15: cleaning").is_visible()


def test_the_nameplate_is_changed_in_a_browser(visit: Visit, live: Running) -> None:
    page = visit("/assets?find=house+board", expected="status of 422")  # the form that is refused
    page.get_by_role("link", name="Change").click()
    page.get_by_label("Rated voltage").fill("6,6 kW")
    page.get_by_role("button", name="Keep this nameplate").click(no_wait_after=True)
    page.wait_for_selector("[aria-invalid=true]")
    assert "kW measures power" in page.locator("#k-rated_voltage-said").inner_text()
    no_violations(page)
    page.get_by_label("Rated voltage").fill("12 kV")
    page.get_by_role("button", name="Keep this nameplate").click()
    page.wait_for_url(re.compile("told="))
    assert live.address.rstrip("/") in page.url


def test_a_photograph_is_added_and_shown(visit: Visit, mill: str) -> None:
    from base64 import b64decode

    dot = b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
    )
    page = visit(f"/assets/{mill}")
    page.get_by_text("Add a photograph or a file").click()
    page.locator("#attach-file").set_input_files({"name": "box.png", "mimeType": "image/png", "buffer": dot})
    page.get_by_role("button", name="Add the file").click()
    page.wait_for_url("**told=attached")
    image = page.locator(".photos img").first
    image.scroll_into_view_if_needed()
    image.evaluate("(it) => it.decode()")
    assert image.evaluate("(it) => it.naturalWidth") == 1


def test_filters_of_all_plant_work_and_stay(visit: Visit) -> None:
    page = visit("/plant")
    page.get_by_label("Class").select_option("cable")
    page.get_by_role("button", name="Show", exact=True).click()
    page.wait_for_url(re.compile("class=cable"))
    assert page.locator("#rank tbody tr").count() == 1
    page.get_by_role("link", name="by fall").click()
    assert "class=cable" in page.url
    assert page.get_by_label("Class").input_value() == "cable"
    page.get_by_role("link", name="Show all").click()
    assert page.locator("#rank tbody tr").count() == 9


def test_on_a_phone_the_worst_mark_comes_first(visit: Visit) -> None:
    page = visit("/plant", 390, 844)
    first = page.locator(".map .marks a .unseen").first.inner_text()
    assert first.endswith(", investigate")


@pytest.mark.parametrize("path", ("/", "asset", "/plant"))
def test_without_a_script_a_link_leads_to_what_is_fetched_later(visit: Visit, mill: str, path: str) -> None:
    page = visit(where(path, mill), java_script_enabled=False)
    link = page.locator("[data-part] a").first
    assert link.is_visible()
    link.click()
    page.wait_for_load_state()
    assert page.locator("main .rows li, main table, main .chart img").first.is_visible()


@pytest.mark.parametrize("path", ("asset", "/plant"))
def test_it_prints_in_one_ink(visit: Visit, shots: Path, mill: str, path: str) -> None:
    page = visit(where(path, mill), 794, 1123)
    settled(page)
    page.emulate_media(media="print")
    picture(page, shots, f"plant-{path.strip('/')}-print")
    assert not page.locator(".words").is_visible()
    colours = page.evaluate(
        """() => [...document.querySelectorAll('.page *')].flatMap((it) => {
             const s = getComputedStyle(it); return [s.color, s.backgroundColor, s.borderTopColor]; })"""
    )
    numbers = {tuple(re.findall(r"\d+", colour)[:3]) for colour in colours if colour.startswith("rgb")}
    assert [colour for colour in numbers if len(set(colour)) > 1] == []
