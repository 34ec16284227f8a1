"""What the pages show, write, refuse and keep."""

import html
import re
import threading
import time
from datetime import date
from pathlib import Path

import httpx
import pytest

from nightround.foundation.when import between, on_day
from nightround.journal.kinds.animal import Moulted, Offered, OfferSeen, PassedOver, Seen
from nightround.journal.kinds.surroundings import Watered
from nightround.reports.tonight import TonightReport
from nightround.web import assets, round_page, rounds
from web.fixed_room import ODD_CODE, OFFER_NUMBER, FixedDesk, client_of, make_room, served

PAGES = ("/", "/?show=hand", "/?show=alone", "/animals", "/animals?q=lino", "/animal/K02", "/ahead/K02",
         "/write/K02", "/shelves", "/problems", "/journal", "/track", "/keys", "/paste",
         "/line")  # fmt: skip


def key_of(page: str) -> str:
    """The random key of the form on a page."""
    found = re.search(r'name="key" value="(\w+)"', page)
    assert found is not None
    return found[1]


def taps_of(page: str, code: str) -> list[str]:
    """The values of the buttons that a page shows for an animal."""
    values = [html.unescape(value) for value in re.findall(r'name="do" value="([^"]+)"', page)]
    return [value for value in values if value.endswith(f"~{code}")]


def tap(client: httpx.Client, do: str, code: str, **headers: str) -> httpx.Response:
    """Tap the button of that name on the animal's card, as Tonight shows it."""
    page = client.get("/").text
    value = next(value for value in taps_of(page, code) if value.startswith(f"{do}~"))
    return client.post("/act", data={"key": key_of(page), "do": value, "back": "/"}, headers=headers)


@pytest.mark.parametrize("path", PAGES)
def test_every_page_marks_the_invented_room_and_forbids_inline_script(
    client: httpx.Client, path: str
) -> None:
    """Each page says that the room is invented, and neither holds nor allows inline script or style."""
    answer = client.get(path)
    assert 200 == answer.status_code
    assert "Invented room" in answer.text
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'; script-src 'self'; style-src 'self'" in policy
    assert "unsafe" not in policy
    assert [] == re.findall(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=", answer.text)


def test_the_keepers_words_are_never_markup(client: httpx.Client) -> None:
    """A note, a taxon or a code with angle brackets is shown as it was written."""
    page = client.get("/animal/K02").text
    assert "&lt;b&gt;bold&lt;/b&gt; &amp; calm" in page
    assert "<b>bold" not in page
    assert "<oaks>" not in client.get("/").text
    odd = client.get("/animal/" + ODD_CODE.replace(" ", "%20").replace("/", "%2F").replace("&", "%26"))
    assert 200 == odd.status_code
    assert html.escape(ODD_CODE) in odd.text


def test_the_usual_tap_writes_the_offer_as_advised_with_its_outcome_open(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """`Offered as advised` writes prey and number of the advice; size and outcome stay unknown."""
    answer = tap(client, "offered", "K01")
    assert 303 == answer.status_code
    assert "/#a-K01" == answer.headers["location"]
    entry = desk.entries()[-1]
    assert Offered(prey="small cricket", number=1) == entry.body
    assert on_day(date(2026, 11, 24)) == entry.when
    card = client.get("/").text
    assert "offered 1 small cricket" in card
    assert "Took it" in card


def test_yesterdays_question_comes_first_and_its_answer_names_the_offer(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """`Gone` writes `taken` for the very offer that was open; the question then leaves the card."""
    before = client.get("/").text
    assert before.index("nobody has looked yet") < before.index("Offer 1 small cricket")
    tap(client, "gone", "K01")
    assert OfferSeen(outcome="taken", offer=OFFER_NUMBER) == desk.entries()[-1].body
    assert "nobody has looked yet" not in client.get("/").text


def test_still_there_asks_for_the_leftovers(client: httpx.Client, desk: FixedDesk) -> None:
    """`Still there` writes `uneaten` and never says by itself that the leftovers were taken out."""
    count = len(desk.entries())
    tap(client, "still", "K01")
    assert count + 1 == len(desk.entries())
    tap(client, "offered", "K01")
    assert "out~K01" in taps_of(client.get("/").text, "K01")
    assert "<b>0</b> of 2 done" in client.get("/").text
    tap(client, "out", "K01")
    assert "<b>1</b> of 2 done" in client.get("/").text


def test_a_moult_found_tonight_is_an_interval_since_the_last_look(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """`Moulted` says: on some day from the last look to tonight. Without a last look it asks for the days."""
    tap(client, "moulted", "K02")
    entry = desk.entries()[-1]
    assert (between(date(2026, 11, 22), date(2026, 11, 24)), Moulted()) == (entry.when, entry.body)
    assert [] == [value for value in taps_of(client.get("/").text, ODD_CODE) if value.startswith("moulted")]


def test_a_moult_just_tapped_takes_the_offer_off_the_card(client: httpx.Client) -> None:
    """Do no harm: before the round is worked out anew, the card no longer offers prey to a soft animal."""
    card = tap(client, "moulted", "K01", **{"X-Nightround": "part"}).text
    assert "no prey until black fangs are seen" in card
    assert [] == [value for value in taps_of(card, "K01") if value.startswith("offered")]
    assert "nobody has looked yet" in card


@pytest.mark.parametrize(
    ("do", "code", "body"),
    [
        ("passed", "K02", PassedOver()),
        ("watered", "K03", Watered(value=5.0, unit="ml", written="5", written_unit="ml", where="side")),
        ("seen", "K03", Seen()),
    ],
)
def test_a_tap_writes_what_its_button_said(
    client: httpx.Client, desk: FixedDesk, do: str, code: str, body: object
) -> None:
    """Passed over, watered and seen write just that."""
    tap(client, do, code)
    assert body == desk.entries()[-1].body


def test_a_double_tap_writes_once(client: httpx.Client, desk: FixedDesk) -> None:
    """The same form sent twice, also from a page that is out of date, writes one entry."""
    page = client.get("/").text
    sent = {"key": key_of(page), "do": taps_of(page, "K02")[0], "back": "/"}
    count = len(desk.entries())
    assert [303, 303] == [client.post("/act", data=sent).status_code for _ in range(2)]
    assert count + 1 == len(desk.entries())


def test_two_phones_that_tap_the_same_are_two_acts(client: httpx.Client, desk: FixedDesk) -> None:
    """Keys are random for each page: two people who tap the same button did two things."""
    count = len(desk.entries())
    tap(client, "passed", "K02")
    second = client.get("/journal").text
    assert "passed over" in second
    page = client.get("/animal/K03").text
    assert key_of(page) != key_of(client.get("/animal/K03").text)
    assert count + 1 == len(desk.entries())


def test_every_tap_can_be_undone_and_stays_in_the_journal(client: httpx.Client, desk: FixedDesk) -> None:
    """Undo strikes the act: it no longer counts, and the journal shows it crossed out."""
    tap(client, "passed", "K02")
    number = desk.entries()[-1].number
    assert number in desk.record().entries
    page = client.get("/").text
    value = re.findall(r'name="undo" value="(tap-[^"]+)"', page)
    assert 1 == len(value)
    answer = client.post("/undo", data={"undo": value[0], "back": "/"})
    assert 303 == answer.status_code
    assert number not in desk.record().entries
    assert [] == re.findall(r'name="undo" value="tap-', client.get("/").text)
    assert "<s>passed over</s>" in client.get("/journal").text
    tap(client, "passed", "K02")
    assert desk.entries()[-1].number in desk.record().entries


def test_undoing_a_whole_list_asks_once_more(client: httpx.Client, desk: FixedDesk) -> None:
    """An act that is not a single tap is undone only after a question that says how much it is."""
    count = len(desk.entries())
    sent = {"undo": "import-fixed~", "back": "/journal"}
    asked = client.post("/undo", data=sent)
    assert 200 == asked.status_code
    assert f"{count} entries" in asked.text
    assert count == len(desk.entries())
    assert 303 == client.post("/undo", data={**sent, "sure": "yes"}).status_code
    assert {} == dict(desk.record().animals)


def test_a_part_of_the_page_is_the_card_and_the_progress(client: httpx.Client) -> None:
    """The page's script gets the card with a new key, the progress, and what to say aloud."""
    page = client.get("/").text
    answer = tap(client, "watered", "K03", **{"X-Nightround": "part"})
    assert 200 == answer.status_code
    assert '<article class="card hand' in answer.text
    assert 'id="progress"' in answer.text
    assert '<p id="said">K03: watered 5.0 ml (1.0 tsp), side</p>' in answer.text
    assert f'data-form-key="{key_of(page)}"' not in answer.text


def test_progress_counts_what_asks_for_a_hand(client: httpx.Client) -> None:
    """Two of the five ask for a hand; one is done when nothing on its card is left to do."""
    assert "<b>0</b> of 2 done" in client.get("/").text
    tap(client, "gone", "K01")
    assert "<b>0</b> of 2 done" in client.get("/").text
    tap(client, "offered", "K01")
    assert "<b>1</b> of 2 done" in client.get("/").text


def test_filters_show_who_they_say(client: httpx.Client) -> None:
    """`hand` shows those with something to do, `alone` those to be left alone."""
    shown = {
        show: re.findall(r'<article[^>]* id="a-(\w+)"', client.get("/", params={"show": show}).text)
        for show in ("hand", "alone")
    }
    assert {"hand": ["K01", "K03"], "alone": ["K02"]} == shown
    assert 400 == client.get("/?show=none").status_code


def test_another_day_is_kept_in_every_link_and_dates_what_is_tapped(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """With ?on= the page says so, its links keep the day, and a tap is dated to it; the future is refused."""
    page = client.get("/?on=2026-11-20").text
    assert "As of" in page
    assert 'href="/animals?on=2026-11-20"' in page
    value = taps_of(page, "K02")[0]
    sent = {"key": key_of(page), "do": value, "back": "/"}
    assert 303 == client.post("/act?on=2026-11-20", data=sent).status_code
    assert on_day(date(2026, 11, 20)) == desk.entries()[-1].when
    ahead = client.post("/act?on=2026-11-25", data={**sent, "key": "other"})
    assert (400, True) == (ahead.status_code, "an evening that has come" in ahead.text)
    bad = client.get("/?on=24.11.2026")
    assert (400, True) == (bad.status_code, "2026-03-01" in bad.text)


def test_the_second_level_writes_a_measurement_in_the_keepers_unit(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """An inch is kept as written and becomes 25.4 mm (NIST SP 811); the form sent twice writes once."""
    sent = {"key": "abc", "kind": "measured", "item": "leg_span", "value": "2.5", "unit": "in",
            "until": "2026-11-24", "posture": "stretched", "back": "/animal/K02"}  # fmt: skip
    count = len(desk.entries())
    answers = [client.post("/write/K02", data=sent) for _ in range(2)]
    assert [(303, "/animal/K02")] * 2 == [
        (answer.status_code, answer.headers["location"]) for answer in answers
    ]
    assert count + 1 == len(desk.entries())
    body = desk.entries()[-1].body
    assert (63.5, "mm", "2.5", "in") == (body.value, body.unit, body.written, body.written_unit)  # type: ignore[attr-defined]


def test_a_form_that_cannot_be_read_says_why_beside_each_field_and_keeps_the_rest(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """Every faulty field is named at once, what was typed stays, and nothing is written."""
    count = len(desk.entries())
    sent = {"key": "abc", "kind": "offered", "prey": "roach", "number": "two", "prey_mm": "-3",
            "until": "24.11.2026"}  # fmt: skip
    answer = client.post("/write/K02", data=sent)
    assert 422 == answer.status_code
    assert all(f'id="offered-{name}-fault"' in answer.text for name in ("number", "prey_mm"))
    assert "Write the date as year-month-day" in answer.text
    assert 'value="roach"' in answer.text
    assert count == len(desk.entries())


def test_a_moult_between_two_days_is_written_as_an_interval(client: httpx.Client, desk: FixedDesk) -> None:
    """The last day it had not moulted and the day it was found make the interval."""
    sent = {"key": "abc", "kind": "moulted", "from": "2026-11-20", "until": "2026-11-23", "exuvia": "lost"}
    assert 303 == client.post("/write/K02", data=sent).status_code
    entry = desk.entries()[-1]
    assert between(date(2026, 11, 20), date(2026, 11, 23)) == entry.when
    assert Moulted(exuvia="lost", last_checked="2026-11-20") == entry.body


def test_died_needs_a_second_tap(client: httpx.Client, desk: FixedDesk) -> None:
    """A death is written only after the question has been answered."""
    sent = {"key": "abc", "kind": "died", "until": "2026-11-24"}
    count = len(desk.entries())
    asked = client.post("/write/K03", data=sent)
    assert (200, True) == (asked.status_code, "Yes, K03 died" in asked.text)
    assert count == len(desk.entries())
    assert 303 == client.post("/write/K03", data={**sent, "sure": "yes"}).status_code
    assert "dead" == desk.record().animals["K03"].status


@pytest.mark.parametrize(
    ("method", "path", "headers", "status"),
    [
        ("POST", "/act", {"Origin": "http://elsewhere.example"}, 403),
        ("POST", "/undo", {"Origin": "null"}, 403),
        ("POST", "/light", {"Origin": ""}, 403),
        ("GET", "/", {"Host": "rebound.example"}, 400),
        ("GET", "/", {"Host": "127.0.0.1.evil.example:80"}, 400),
        ("GET", "/nowhere", {}, 404),
        ("GET", "/animal/NOBODY", {}, 404),
        ("GET", "/act", {}, 405),
        ("GET", "/", {"Host": "[::1"}, 400),
        ("GET", "/?on=9999-12-31", {}, 400),
        ("GET", "/animals?on=0001-01-01", {}, 400),
        ("GET", "/journal?before=" + "9" * 5000, {}, 400),
        ("POST", "/act", {"Origin": "http://["}, 403),
        ("POST", "/act", {"Content-Length": "99999999"}, 413),
    ],
)
def test_foreign_hosts_and_origins_and_wrong_requests_are_refused(
    client: httpx.Client, method: str, path: str, headers: dict[str, str], status: int
) -> None:
    """DNS rebinding, forms of other sites, huge bodies and wrong addresses get a 4xx, never a 500."""
    if "Content-Length" in headers:
        content = b"x" * 4_000_001
        assert status == client.post(path, content=content).status_code
        return
    assert status == client.request(method, path, headers=headers).status_code


@pytest.mark.parametrize(
    "sent",
    [{}, {"key": "k"}, {"key": "k", "do": "fly~K01"}, {"key": "k", "do": "offered~x~cricket~-~-~K01"},
     {"key": "k", "do": "gone~K01"}, {"key": "k", "do": "moulted~0001-01-01~K01"},
     {"key": "k", "do": "moulted~soon~K01"}, {"do": "passed~K01"},
     {"key": "k", "do": "watered~-3~side~K01"}, {"key": "k", "do": "offered~0~x~nan~-~K01"}],
)  # fmt: skip
def test_a_tap_that_no_page_makes_is_refused_and_writes_nothing(
    client: httpx.Client, desk: FixedDesk, sent: dict[str, str]
) -> None:
    """A mangled tap gets a friendly page that says what was wanted."""
    count = len(desk.entries())
    answer = client.post("/act", data=sent)
    assert (400, True) == (answer.status_code, "What to do" in answer.text)
    assert count == len(desk.entries())


def test_an_unknown_code_gets_the_nearest_ones(client: httpx.Client) -> None:
    """The page for a code that names nothing says which codes are near."""
    assert "K01" in client.get("/animal/K10").text


@pytest.mark.parametrize(
    "back", ["//evil.example/", "https://evil.example", "javascript:alert(1)", "\\\\evil"]
)
def test_a_form_never_leads_away_from_this_room(client: httpx.Client, back: str) -> None:
    """Whatever `back` says, the answer leads to a page of this room."""
    answer = client.post("/light", data={"light": "night", "back": back})
    assert (303, "/") == (answer.status_code, answer.headers["location"])


def test_the_light_is_kept_in_a_cookie(client: httpx.Client) -> None:
    """Red night once chosen is on every page; an unknown light is refused."""
    assert 'data-light="dark"' in client.get("/").text
    answer = client.post("/light", data={"light": "night", "back": "/shelves"})
    assert "/shelves" == answer.headers["location"]
    assert "SameSite=lax" in answer.headers["set-cookie"]
    assert 'data-light="night"' in client.get("/").text
    assert 400 == client.post("/light", data={"light": "blue"}).status_code


def test_an_unchanged_page_is_not_sent_again(client: httpx.Client) -> None:
    """The same state answers 304 to its own tag; a tap makes a new one."""
    first = client.get("/")
    tag = {"If-None-Match": first.headers["etag"]}
    assert 304 == client.get("/", headers=tag).status_code
    tap(client, "passed", "K02")
    assert 200 == client.get("/", headers=tag).status_code


def test_static_files_never_change_under_their_address(client: httpx.Client) -> None:
    """A static file's address holds a digest of all, so it may be kept for ever; an older one may not."""
    answer = client.get(assets.url("page.css"))
    assert "public, max-age=31536000, immutable" == answer.headers["cache-control"]
    assert "gzip" == answer.headers["content-encoding"]
    assert "no-cache" == client.get("/static/older/page.css").headers["cache-control"]
    assert 404 == client.get("/static/older/..%2Fapp.py").status_code


def test_the_figure_is_drawn_for_each_light_and_width(client: httpx.Client) -> None:
    """The figure is SVG in the colours asked for, and a table beside it says the same."""
    page = client.get("/animal/K02").text
    address = html.unescape(re.findall(r'<img src="([^"]+)"', page)[0])
    drawn = client.get(address)
    assert ("image/svg+xml", True) == (
        drawn.headers["content-type"],
        "immutable" in drawn.headers["cache-control"],
    )
    assert 'width="358"' in drawn.text
    assert "#ec0000" in client.get(address.replace("light=dark", "light=night")).text
    assert "Carapace length after each moult" in page
    assert 400 == client.get(address.replace("width=358", "width=9999")).status_code
    assert 400 == client.get("/figure/K01?width=358&light=dark").status_code


def test_an_animal_without_sizes_has_no_empty_figure(client: httpx.Client) -> None:
    """Unknown sizes are said to be unknown, and nothing is drawn."""
    page = client.get("/animal/K01").text
    assert "No size is recorded" in page
    assert "<figure" not in page


def test_what_lies_ahead_comes_later_where_it_takes_long(client: httpx.Client, desk: FixedDesk) -> None:
    """The page is shown without it and names where it comes from; the part asked for takes that place."""
    desk.comes_later = True
    page = client.get("/animal/K02").text
    later = re.search(r'id="ahead" data-later="([^"]+)"', page)
    assert later is not None
    assert "If it were warmer or cooler" not in page
    assert "Carapace length after each moult" in page
    assert 'href="/ahead/K02"' in page
    part = client.get(later[1], headers={"X-Nightround": "part"}).text
    assert part.startswith('<div class="ahead" id="ahead">')
    assert "If it were warmer or cooler" in part
    assert "<html" not in part


def test_growth_stands_in_both_units_with_what_it_rests_on(client: httpx.Client) -> None:
    """Sizes in mm or cm and inches, days reached or not, both sexes, counts, method; shifts in C and F."""
    page = client.get("/animal/K02").text.replace("\u00a0", " ")
    for words in (
        "1.1 cm (0.44 in)", "if so many come: 93 %", "not in these futures", "As a female (60 %):",
        "2000 drawn futures", "1 reading of its own and 12 readings of its taxon", "8 animals",
        "1 °C (1.8 °F) warmer", "as expected", "an extrapolation", "Never heat a spider to hurry a moult.",
        "between 21.0 °C (69.8 °F) and 23.5 °C (74.3 °F)",
    ):  # fmt: skip
        assert words in page, words


@pytest.mark.parametrize(
    ("asked", "status", "told"),
    [
        ("span=3+in", 200, "spans 7.6 cm (3.0 in)"),
        ("span=120mm", 200, "spans 12 cm (4.7 in)"),
        ("day=2027-06-01", 200, 'leg span on <time datetime="2027-06-01">'),
        ("span=80", 422, "a leg span with its unit"),
        ("span=80+parsec", 422, "a unit of length"),
        ("span=9+m", 422, "between half a millimetre and 40 cm"),
        ("span=<b>", 422, "&lt;b&gt;"),
        ("day=2020-01-01", 422, "a day to come"),
        ("day=someday", 422, "Day: "),
    ],
)
def test_a_span_and_a_day_can_be_asked_for(client: httpx.Client, asked: str, status: int, told: str) -> None:
    """What can be read is worked out; what cannot is told beside the usual figures."""
    answer = client.get(f"/ahead/K02?{asked}")
    assert status == answer.status_code
    assert told in answer.text
    assert "If it were warmer or cooler" in answer.text


def test_the_figure_shows_the_course_to_come(client: httpx.Client) -> None:
    """Drawn with the fan under its own address, and told in words and in the table."""
    page = client.get("/animal/K02").text
    address = html.unescape(re.findall(r'<img src="([^"]+)"', page)[0])
    assert "ahead=yes" in address
    assert client.get(address).text != client.get(address.replace("&ahead=yes", "")).text
    assert "four times in five" in re.findall(r'<img [^>]*alt="([^"]+)"', page)[0]
    assert 4 == page.count("<td>to come</td>")


def test_corrections_are_struck_through_in_the_history(client: httpx.Client) -> None:
    """A struck entry stays visible, crossed out, with the reason."""
    page = client.get("/animal/K02").text
    assert re.search(r'<li class="void">.*<s>noted</s> <span class="why">meant K01</span>', page)


def test_an_empty_room_takes_a_pasted_list_after_showing_it(evening: object, tmp_path: Path) -> None:
    """First steps: a list is shown with its faulty line; its good lines are written when told."""
    bad = "A2, Linothele fallax, Shelf A, about 4, 2026-11-02"
    listed = f"A1, Linothele fallax, Shelf A, 4 cm, 2026-11-01\n{bad}"
    with (
        make_room(tmp_path / "empty.sqlite", filled=False) as desk,
        served(desk) as address,
        client_of(address) as client,
    ):
        assert "An empty room" in client.get("/").text
        assert 422 == client.post("/paste", data={"list": "  "}).status_code
        looked = client.post("/paste", data={"list": listed}).text
        assert "Nothing is written yet" in looked
        assert "about 4" in looked
        assert 0 == len(desk.entries())
        done = client.post("/paste", data={"list": listed, "commit": "good"}).text
        assert ["A1"] == sorted(desk.record().animals)
        assert f"{bad}</textarea>" in done


def test_a_round_that_takes_long_says_so_and_looks_again(
    desk: FixedDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the first fit runs, the page says that it is being worked out; then the round is there."""
    fitted = threading.Event()
    told = desk.tonight

    def slow(on: date | None = None) -> TonightReport:
        fitted.wait(20)
        return told(on)

    monkeypatch.setattr(desk, "tonight", slow)
    monkeypatch.setattr(round_page, "PATIENCE_SECONDS", 0.2)
    with served(desk) as address, client_of(address) as client:
        waiting = client.get("/")
        assert (True, "2") == ("Working out the round" in waiting.text, waiting.headers["refresh"])
        fitted.set()
        monkeypatch.setattr(round_page, "PATIENCE_SECONDS", 20.0)
        assert 'id="a-K01"' in client.get("/").text


def test_in_a_large_room_a_tap_never_waits_for_the_round(
    desk: FixedDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where working the round out is slow, taps are laid over the advice, and it is worked out behind."""
    monkeypatch.setattr(rounds, "SLOW_ANSWER_SECONDS", -1.0)
    with served(desk) as address, client_of(address) as client:
        client.get("/")
        asked = threading.Event()
        told = desk.tonight

        def slow(on: date | None = None) -> TonightReport:
            asked.wait(20)
            return told(on)

        monkeypatch.setattr(desk, "tonight", slow)
        begun = time.monotonic()
        tap(client, "passed", "K02")
        page = client.get("/").text
        assert "passed over" in page
        value = re.findall(r'name="undo" value="(tap-[^"]+)"', page)[0]
        part = client.post("/undo", data={"undo": value}, headers={"X-Nightround": "part"}).text
        assert "passed over" not in part
        client.post("/write/K03", data={"key": "abc", "kind": "noted", "note": "while it is worked out"})
        assert "while it is worked out" in client.get("/").text
        assert time.monotonic() - begun < 8
        working = [thread for thread in threading.enumerate() if thread.name == "round"]
        asked.set()
        assert [] != working
        for thread in working:
            thread.join(20)
        # What was tapped while the round was worked out is on the new one too.
        page = client.get("/").text
        assert ("passed over" in page, "while it is worked out" in page) == (False, True)
