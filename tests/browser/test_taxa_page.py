"""The pages of taxa in Chromium: they fit a phone with everything open, figures load, and axe is quiet."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_taxa_pages import ADDRESS, fill


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with a taxon's curves is served."""
    with filled(tmp_path / "room.sqlite", monkeypatch, fill) as address:
        yield address


@pytest.mark.parametrize("light", ["dark", "light", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_taxa_fit_and_are_sound(
    browser: Browser, address: str, serious_faults: Callable[[Page], list[str]], size: str, light: str
) -> None:
    """Nothing is wider than the screen, the curves are drawn, nothing serious on the list and a taxon."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844})
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()
    open_everything(page, f"{address}/taxa")
    expect(page.get_by_role("heading", level=1)).to_have_text("Taxa")
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    open_everything(page, f"{address}{ADDRESS}")
    expect(page.locator("figure.calibration").first).to_be_visible()
    assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 300)")
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    context.close()
