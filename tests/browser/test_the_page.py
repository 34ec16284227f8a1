"""The pages in Chromium: the round by thumb, by key and without script, in three lights and two widths."""

import base64
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, expect

from nightround.foundation import clock
from nightround.journal.kinds.animal import Measured, Moulted, Offered, OfferSeen
from web.fixed_room import EVENING, FixedDesk, make_room, served
from web.test_track_page import fill

PAGES = ("/", "/?show=hand", "/?on=2026-11-20", "/animals", "/animal/K02", "/ahead/K02", "/write/K02",
         "/shelves", "/climate", "/problems", "/journal", "/track", "/keys", "/paste", "/line",
         "/write/K02?open=rule_set", "/nowhere")  # fmt: skip
LIGHTS = ("dark", "light", "night")
WIDTHS = {"phone": 390, "laptop": 1280}
SMALLEST_TARGET_PX = 44


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[FixedDesk]:
    """The fixed room at 20:30 on a Tuesday."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    with make_room(tmp_path / "room.sqlite") as desk:
        yield desk  # type: ignore[misc]


@pytest.fixture
def address(desk: FixedDesk) -> Iterator[str]:
    """Where the fixed room is served."""
    with served(desk) as address:
        yield address


@pytest.fixture
def tonight(open_page: Page, address: str) -> Page:
    """The round of the fixed room on a phone."""
    open_page.goto(address)
    return open_page


def card(page: Page, code: str) -> Locator:
    """One animal's card."""
    return page.locator(f"#a-{code}")


def button(page: Page, code: str, label: str) -> Locator:
    """A button of an animal's card."""
    return card(page, code).get_by_role("button", name=label, exact=True)


def said(page: Page) -> Locator:
    """What the page says aloud."""
    return page.locator("#said")


def test_a_round_by_thumb(tonight: Page, desk: FixedDesk) -> None:
    """Outcome, offer, water and look are one tap each; the progress follows without a reload."""
    count = len(desk.entries())
    tonight.evaluate("window.stayed = true")
    round_ = {
        "K01": ("Gone", "Offered as advised"),
        "K03": ("Watered 5.0 ml (1.0 tsp)", "Seen, alive"),
        "K02": ("Passed over",),
    }
    for code, label in [(code, label) for code, labels in round_.items() for label in labels]:
        button(tonight, code, label).click()
        expect(button(tonight, code, label)).to_have_count(0)
    expect(tonight.locator("#progress")).to_contain_text("3 of 3 done")
    expect(tonight.locator("#progress")).to_contain_text("Good night")
    kinds = [entry.kind for entry in desk.entries()[count:]]
    assert ["offer_seen", "offered", "watered", "seen", "passed_over"] == kinds
    assert tonight.evaluate("window.stayed") is True


def test_an_offer_can_be_answered_at_once(tonight: Page, desk: FixedDesk) -> None:
    """After `Offered`, the same card takes what became of that very offer."""
    button(tonight, "K01", "Offered as advised").click()
    button(tonight, "K01", "Took it").click()
    expect(button(tonight, "K01", "Took it")).to_have_count(0)
    offer, seen = desk.entries()[-2:]
    assert isinstance(offer.body, Offered)
    assert OfferSeen(outcome="taken", offer=offer.number) == seen.body


def test_undo_where_it_stands(tonight: Page, desk: FixedDesk) -> None:
    """Undo takes an act off the card, strikes it, and the same tap can be made again."""
    for _ in range(2):
        button(tonight, "K02", "Passed over").click()
        expect(card(tonight, "K02")).to_contain_text("passed over")
        number = desk.entries()[-1].number
        assert number in desk.record().entries
        button(tonight, "K02", "Undo").click()
        expect(button(tonight, "K02", "Undo")).to_have_count(0)
        assert number not in desk.record().entries
    expect(said(tonight)).to_have_text("K02: undone")


def test_moulted(tonight: Page, desk: FixedDesk) -> None:
    """`Moulted` is one tap, and the card says between which days."""
    button(tonight, "K02", "Moulted").click()
    expect(card(tonight, "K02")).to_contain_text("moulted, between Sun 22 Nov and Tue 24 Nov")
    assert isinstance(desk.entries()[-1].body, Moulted)


def test_a_double_tap_writes_once(tonight: Page, desk: FixedDesk) -> None:
    """Two quick taps on one button are one act."""
    count = len(desk.entries())
    button(tonight, "K02", "Passed over").dblclick()
    expect(button(tonight, "K02", "Undo")).to_have_count(1)
    tonight.wait_for_load_state("networkidle")
    assert count + 1 == len(desk.entries())


def test_a_tap_whose_answer_is_lost_is_not_written_twice(tonight: Page, desk: FixedDesk) -> None:
    """When the room is out of reach the page says so; tapping again writes what did not arrive, once."""
    count = len(desk.entries())

    def lost(route: Route) -> None:
        route.fetch()
        route.abort()

    tonight.route("**/act", lost, times=1)
    button(tonight, "K02", "Passed over").click()
    expect(said(tonight)).to_contain_text("out of reach")
    assert count + 1 == len(desk.entries())
    button(tonight, "K02", "Passed over").click()
    expect(button(tonight, "K02", "Undo")).to_have_count(1)
    assert count + 1 == len(desk.entries())


def test_a_refusal_is_told_on_the_page(tonight: Page) -> None:
    """When the server refuses a tap, the page says why and keeps the card."""
    tonight.evaluate("document.querySelector('#a-K02 .do button').value = 'fly~K02'")
    card(tonight, "K02").locator(".do button").first.click()
    expect(said(tonight)).to_contain_text("Not written.")
    expect(said(tonight)).to_contain_text("a tap of the round")


def test_more_opens_in_place_and_writes(tonight: Page, desk: FixedDesk) -> None:
    """`More` opens a sheet over the round; a size written there leads back to it."""
    card(tonight, "K03").get_by_role("link", name="More…").click()
    sheet = tonight.locator("#sheet")
    expect(sheet).to_be_visible()
    sheet.get_by_text("Measured", exact=True).click()
    sheet.get_by_label("What", exact=True).select_option("carapace_length")
    sheet.get_by_label("Number").fill("8.1")
    sheet.get_by_role("button", name="Write the size").click()
    expect(tonight.locator("h1")).to_contain_text("Tonight")
    body = desk.entries()[-1].body
    assert isinstance(body, Measured)
    assert (8.1, "mm") == (body.value, body.unit)


def test_the_round_by_keys(tonight: Page, desk: FixedDesk) -> None:
    """j and k walk, o does the usual, u undoes, e opens more, Escape closes it."""
    count = len(desk.entries())
    tonight.keyboard.press("j")
    expect(card(tonight, "K01")).to_be_focused()
    tonight.keyboard.press("o")
    expect(card(tonight, "K01")).to_contain_text("offered 1 small cricket")
    tonight.keyboard.press("u")
    expect(button(tonight, "K01", "Undo")).to_have_count(0)
    tonight.keyboard.press("j")
    expect(card(tonight, "K02")).to_be_focused()
    tonight.keyboard.press("k")
    expect(card(tonight, "K01")).to_be_focused()
    tonight.keyboard.press("e")
    expect(tonight.locator("#sheet")).to_be_visible()
    tonight.keyboard.press("j")
    tonight.keyboard.press("Escape")
    expect(tonight.locator("#sheet")).to_be_hidden()
    tonight.keyboard.press("?")
    expect(tonight.locator("h1")).to_have_text("Keys and help")
    assert ["offered", "struck"] == [entry.kind for entry in desk.entries()[count:]]


def test_single_keys_can_be_switched_off(tonight: Page, desk: FixedDesk, address: str) -> None:
    """Single keys can be turned off (WCAG 2.2, 2.1.4), and never act while somebody types."""
    tonight.goto(f"{address}/animals")
    tonight.keyboard.press("/")
    tonight.keyboard.type("jo?")
    expect(tonight.get_by_role("searchbox")).to_have_value("jo?")
    tonight.goto(f"{address}/keys")
    tonight.get_by_role("button", name="Single keys are on").click()
    tonight.goto(address)
    count = len(desk.entries())
    tonight.keyboard.press("j")
    tonight.keyboard.press("o")
    expect(tonight.locator(".card.here")).to_have_count(0)
    assert count == len(desk.entries())


def test_every_act_is_reached_by_tab_alone(tonight: Page) -> None:
    """Walking with Tab reaches every button and link of the cards, and each shows its focus."""
    wanted = tonight.locator(".card button, .card a, .card summary").count()
    tonight.evaluate("() => { window.met = new Set(); }")
    for _ in range(120):
        tonight.keyboard.press("Tab")
        tonight.evaluate("() => { const e = document.activeElement; if (e.closest('.card')) met.add(e); }")
    reached = tonight.evaluate("() => met.size")
    assert wanted == reached


def test_without_script(browser: Browser, address: str, desk: FixedDesk) -> None:
    """With script off the whole round works by plain forms: tap, undo, more, filter, light."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    count = len(desk.entries())
    button(page, "K02", "Passed over").click()
    assert page.url.endswith("/#a-K02")
    button(page, "K02", "Undo").click()
    expect(button(page, "K02", "Undo")).to_have_count(0)
    page.get_by_role("link", name=re.compile("Needs a hand")).click()
    expect(page.locator(".card")).to_have_count(2)
    card(page, "K03").get_by_role("link", name="More…").click()
    page.get_by_text("Watered", exact=True).click()
    page.get_by_label("How much").fill("3")
    page.get_by_role("button", name="Write the water").click()
    page.goto(address)
    page.get_by_text("Light: Dark").click()
    page.get_by_role("button", name="Light", exact=True).click()
    expect(page.locator("html")).to_have_attribute("data-light", "light")
    assert ["passed_over", "struck", "watered"] == [entry.kind for entry in desk.entries()[count:]]
    context.close()


COUNT_PIXELS = """async text => {
  const image = new Image(); image.src = 'data:image/png;base64,' + text; await image.decode();
  const canvas = document.createElement('canvas');
  canvas.width = image.width; canvas.height = image.height;
  const brush = canvas.getContext('2d'); brush.drawImage(image, 0, 0);
  const data = brush.getImageData(0, 0, canvas.width, canvas.height).data;
  let red = 0, other = 0;
  for (let at = 0; at < data.length; at += 4) {
    red += data[at] > 60; other += data[at + 1] > 0 || data[at + 2] > 0;
  }
  return [red, other, canvas.width * canvas.height]; }"""


@pytest.fixture
def lit(tonight: Page) -> Callable[[], tuple[int, int, int]]:
    """A function that counts the page's pixels as painted: lit red, lit in any other colour, all."""
    counter = tonight.context.new_page()

    def counted() -> tuple[int, int, int]:
        painted = base64.b64encode(tonight.screenshot(full_page=True)).decode()
        red, other, everything = counter.evaluate(COUNT_PIXELS, painted)
        return red, other, everything

    return counted


def test_the_night_light_lights_red_only_and_little(
    tonight: Page, address: str, lit: Callable[[], tuple[int, int, int]]
) -> None:
    """In red night no painted pixel of any page has green or blue, and under a seventh is lit at all."""
    assert lit()[1] > 0
    tonight.get_by_text("Light: Dark").click()
    tonight.get_by_role("button", name="Red night").click()
    for path in PAGES:
        tonight.goto(address + path)
        for summary in tonight.locator("details > summary").all():
            summary.evaluate("e => e.parentElement.setAttribute('open', '')")
        picture = tonight.locator("figure img")
        if picture.count():
            picture.scroll_into_view_if_needed()
            picture.evaluate("image => image.decode()")
        red, other, everything = lit()
        assert (path, 0) == (path, other)
        assert 0 < red < everything / 7, path


def test_what_lies_ahead_comes_after_the_page(tonight: Page, address: str, desk: FixedDesk) -> None:
    """The script fetches growth and the what-if into their place; without it a link leads there."""
    desk.comes_later = True
    tonight.goto(f"{address}/animal/K02")
    expect(tonight.get_by_role("heading", name="If it were warmer or cooler")).to_be_visible()
    expect(tonight.locator("#ahead figure img")).to_have_attribute("src", re.compile("ahead=yes"))
    assert 1 == tonight.locator("#ahead").count()


def test_an_empty_room_begins_with_a_pasted_list(
    open_page: Page, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pasted list is looked at, then written."""
    monkeypatch.setattr(clock, "now", lambda: EVENING)
    with make_room(tmp_path / "empty.sqlite", filled=False) as desk, served(desk) as address:
        open_page.goto(address)
        open_page.get_by_label("One animal a line").fill("A1\tLinothele fallax\tShelf A\t4 cm\t2026-11-01")
        open_page.get_by_role("button", name="Look at it first").click()
        expect(open_page.locator("h1")).to_have_text("What would be written")
        assert 0 == len(desk.entries())
        open_page.get_by_role("button", name="Write it").click()
        expect(open_page.locator("h1")).to_have_text("Written")
        assert ["A1"] == sorted(desk.record().animals)


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("size", WIDTHS)
def test_axe_finds_nothing_serious(
    open_page: Page,
    address: str,
    desk: FixedDesk,
    serious_faults: Callable[[Page], list[str]],
    light: str,
    size: str,
) -> None:
    """axe-core (WCAG 2.2 AA rules among its own) finds nothing serious or critical on any page."""
    open_page.set_viewport_size({"width": WIDTHS[size], "height": 844})
    open_page.context.add_cookies([{"name": "light", "value": light, "url": address}])
    fill(desk)
    for path in PAGES:
        open_page.goto(address + path)
        for summary in open_page.locator("details > summary").all():
            summary.evaluate("e => e.parentElement.setAttribute('open', '')")
        assert [] == serious_faults(open_page), path
    open_page.goto(address)
    button(open_page, "K01", "Offered as advised").click()
    expect(button(open_page, "K01", "Undo")).to_have_count(1)
    assert [] == serious_faults(open_page)
    card(open_page, "K03").get_by_role("link", name="More…").click()
    expect(open_page.locator("#sheet")).to_be_visible()
    assert [] == serious_faults(open_page)


def test_targets_of_the_round_are_large_enough(tonight: Page) -> None:
    """Whatever is tapped in the round is at least 44 px high and wide (links inside sentences apart)."""
    tapped = (
        ".card button, .card .button, .card summary, .progress .button, .show a, .walk a, .top nav a, .name, "
        ".lights summary"
    )
    boxes = [(target.inner_text(), target.bounding_box()) for target in tonight.locator(tapped).all()]
    small = [
        (words, box)
        for words, box in boxes
        if box is None or min(box["width"], box["height"]) < SMALLEST_TARGET_PX - 0.1
    ]
    assert len(boxes) > 20
    assert [] == small


@pytest.mark.parametrize("width", [320, 390, 640, 1280])
def test_no_page_scrolls_sideways(open_page: Page, address: str, width: int) -> None:
    """At 320 px (400 % zoom of a laptop), 390 px and above, every page fits its width."""
    open_page.set_viewport_size({"width": width, "height": 844})
    wide = {}
    for path in PAGES:
        open_page.goto(address + path)
        wide[path] = open_page.evaluate("document.documentElement.scrollWidth")
    assert dict.fromkeys(PAGES, width) == wide
