"""The climate page in Chromium with a year of days: fits a phone with all tables open, and axe is quiet."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_climate_page import fill


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with a year and more of days is served."""
    with filled(tmp_path / "room.sqlite", monkeypatch, fill) as address:
        yield address


@pytest.mark.parametrize("light", ["dark", "light", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_everything_open_fits_and_is_sound(
    browser: Browser, address: str, serious_faults: Callable[[Page], list[str]], size: str, light: str
) -> None:
    """With every table open nothing is wider than the screen, figures are drawn, nothing serious is found."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844})
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()
    open_everything(page, f"{address}/climate")
    expect(page.locator("figure.year")).to_have_count(2)
    assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 300)")
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    context.close()
