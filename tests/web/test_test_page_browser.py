"""The page of a test in a real browser: every method, both sizes and looks, by keyboard, without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kept_rig import copied, ids_in
from soakage.web.run import Running
from soakage.web.settings import Settings
from web_help import no_violations, picture

Visit = Any
SIZES = ((1280, 800), (390, 844))
READY = "html[data-charts=ready]"
U = "drain-pump-3-u.csv"
# one of each shape: hold with causes, steps, ramp with knee, discharge, network, schedule row, over range, not judged
METHODS = (
    U, "generator-2-steps.csv", "generator-2-ramp.csv", "generator-1-discharge.csv", "transformer-1-hv-lv.csv",
    "workshop-panel.csv:26", "board-2-l3.csv", "reserve-pump-late.csv",
)  # fmt: skip
FORMS = ("/revise", "/again", "/why/insulation_resistance_60s_corrected")


@pytest.fixture(scope="module")
def live(scenario: Path, web_cache: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Yield a server with the scenario in its store."""
    store = copied(scenario, tmp_path_factory.mktemp("kept") / "store.sqlite")
    with Running(Settings(port=0, store=str(store), stated_name="R. Amsel", cache=web_cache)) as running:
        yield running


@pytest.fixture
def ids(live: Running) -> dict[str, str]:
    """Return the ids of the tests by their file."""
    return ids_in(Path(str(live.settings.store)))


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("name", METHODS)
def test_no_rule_of_accessibility_is_broken(
    visit: Visit, shots: Path, ids: dict[str, str], name: str, size: tuple[int, int], scheme: str
) -> None:
    page = visit(f"/tests/{ids[name]}", *size, scheme)
    if page.locator("[data-chart]").count():
        page.wait_for_selector(READY)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    picture(page, shots, f"test-{name.partition('.')[0]}-{size[0]}-{scheme}")
    no_violations(page)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("form", FORMS)
def test_the_pages_behind_it_keep_the_rules_too(
    visit: Visit, shots: Path, ids: dict[str, str], form: str, size: tuple[int, int]
) -> None:
    page = visit(f"/tests/{ids[U]}{form}", *size)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    picture(page, shots, f"test{form.replace('/', '-')}-{size[0]}-light")
    no_violations(page)


def test_nothing_is_wider_than_the_screen(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids['transformer-1-hv-lv.csv']}", 320, 900)
    for width in (320, 360, 640, 768, 820, 1024, 1920):
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_timeout(50)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width


SMALL = """() => [...document.querySelectorAll(
  'a.button, button, input:not([type=hidden]), select, summary, .tick, .why')]
  .filter((it) => it.checkVisibility() && !it.matches('.tick input'))
  .map((it) => [it.outerHTML.slice(0, 80), it.getBoundingClientRect().height])
  .filter(([, height]) => height < 43.5)"""


@pytest.mark.parametrize("more", ("", "/revise", "/again"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
def test_everything_to_press_is_large_enough_for_gloves(
    visit: Visit, ids: dict[str, str], size: tuple[int, int], more: str
) -> None:
    page = visit(f"/tests/{ids[U]}{more}", *size)
    assert page.evaluate(SMALL) == []


def test_it_is_signed_by_keyboard_alone(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids['drain-pump-4.csv']}")
    page.wait_for_selector(READY)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    for _ in range(120):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "sign-text":
            break
    page.keyboard.type("Dried, not tested again yet.")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Sign as unfit"
    page.keyboard.press("Enter")
    page.wait_for_url("**?done=signed*")
    assert page.get_by_role("status").first.inner_text() == "Signed."
    assert page.get_by_text("Dried, not tested again yet.").is_visible()


def test_another_verdict_opens_by_keyboard_and_asks_for_its_why(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids['intake-fan-wet.csv']}")
    page.get_by_text("Set another verdict").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Your verdict").select_option("watch")
    page.get_by_role("button", name="Sign with this verdict").focus()
    page.keyboard.press("Enter")
    # the browser itself asks for the why first
    assert page.evaluate("document.activeElement.id") == "another-why"
    page.keyboard.type("Read through wet leads.")
    page.get_by_role("button", name="Sign with this verdict").press("Enter")
    page.wait_for_url("**?done=signed*")
    assert page.get_by_text("the tool found unfit").is_visible()


def test_all_of_it_works_without_scripts(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids[U]}", java_script_enabled=False)
    box = page.get_by_role("checkbox", name="phase V, investigate")
    box.uncheck()
    page.get_by_role("button", name="Compare").click()
    assert box.is_checked() is False
    assert page.get_by_text("Resistance against time, with phase W").first.is_visible()
    page.get_by_label("A note").fill("No script was needed.")
    page.get_by_role("button", name="Add the note").click()
    assert page.get_by_text("No script was needed.").is_visible()


def test_the_tally_filters_and_says_which(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids['drain-pump-3-w.csv']}")
    every = page.locator(".criterion").count()
    page.get_by_role("link", name="sound").first.click()
    page.wait_for_url("**?only=sound*")
    assert 0 < page.locator(".criterion").count() < every
    assert page.locator(".tally a[aria-current=true]").inner_text().split()[-1] == "sound"
    page.get_by_role("link", name="Show all").click()
    page.wait_for_url(lambda address: "only" not in address)
    assert page.locator(".criterion").count() == every


def test_a_revision_is_made_in_the_form(visit: Visit, ids: dict[str, str]) -> None:
    page = visit(f"/tests/{ids['sump-pump.csv']}/revise", 390, 844)
    page.get_by_label("Why it is revised").fill("The tag was another one.")
    page.get_by_label("Work order").count()
    page.get_by_label("Notes", exact=True).fill("Invented, read twice.")
    page.get_by_role("button", name="Revise and judge").click()
    page.wait_for_url("**?done=revised")
    assert page.get_by_text("Revised and judged. It is a draft until it is signed.").is_visible()
    assert page.get_by_text("Invented, read twice.").is_visible()
