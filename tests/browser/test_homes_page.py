"""The page of homes and a run sheet in Chromium: they fit a phone with everything open, and axe is quiet."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, open_everything
from nightround.desk.desk import Desk
from nightround.foundation import clock
from nightround.journal.store import Journal
from web.fixed_room import EVENING, served
from web.planned_homes import fill


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room whose animals outgrow their vials is served."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    Journal.create(tmp_path / "homes.sqlite", time_zone="UTC", name="Invented room of tests").close()
    with Desk.open(tmp_path / "homes.sqlite") as desk:
        fill(desk)
        with served(desk) as address:
            yield address


@pytest.mark.parametrize("light", ["dark", "light", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_homes_and_a_run_sheet_fit_and_are_sound(
    browser: Browser, address: str, serious_faults: Callable[[Page], list[str]], size: str, light: str
) -> None:
    """Nothing is wider than the screen, the timeline is drawn, a code leads to its sheet, nothing serious."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844})
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()
    open_everything(page, f"{address}/homes")
    expect(page.locator("figure.year")).to_have_count(1)
    assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 300)")
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    page.get_by_role("table").get_by_role("link", name="P0").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Move of P0")
    assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth")
    assert [] == serious_faults(page)
    context.close()
