"""Plans and sheets in a real browser: by keyboard, at every size, over a reload, a sleep and a server that dies."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

import pytest

from soakage.web.run import Running
from soakage.web.settings import Settings
from taking_help import PLATE
from web_help import no_violations, picture

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SCALE = 10.0
PLAN = f"/plan?{urlencode(PLATE)}"
TIMED = f"{PLAN}&method=timed-insulation-resistance"  # marks at 30, 60 and 120 s
SIZES = ((1280, 800), (390, 844))
Open = Callable[..., "Page"]


@pytest.fixture(scope="module")
def quick_settings(web_cache: Path, tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """Settings of a server whose sheets run ten times as fast."""
    store = str(tmp_path_factory.mktemp("quick") / "store.sqlite")
    return Settings(port=0, store=store, stated_name="R. Amsel", cache=web_cache, clock_scale=SCALE)


@pytest.fixture(scope="module")
def quick(quick_settings: Settings) -> Iterator[Running]:
    with Running(quick_settings) as running:
        yield running


@pytest.fixture
def look(browser: Browser, quick: Running) -> Iterator[Open]:
    """Yield a way to open a page; at the end no script may have broken."""
    opened, broken = [], []

    def go(path: str, width: int = 1280, height: int = 800, scheme: Any = "light", at: str = "") -> Page:
        context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": height})
        opened.append(context)
        page = context.new_page()
        page.on("pageerror", lambda problem: broken.append(str(problem)))
        page.goto((at or quick.address).rstrip("/") + path)
        return page

    yield go
    for context in opened:
        context.close()
    assert broken == []


def open_sheet(page: Page) -> str:
    page.get_by_role("button", name="Open the sheet").click()
    page.wait_for_url("**/take/*")
    return page.url.rpartition("/")[2]


def begin(page: Page) -> None:
    """Say what was found, and start the clock."""
    page.fill("#dc", "3 V")
    page.fill("#ac", "0 V")
    page.get_by_role("button", name="Keep the voltage found").click()
    page.locator("[data-start]").click()
    page.wait_for_selector(".elapsed:visible")


def elapsed(page: Page) -> float:
    minutes, seconds = page.locator("[data-elapsed]").inner_text().split(":")
    return int(minutes) * 60 + int(seconds)


def until(page: Page, seconds: float) -> None:
    page.wait_for_function(
        """at => {
          const [m, s] = document.querySelector('[data-elapsed]').textContent.split(':');
          return m * 60 + +s >= at;
        }""",
        arg=seconds,
    )


def ledger(page: Page) -> list[str]:
    rows = page.locator("#ledger tbody tr").all_inner_texts()
    return [" ".join(row.split()) for row in rows]


def kept(page: Page, count: int) -> None:
    page.wait_for_function("n => document.querySelectorAll('#ledger tr.kept').length === n", arg=count)


def test_a_whole_sheet_by_keyboard_alone(look: Open, shots: Path) -> None:
    page = look(TIMED)
    page.get_by_role("button", name="Open the sheet").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/take/*")
    page.locator("#dc").focus()
    page.keyboard.type("3 V")
    page.keyboard.press("Tab")
    page.keyboard.type("0 V")
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-start]")
    page.locator("[data-start]").focus()
    page.keyboard.press("Enter")
    for mark, text in ((30, "641m"), (60, "1,08"), (120, "1.74 GOhm")):
        until(page, mark)
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        kept(page, {30: 1, 60: 2, 120: 3}[mark])
        page.wait_for_timeout(150)  # an answer that comes late is about the text before
        assert page.locator(".keep").inner_text() == "Keep"
        assert page.locator("#read-as").inner_text() == ""
    assert [row.split()[0] for row in ledger(page)][:1] == ["30"]
    assert "Change 641 MΩ" in ledger(page)[0]
    assert "Change 1.08 GΩ" in ledger(page)[1]
    assert page.locator(".ratios").inner_text().count("1.68") == 1
    calls = (page.locator("#take").get_attribute("data-calls") or "").split()
    for mark in (30, 60, 120):
        assert [call for call in calls if call.startswith(f"{mark}-")] == [
            f"{mark}-{at}" for at in (10, 3, 2, 1, 0)
        ]
    page.locator("[data-stop]").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-earthed]")
    assert page.locator("input[name=how]:checked").get_attribute("value") == "complete"
    page.locator("[data-earthed]").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#stand[data-state=earthed]")
    assert "Charge returns when the earth is lifted early." in page.locator("[data-earth]").inner_text()
    picture(page, shots, "take-earthed-1280-light")
    page.get_by_role("button", name="Keep as a test").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/tests/*")
    assert "Mill 2 motor" in page.locator("main").inner_text()


def test_the_earthing_clock_ends_with_proving_dead(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    until(page, 4)
    page.locator("[data-stop]").click()
    page.locator("[data-earthed]").click()
    page.get_by_text("Minimum earthing time has passed: prove dead, keep earthed while you work.").wait_for(
        timeout=15000
    )


def test_a_reload_in_the_middle_loses_nothing(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    until(page, 30)
    page.fill("#entry", "641 MΩ")
    page.keyboard.press("Enter")
    kept(page, 1)
    before = elapsed(page)
    page.reload()
    page.wait_for_selector(".elapsed:visible")
    assert elapsed(page) >= before
    assert "641 MΩ" in ledger(page)[0]
    until(page, 60)
    page.fill("#entry", "1.08")
    page.keyboard.press("Enter")
    kept(page, 2)


def test_a_lid_that_was_closed_over_a_mark_is_said_and_the_reading_keeps_its_true_time(look: Open) -> None:
    page = look(TIMED)
    draft = open_sheet(page)
    begin(page)
    until(page, 10)
    page.evaluate("() => { const end = Date.now() + 4200; while (Date.now() < end); }")
    page.get_by_text("The page was asleep at 30 s").wait_for()
    page.fill("#entry", "0.9 GΩ")
    page.keyboard.press("Enter")
    kept(page, 1)
    (reading,) = page.evaluate(f"() => fetch('/api/drafts/{draft}').then(a => a.json())")["sheets"][0][
        "readings"
    ]
    assert reading["mark"] is None
    assert reading["time"] > 40
    page.locator("[data-fill='30.0']").click()
    assert page.locator("[data-for]").inner_text() == "30\u00a0s"
    page.fill("#entry", "641 MΩ")
    page.keyboard.press("Enter")
    kept(page, 2)
    assert "641 MΩ" in ledger(page)[0]


def test_a_page_loaded_after_a_mark_passed_says_so(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    address = page.url
    page.goto("about:blank")
    page.wait_for_timeout(6000)
    page.goto(address)
    page.get_by_text("The page was asleep at 30 s").wait_for()


def test_a_server_that_dies_in_the_middle_costs_nothing(
    browser: Browser, web_cache: Path, tmp_path: Path
) -> None:
    settings = Settings(
        port=0, store=str(tmp_path / "s.sqlite"), stated_name="R. Amsel", cache=web_cache, clock_scale=SCALE
    )
    page = browser.new_page()
    with Running(settings) as running:
        same = replace(settings, port=running.settings.port)
        page.goto(running.address.rstrip("/") + TIMED)
        draft = open_sheet(page)
        begin(page)
        until(page, 30)
        page.fill("#entry", "641 MΩ")
        page.keyboard.press("Enter")
        kept(page, 1)
    until(page, 60)
    page.fill("#entry", "1.08 GΩ")
    page.keyboard.press("Enter")
    page.get_by_text("The server does not answer. Kept in this page").wait_for()
    assert "1.08 GΩ" in page.locator("#waiting").inner_text()
    until(page, 100)
    page.locator("[data-stop]").click()
    with Running(same) as running:
        kept(page, 2)
        page.wait_for_selector("#stand[data-state=ended]", timeout=20000)
        state = page.evaluate(f"() => fetch('/api/drafts/{draft}').then(a => a.json())")["sheets"][0]
        assert [one["time"] for one in state["readings"]] == [30.0, 60.0]
        assert 95 < state["ended"]["time"] < 125  # when it was pressed, not when it was heard
        assert page.evaluate(f"() => localStorage.getItem('soakage-take-{draft}')") == "[]"
        page.get_by_role("button", name="Keep as a test").click()
        page.wait_for_url("**/tests/*")
    page.close()


def test_an_odd_value_is_asked_about_while_the_clock_goes_on(look: Open, shots: Path) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    for mark, text in ((30, "641 MΩ"), (60, "14.5")):
        until(page, mark)
        page.fill("#entry", text)
        page.get_by_text("Read as").wait_for()
        page.keyboard.press("Enter")
        kept(page, 1 if mark == 30 else 2)
    page.get_by_text("Is 14.5 GΩ right?").wait_for()
    picture(page, shots, "take-question-1280-light")
    no_violations(page)
    before = elapsed(page)
    until(page, before + 3)
    page.get_by_role("button", name="It is 1.45 GΩ").click()
    page.wait_for_function("() => !document.querySelector('.question')")
    assert "was 14.5 GΩ" in ledger(page)[1]
    page.get_by_role("button", name=re.compile("^Undo 1 min")).click()
    kept(page, 1)


def test_typing_again_changes_that_reading(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    until(page, 30)
    page.fill("#entry", "6.41 GΩ")
    page.keyboard.press("Enter")
    kept(page, 1)
    page.locator("#ledger [data-again]").click()
    assert page.locator("[data-for]").inner_text() == "30\u00a0s"
    page.fill("#entry", "641 MΩ")
    page.keyboard.press("Enter")
    page.get_by_text("was 6.41 GΩ").wait_for()


def test_voltage_found_above_the_line_keeps_the_clock_from_starting(look: Open, shots: Path) -> None:
    page = look(TIMED)
    open_sheet(page)
    page.fill("#dc", "0")
    page.fill("#ac", "230 V")
    page.get_by_role("button", name="Keep the voltage found").click()
    page.get_by_text("The clock does not start.").wait_for()
    picture(page, shots, "take-refused-1280-light")
    assert page.locator("[data-start]").count() == 0
    no_violations(page)


def test_what_cannot_be_read_is_said_and_stays_in_the_field(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    page.fill("#entry", "1,500 GΩ")
    page.get_by_text("can be read as").wait_for()
    page.keyboard.press("Enter")
    assert page.locator("#entry").input_value() == "1,500 GΩ"
    assert page.locator("#ledger tr.kept").count() == 0


def test_the_keypad_types_and_its_settings_stay(look: Open) -> None:
    page = look(TIMED)
    open_sheet(page)
    begin(page)
    for key in ("1", "0", "8"):
        page.locator(f"[data-key='{key}']").click()
    page.locator("[data-delete]").click()
    page.locator("[data-unit='MΩ']").click()
    page.get_by_text("Read as 10 MΩ.").wait_for()
    page.locator("[data-hand]").click()
    page.locator("[data-sound]").click()
    page.reload()
    page.wait_for_selector(".elapsed:visible")
    assert page.locator("#take.left").count() == 1
    assert page.locator("[data-sound]").inner_text() == "Sound off"
    pad, books = page.locator(".pad").bounding_box(), page.locator("#ledger").bounding_box()
    assert pad is not None
    assert books is not None
    assert pad["x"] < books["x"]


def test_a_tick_is_kept_at_once_and_begins_one_sheet(look: Open) -> None:
    from playwright.sync_api import expect

    page = look(PLAN)
    boxes = page.locator("input[name=tick]")
    boxes.nth(0).check()
    boxes.nth(1).check()
    page.wait_for_url("**draft=*")
    page.get_by_text("Kept.").wait_for()
    expect(page.locator(".done", has_text=":")).to_have_count(2)
    address = page.url
    page.reload()
    assert page.locator("input[name=tick]:checked").count() == 2
    assert re.search(r"\d\d:\d\d, R\. Amsel", page.locator(".done").first.inner_text())
    draft = re.search("draft=([0-9a-f]{32})", address)
    assert draft is not None
    assert open_sheet(page) == draft[1]


@pytest.mark.parametrize(
    "more", ("", "&purpose=maintenance&hazardous_area=no", "&method=dielectric-discharge")
)
def test_the_card_prints_on_one_sheet_of_paper(look: Open, more: str, shots: Path) -> None:
    page = look(PLAN + more)
    content = page.pdf(prefer_css_page_size=True)
    (shots / f"plan-card{len(more)}.pdf").write_bytes(content)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", content)) == 1


STATES = ("new", "plan", "waiting", "live", "ended")


def shown(page: Page, state: str) -> None:
    """Bring a page to a state."""
    if state in ("waiting", "live", "ended"):
        open_sheet(page)
    if state in ("live", "ended"):
        begin(page)
        until(page, 30)
        page.fill("#entry", "641 MΩ")
        page.keyboard.press("Enter")
        kept(page, 1)
    if state == "ended":
        page.locator("[data-stop]").click()
        page.wait_for_selector("[data-earthed]")


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("state", STATES)
def test_no_rule_of_accessibility_is_broken_on_a_sheet(
    look: Open, shots: Path, state: str, size: tuple[int, int], scheme: str
) -> None:
    page = look("/tests/new" if state == "new" else PLAN if state == "plan" else TIMED, *size, scheme)
    shown(page, state)
    picture(page, shots, f"take-{state}-{size[0]}-{scheme}")
    no_violations(page)


@pytest.mark.parametrize("state", STATES)
def test_a_sheet_is_never_wider_than_the_screen_and_its_targets_are_large(look: Open, state: str) -> None:
    page = look("/tests/new" if state == "new" else PLAN if state == "plan" else TIMED, 390, 844)
    shown(page, state)
    small = page.evaluate(
        """() => [...document.querySelectorAll('main button, main input:not([type=hidden]), main select, main summary')]
        .filter((it) => it.checkVisibility() && !it.closest('label') && !it.matches('#entry'))
        .map((it) => [it.outerHTML.slice(0, 80), it.getBoundingClientRect()])
        .filter(([, box]) => box.width < 44 || box.height < 44)
        .map(([html, box]) => `${html} ${box.width}x${box.height}`)"""
    )
    assert small == []
    for width in (320, 390, 768, 1024, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        page.wait_for_timeout(50)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width


def test_stop_and_earth_stays_in_view_on_a_phone(look: Open) -> None:
    page = look(TIMED, 390, 844)
    shown(page, "live")
    page.mouse.wheel(0, 2000)
    page.wait_for_timeout(200)
    box = page.locator("[data-stop]").bounding_box()
    assert box is not None
    assert 0 <= box["y"] < 60
