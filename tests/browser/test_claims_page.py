"""The claims page in Chromium with verdicts of every sort: fits a phone with all parts open, axe is quiet."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_claims_page import fill


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with claims is served."""
    with filled(tmp_path / "room.sqlite", monkeypatch, fill) as address:
        yield address


@pytest.mark.browser
@pytest.mark.parametrize("light", ["dark", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_everything_open_fits_and_is_sound(
    browser: Browser, address: str, serious_faults: Callable[[Page], list[str]], size: str, light: str
) -> None:
    """Nothing is wider than the screen with every part open, verdicts are words, nothing serious is found."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844})
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()
    open_everything(page, f"{address}/claims")
    expect(page.get_by_text("contradicted", exact=False).first).to_be_visible()
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    context.close()
