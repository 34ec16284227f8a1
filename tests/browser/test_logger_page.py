"""A logger's file in Chromium: it fits a phone, axe is quiet, a question is answered by keyboard alone."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.opened import WIDTHS, filled, open_everything
from web.test_water_pages import fill

FIRST = datetime(2026, 3, 2, 4, 0, tzinfo=UTC)


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[str]:
    """Where a room with shelves is served."""
    with filled(tmp_path / "room.sqlite", monkeypatch, fill) as address:
        yield address


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Three days of half-hourly readings in °F without a unit."""
    rows = [f"{FIRST + timedelta(minutes=30 * at):%Y-%m-%d %H:%M},{70 + at % 6}" for at in range(144)]
    path = tmp_path / "shelf-b.csv"
    path.write_text("Time,Temp\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("light", ["dark", "light", "night"])
@pytest.mark.parametrize("size", WIDTHS)
def test_every_step_fits_and_is_sound(
    browser: Browser,
    address: str,
    serious_faults: Callable[[Page], list[str]],
    file: Path,
    size: str,
    light: str,
) -> None:
    """Form, question, dry run and written: nothing wider than the screen, nothing serious found."""
    context = browser.new_context(viewport={"width": WIDTHS[size], "height": 844}, java_script_enabled=True)
    context.add_cookies([{"name": "light", "value": light, "url": address}])
    page = context.new_page()

    def sound(heading: str) -> None:
        expect(page.get_by_role("heading", level=1)).to_have_text(heading)
        page.evaluate("document.querySelectorAll('main details').forEach(each => each.open = true)")
        assert WIDTHS[size] >= page.evaluate("document.documentElement.scrollWidth"), heading
        assert [] == serious_faults(page), heading

    open_everything(page, f"{address}/logger")
    sound("A logger’s file")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_label("Where it stood").fill("shelf B")
    page.get_by_role("button", name="Look at it first").click()
    sound("One question")
    page.get_by_label("°F", exact=True).check()
    page.get_by_role("button", name="Answer and look").click()
    sound("What would be written")
    page.get_by_role("button", name="Write 3 days").click()
    sound("Written")
    context.close()


def test_it_works_by_keyboard_and_without_script(browser: Browser, address: str, file: Path) -> None:
    """Tab, space and enter from the place on: asked, answered, looked at, written, taken back."""
    page = browser.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False).new_page()
    page.goto(f"{address}/logger")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_label("Where it stood").focus()
    page.keyboard.type("shelf B")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("One question")
    page.get_by_label("°C", exact=True).focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("What would be written")
    expect(page.get_by_text("mean 22.5 °C (72.5 °F)")).to_be_visible()
    page.get_by_role("button", name="Write 3 days").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Written")
    page.get_by_role("button", name="Take the whole file back").click()
    page.locator("button[name=sure]").click()
    page.goto(f"{address}/climate")
    expect(page.get_by_text("shelf-b.csv")).to_have_count(0)


def test_a_file_that_is_too_large_is_answered_not_cut(browser: Browser, address: str, tmp_path: Path) -> None:
    """Thirty megabytes from a browser: the page with the command, no broken connection."""
    large = tmp_path / "large.csv"
    large.write_bytes(b"2026-03-02 04:00,21.5\n" * 1_400_000)
    page = browser.new_context().new_page()
    page.goto(f"{address}/logger")
    page.get_by_label("File", exact=True).set_input_files(large)
    page.get_by_label("Where it stood").fill("shelf B")
    page.get_by_role("button", name="Look at it first").click()
    expect(page.get_by_role("alert")).to_contain_text("nightround import FILE --logger", timeout=30_000)
