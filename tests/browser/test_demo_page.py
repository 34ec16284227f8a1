"""The demo room in Chromium, as `nightround demo` serves it."""

from collections.abc import Callable

from playwright.sync_api import Page, expect

FIRST_FIT_MS = 120_000
PAGES = ("/", "/animals", "/shelves", "/climate", "/problems", "/journal", "/track", "/keys")


def test_the_demo_room_says_on_every_page_that_it_is_invented(
    demo_page: Page, demo_address: str, serious_faults: Callable[[Page], list[str]]
) -> None:
    """The demo's round is there, each page is marked, and axe finds nothing serious on real-looking data."""
    expect(demo_page.locator(".card").first).to_be_visible(timeout=FIRST_FIT_MS)
    assert demo_page.locator(".card").count() > 60
    pages = [*PAGES, demo_page.locator(".card h3 a").first.get_attribute("href")]
    for path in pages:
        demo_page.goto(f"{demo_address}{path}", timeout=FIRST_FIT_MS)
        expect(demo_page.locator(".invented")).to_have_text("Invented room: nothing here is real.")
        assert [] == serious_faults(demo_page), path


def test_a_tap_in_the_demo_room_and_its_undo(demo_page: Page) -> None:
    """One usual tap is written and undone where it stands."""
    expect(demo_page.locator(".card").first).to_be_visible(timeout=FIRST_FIT_MS)
    card = demo_page.locator(".card.hand:has(.do button)").first
    card = demo_page.locator(f"#{card.get_attribute('id')}")
    card.locator(".do button").first.click()
    expect(card.locator(".acts li")).to_have_count(1)
    card.get_by_role("button", name="Undo").click(timeout=FIRST_FIT_MS)
    expect(card.locator(".acts li")).to_have_count(0, timeout=FIRST_FIT_MS)
