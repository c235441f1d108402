"""Pages in a real browser: every size and look, by keyboard, for a screen reader, on paper."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from soakage.web.run import Running
from web_help import no_violations, picture

Visit = Any
PAGES = ("/", "/pieces", "/more", "/log-in")
SIZES = ((1280, 800), (390, 844))
WIDTHS = (320, 360, 390, 640, 768, 820, 1024, 1280, 1920)
READY = "html[data-charts=ready]"


def name_of(path: str) -> str:
    return path.strip("/").replace("/", "-") or "start"


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("path", PAGES)
def test_no_rule_of_accessibility_is_broken(
    visit: Visit, shots: Path, path: str, size: tuple[int, int], scheme: str
) -> None:
    page = visit(path, *size, scheme)
    if path == "/pieces":
        page.wait_for_selector(READY)
    picture(page, shots, f"{name_of(path)}-{size[0]}-{scheme}")
    no_violations(page)


@pytest.mark.parametrize("status_path", ((404, "/none"),))
def test_a_page_of_failure_keeps_the_rules_too(
    visit: Visit, shots: Path, status_path: tuple[int, str]
) -> None:
    status, path = status_path
    page = visit(path, status=status)
    picture(page, shots, "not-there-1280-light")
    no_violations(page)
    assert page.get_by_role("heading", level=1).inner_text() == "There is no such page."


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_wider_than_the_screen(visit: Visit, path: str) -> None:
    page = visit(path, WIDTHS[0], 900)
    if path == "/pieces":
        page.wait_for_selector(READY)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_timeout(300 if path == "/pieces" else 30)  # charts are laid out again
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width


TARGETS = """() => [...document.querySelectorAll(
  'a, button, input:not([type=hidden]), select, summary, label:has(input[type=checkbox]), [tabindex="0"]')]
  .filter((it) => it.checkVisibility() && !it.matches('.skip, .checklist input'))
  .map((it) => {
    const inside = it.closest('p:not(.chart-more, .acts), .crumbs') && it.tagName === 'A' && !it.matches('.button');
    const box = it.getBoundingClientRect();
    return [it.outerHTML.slice(0, 90), Math.round(box.width), Math.round(box.height), Boolean(inside)];
  })"""


@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("path", PAGES)
def test_everything_to_press_is_large_enough_for_gloves(
    visit: Visit, path: str, size: tuple[int, int]
) -> None:
    page = visit(path, *size)
    if path == "/pieces":
        page.wait_for_selector(READY)
    targets = page.evaluate(TARGETS)
    assert len(targets) >= 4
    # A link inside a sentence may be as high as its line (WCAG 2.2, 2.5.8, from memory).
    small = [t for t in targets if not t[3] and (t[1] < 44 or t[2] < 44)]
    assert small == []


@pytest.mark.parametrize("scheme", ("light", "dark"))
def test_focus_is_seen_on_everything_that_takes_it(visit: Visit, scheme: str) -> None:
    page = visit("/pieces", 1280, 800, scheme)
    page.wait_for_selector(READY)
    seen, unseen = set(), []
    for _ in range(120):
        page.keyboard.press("Tab")
        told = page.evaluate(
            """() => { const it = document.activeElement; if (!it || it === document.body) return null;
              let shown = it;
              if (it.matches('.entry-field input')) shown = it.closest('.entry-field');
              const style = getComputedStyle(shown);
              const box = it.getBoundingClientRect();
              return [it.outerHTML.slice(0, 120), parseFloat(style.outlineWidth), style.outlineStyle,
                      box.top >= -2 && box.bottom <= innerHeight + 2]; }"""
        )
        if told is None:
            break
        seen.add(told[0])
        if told[1] < 3 or told[2] == "none" or not told[3]:
            unseen.append(told)
    assert len(seen) > 30
    assert unseen == []


def test_the_first_stop_of_the_keyboard_skips_the_head(visit: Visit) -> None:
    page = visit("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("!document.activeElement.closest('header')")


def test_a_cell_of_the_tally_shows_only_its_criteria(visit: Visit) -> None:
    page = visit("/pieces")
    rows = page.locator("tr[data-status]")
    assert rows.count() == 4
    watch = page.get_by_role("button", name="1 watch")
    watch.focus()
    page.keyboard.press("Enter")
    assert [row.is_visible() for row in rows.all()] == [False, True, False, False]
    assert watch.get_attribute("aria-pressed") == "true"
    page.keyboard.press("Enter")
    assert all(row.is_visible() for row in rows.all())


def test_on_a_phone_the_words_stand_in_a_bar_below(visit: Visit) -> None:
    page = visit("/", 390, 844)
    assert not page.locator(".words").is_visible()
    bar = page.locator(".thumb").bounding_box()
    assert bar["y"] + bar["height"] == pytest.approx(844, abs=1)
    page.get_by_role("navigation", name="Main, phone").get_by_text("More").click()
    assert page.url.endswith("/more")
    assert page.locator(".thumb [aria-current]").inner_text() == "More"


@pytest.mark.parametrize("scheme", ("light", "dark"))
def test_more_contrast_is_given_where_it_is_asked_for(visit: Visit, scheme: str) -> None:
    page = visit("/pieces", 1280, 800, scheme, contrast="more")
    ground, ink = page.evaluate(
        "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
    )
    black_white = ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert [ground, ink] == (black_white if scheme == "light" else black_white[::-1])
    no_violations(page)


def test_the_sunlight_look_is_black_on_white_even_at_night(visit: Visit, live: Running) -> None:
    page = visit("/pieces", 1280, 800, "dark")
    page.context.add_cookies([{"name": "soakage-look", "value": "sunlight", "url": live.address}])
    page.reload()
    page.wait_for_selector(READY)
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    no_violations(page)


def test_nothing_moves_where_that_is_not_wanted(visit: Visit) -> None:
    page = visit("/pieces", reduced_motion="reduce")
    page.wait_for_selector(READY)
    assert page.evaluate("document.getAnimations().length") == 0


def test_it_prints_in_one_ink_without_what_can_only_be_pressed(visit: Visit, shots: Path) -> None:
    page = visit("/pieces", 794, 1123)
    page.wait_for_selector(READY)
    page.emulate_media(media="print")
    picture(page, shots, "pieces-print")
    for gone in (".words", ".thumb", ".choice", ".new-test", ".caution .acts"):
        assert not page.locator(gone).first.is_visible(), gone
    assert page.locator(".caution").first.is_visible()
    colours = page.evaluate(
        """() => [...document.querySelectorAll('.page *')].flatMap((it) => {
             const s = getComputedStyle(it); return [s.color, s.backgroundColor, s.borderTopColor, s.fill]; })"""
    )
    numbers = {tuple(re.findall(r"\d+", colour)[:3]) for colour in colours if colour.startswith("rgb")}
    assert [colour for colour in numbers if len(set(colour)) > 1] == []


def test_the_typeface_is_the_same_everywhere_and_its_figures_are_of_one_width(visit: Visit) -> None:
    page = visit("/")
    page.wait_for_function("document.fonts.status === 'loaded'")
    loaded = page.evaluate("[...document.fonts].filter((f) => f.status === 'loaded').map((f) => f.weight)")
    assert {"400", "500", "600"} <= set(loaded)
    widths = page.evaluate(
        """() => { const p = document.querySelector('main').appendChild(document.createElement('p'));
             return [...'0123456789'].map((digit) => { p.innerHTML = '<span></span>';
               p.firstChild.textContent = digit.repeat(20); return p.firstChild.getBoundingClientRect().width; }); }"""
    )
    assert max(widths) - min(widths) < 0.1
    # No letter vanishes into an empty ligature.
    apart = page.evaluate(
        """() => { const p = document.querySelector('main').appendChild(document.createElement('p'));
             p.innerHTML = '<span>ffi</span>'; const whole = p.firstChild.getBoundingClientRect().width;
             let sum = 0;
             for (const c of 'ffi') { p.firstChild.textContent = c; sum += p.firstChild.getBoundingClientRect().width; }
             return [whole, sum]; }"""
    )
    assert apart[0] == pytest.approx(apart[1], abs=0.5)
