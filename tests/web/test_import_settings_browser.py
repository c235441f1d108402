"""Import, Settings and Standards in a real browser: both sizes, both looks, axe, by keyboard alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from soakage.demo.make import demo_files
from web_help import no_violations, picture

Visit = Any
SIZES = ((1280, 800), (390, 844))
PAGES = (
    "/import", "/settings", "/settings/instruments", "/settings/people", "/settings/recipes", "/settings/store",
    "/settings/exchange", "/settings/accounts", "/standards", "/standards/rules",
    "/standards/ieee-43-2013.thermosetting",
)  # fmt: skip
TABLE = (
    "Date;Asset;Class;R 60 s (MΩ);R 600 s (MΩ);Temp\n"
    "03.04.2025;Press 1;rotating-machine;120,5;400;21\n14.04.2025;Press 2;rotating-machine;90;95;22\n"
)


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
@pytest.mark.parametrize("path", PAGES)
def test_each_page_keeps_the_rules(
    visit: Visit, shots: Path, path: str, size: tuple[int, int], scheme: str
) -> None:
    page = visit(path, *size, scheme)
    picture(page, shots, f"{path.strip('/').replace('/', '-')}-{size[0]}-{scheme}")
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    no_violations(page)


@pytest.fixture
def chosen(tmp_path: Path) -> list[str]:
    """Return files as they lie on a disk: a record, a table, and one that nothing reads."""
    names = {"press.csv": TABLE.encode(), "noise.bin": bytes(range(256)) * 9}
    names["sump-pump.csv"] = demo_files()["sump-pump.csv"].encode()
    for name, data in names.items():
        (tmp_path / name).write_bytes(data)
    return [str(tmp_path / name) for name in names]


@pytest.mark.parametrize("scheme", ("light", "dark"))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size[0]))
def test_files_are_brought_in_from_choosing_to_the_result(
    visit: Visit, shots: Path, chosen: list[str], size: tuple[int, int], scheme: str
) -> None:
    page = visit("/import", *size, scheme)
    name = f"{size[0]}-{scheme}"
    page.set_input_files("#files", chosen)
    page.get_by_role("button", name="Look at them").click()
    page.get_by_role("heading", name="Ready to be taken in").or_(
        page.get_by_role("heading", name="1 table to settle first")
    ).wait_for(timeout=60_000)
    picture(page, shots, f"import-files-{name}")
    no_violations(page)
    page.locator("a.hit", has_text="press.csv").click()
    if page.locator("#open").count():
        page.get_by_label("degC").check()
    picture(page, shots, f"import-table-{name}")
    no_violations(page)
    page.get_by_role("button", name="Read it so").click()
    page.locator("#preview td", has_text="Press 1").wait_for(timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    picture(page, shots, f"import-read-{name}")
    no_violations(page)
    page.get_by_role("link", name="Back to the files").click()
    page.get_by_role("button", name="Take in 3 files").click()
    page.get_by_role("heading", name="refused").first.wait_for(timeout=60_000)
    picture(page, shots, f"import-result-{name}")
    no_violations(page)
    assert "noise.bin" in page.locator("#refused").inner_text()


def test_everything_is_reached_by_keyboard(visit: Visit, chosen: list[str]) -> None:
    page = visit("/import")
    page.set_input_files("#files", chosen[:1])
    page.locator("#files").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Look at them"
    page.keyboard.press("Enter")
    page.locator("a.hit", has_text="press.csv").wait_for(timeout=60_000)
    page.locator("a.hit", has_text="press.csv").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Columns").wait_for()
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.textContent.trim()"))
    assert {"Read it so", "Keep the recipe", "Read it by this recipe"} <= seen


def test_the_look_is_changed_and_what_the_sheet_keeps_is_pressed(visit: Visit) -> None:
    page = visit("/settings")
    page.get_by_label("Look").select_option("sunlight")
    page.get_by_label("Decimal mark").select_option(",")
    page.get_by_role("button", name="Show it so").click()
    page.wait_for_load_state()
    assert page.get_attribute("html", "data-look") == "sunlight"
    hand = page.get_by_role("button", name="Timed sheet for the left hand")
    assert hand.get_attribute("aria-pressed") == "false"
    hand.press("Enter")
    assert hand.get_attribute("aria-pressed") == "true"
    assert page.evaluate("localStorage.getItem('soakage-hand')") == "left"
    page.reload()
    assert hand.get_attribute("aria-pressed") == "true"
