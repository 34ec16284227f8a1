"""The larder and Sunday in Chromium: they fit a phone, axe is quiet, a purchase is written on the page."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_larder_pages import fill, quick


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with feeders and a shop is served."""
    quick(monkeypatch)
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
    for path in ("/larder", "/sunday"):
        open_everything(page, f"{address}{path}")
        assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 300)")
        assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth"), path
        assert [] == serious_faults(page), path
    context.close()


def test_a_purchase_is_written_and_its_lot_is_there(browser: Browser, address: str) -> None:
    """On a phone: open the form, write, and see the new lot in the house."""
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.goto(f"{address}/larder")
    page.get_by_text("Bought", exact=True).click()
    form = page.locator("#bought")
    form.get_by_label("Feeder").fill("cricket")
    form.get_by_label("How many").fill("60")
    form.get_by_label("Length of one in mm").fill("6")
    form.get_by_role("button", name="Write the purchase").click()
    expect(page.get_by_role("region", name="Lots of feeders")).to_contain_text("cricket 2")
