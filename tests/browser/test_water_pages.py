"""The water pages in Chromium: they fit a phone, axe is quiet, a home is made up, felt and undone."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_water_pages import fill

PAGES = ("/water", "/water?away=14", "/homes/H9", "/homes/H9?if=cover+60+%25", "/make-up")


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with a weighed home is served."""
    with filled(tmp_path / "room.sqlite", monkeypatch, fill) as address:
        yield address


@pytest.mark.parametrize("light", ["dark", "light", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_everything_open_fits_and_is_sound(
    browser: Browser, address: str, serious_faults: Callable[[Page], list[str]], size: str, light: str
) -> None:
    """Nothing is wider than the screen with every form open, figures are drawn, nothing serious is found."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844})
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()
    for path in PAGES:
        open_everything(page, f"{address}{path}")
        assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 300)")
        assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth"), path
        assert [] == serious_faults(page), path
    context.close()


def test_a_home_is_made_up_felt_and_undone(browser: Browser, address: str) -> None:
    """On a phone: the form, what it takes, the home's page; one tap for damp, and Undo takes it back."""
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.goto(f"{address}/make-up")
    for label, text in (
        ("Code of the home", "H20"),
        ("Or its inner sizes", "12 x 8 x 10 in"),
        ("Substrate", "coir 70, sand 30"),
        ("How deep", "3 in"),
        ("Holes, how many", "12"),
        ("Width of a hole in mm", "2.5"),
    ):
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_role("button", name="Check").click()
    expect(page.get_by_role("heading", name="What it takes")).to_be_visible()
    page.get_by_role("button", name="Write home H20").click()
    expect(page.get_by_role("heading", name="Home H20")).to_be_visible()
    page.get_by_role("button", name="Damp", exact=True).click()
    expect(page.locator(".history li").first).to_contain_text("damp")
    page.get_by_role("button", name="Undo").first.click()
    expect(page.locator(".history li.void").first).to_contain_text("damp")


def test_the_advised_water_is_one_tap_from_the_round(browser: Browser, address: str) -> None:
    """The card's home leads to its page, and the page back to its animal."""
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.goto(f"{address}/homes/H9")
    page.get_by_role("link", name="K01").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("K01")
