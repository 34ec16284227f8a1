"""What a keeper writes on the page beyond the taps: plain lines, moves, escapes, and figures of their own."""

import html
import re
from datetime import date

import httpx
import pytest

from nightround.desk.taps import FormRefusal, draft_of_form
from nightround.foundation.clock import RoomClock
from nightround.journal.kinds.animal import Escaped, Moved, Noted
from nightround.journal.kinds.knowledge import RuleSet
from web.fixed_room import FixedDesk
from web.test_pages import key_of

CLOCK = RoomClock("Europe/Lisbon")


def hidden(page: str, name: str) -> str:
    """The value of a hidden field."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None
    return html.unescape(found[1])


def look(client: httpx.Client, line: str) -> httpx.Response:
    """Have a line looked at."""
    return client.post("/line", data={"key": key_of(client.get("/line").text), "line": line})


def test_a_line_is_looked_at_before_it_is_written(client: httpx.Client, desk: FixedDesk) -> None:
    """The first tap writes nothing, the second what was shown, and a third the same nothing."""
    before = desk.journal.last_number()
    page = look(client, "K02 rule feed_adult_days 21 because it is old; K02 escaped through the vent").text
    assert before == desk.journal.last_number()
    assert "21 days instead of 14 days" in page
    send = {"key": key_of(page), "line": "K02 rule feed_adult_days 21 because it is old; "
            "K02 escaped through the vent", "seen": hidden(page, "seen")}  # fmt: skip
    for _ in range(2):
        assert 303 == client.post("/line", data=send).status_code
    written = [entry.body for entry in desk.journal.entries(before)]
    assert [
        RuleSet(rule="feed_adult_days", value="21", why="it is old"),
        Escaped(opening="the vent"),
    ] == written


def test_a_line_with_a_word_that_is_not_understood_writes_nothing(
    client: httpx.Client, desk: FixedDesk
) -> None:
    """The page says which part, and keeps the words to be mended."""
    before = desk.journal.last_number()
    answer = look(client, "K02 seen; K02 flew away")
    assert 422 == answer.status_code
    assert "Not understood, nothing is written" in answer.text
    assert "K02 seen; K02 flew away</textarea>" in answer.text
    assert before == desk.journal.last_number()


def test_what_was_not_shown_is_not_written(client: httpx.Client, desk: FixedDesk) -> None:
    """A line whose meaning has changed since it was looked at is shown anew."""
    before = desk.journal.last_number()
    page = look(client, "K02 seen").text
    answer = client.post(
        "/line", data={"key": key_of(page), "line": "K02 died", "seen": hidden(page, "seen")}
    )
    assert 422 == answer.status_code
    assert "The room has changed since you looked" in answer.text
    assert before == desk.journal.last_number()


def test_no_line_for_a_day_to_come(client: httpx.Client) -> None:
    """A day to come can be looked at, and nothing is written for it."""
    assert 400 == client.get("/line?on=2031-01-01").status_code


def test_a_line_is_dated_to_the_evening_that_is_looked_at(client: httpx.Client, desk: FixedDesk) -> None:
    """`?on=` holds for plain lines as for taps."""
    page = client.post(
        "/line?on=2026-11-10", data={"key": key_of(client.get("/line").text), "line": "K02 seen"}
    ).text
    send = {"key": key_of(page), "line": "K02 seen", "seen": hidden(page, "seen")}
    client.post("/line?on=2026-11-10", data=send)
    assert date(2026, 11, 10) == desk.entries()[-1].when.last


def write(client: httpx.Client, code: str, **fields: str) -> httpx.Response:
    """Send one of the forms behind More…"""
    return client.post(f"/write/{code}", data={"key": key_of(client.get(f"/write/{code}").text), **fields})


def test_a_figure_of_ones_own_is_checked_before_it_is_written(client: httpx.Client, desk: FixedDesk) -> None:
    """A figure outside the rule's bounds is refused with them; one inside is written for this animal."""
    before = desk.journal.last_number()
    answer = write(client, "K02", kind="rule_set", rule="feed_adult_days", value="9000")
    assert 422 == answer.status_code
    assert "between 1 and 365 days" in answer.text
    assert before == desk.journal.last_number()
    write(client, "K02", kind="rule_set", rule="feed_adult_days", value="3 weeks", why="slow")
    assert RuleSet(rule="feed_adult_days", value="3 weeks", why="slow") == desk.entries()[-1].body
    assert "Your figure" in client.get("/write/K02?open=rule_set").text


def test_moves_and_escapes_are_written_on_the_phone(client: httpx.Client, desk: FixedDesk) -> None:
    """An escape says which opening failed; a move says where to."""
    write(client, "K02", kind="moved", home="H9", place="shelf B", until="2026-11-20")
    assert Moved(home="H9", place="shelf B") == desk.entries()[-1].body
    write(client, "K02", kind="escaped", opening="lid", until="2026-11-20")
    assert Escaped(opening="lid") == desk.entries()[-1].body


@pytest.mark.parametrize(("kind", "field"), [("moved", "home"), ("injured", "injury"), ("measured", "value")])
def test_a_form_that_says_nothing_is_refused(kind: str, field: str) -> None:
    """A move to nowhere and an injury of nothing are no evidence."""
    with pytest.raises(FormRefusal) as refused:
        draft_of_form(kind, "K02", {"item": "leg_span"}, CLOCK)
    assert [field] == list(refused.value.fields)


def test_a_note_may_be_yes() -> None:
    """Words stay words: only a question of yes or no is answered by them."""
    assert Noted(note="yes") == draft_of_form("noted", "K02", {"note": "yes"}, CLOCK).body


def test_the_animals_page_tells_the_rules_behind_its_advice(client: httpx.Client) -> None:
    """Each figure of the trade comes with its source and grade, and the way to overrule it."""
    page = client.get("/animal/K02").text
    assert "The rules behind it" in page
    assert re.search(r"grade (A|B|C|D|CP|MEM|choice)\)", page)
    assert "/write/K02?open=rule_set" in page


def test_a_list_says_which_comes_first_day_or_month(client: httpx.Client, desk: FixedDesk) -> None:
    """3/4/2026 is refused until the order is told; the choice holds when the list is written."""
    data = {"list": "N1\tIdiops sp.\tShelf A\t4,5 cm\t3/4/2026"}
    page = client.post("/paste", data=data).text
    assert "order of day and month is clear" in page
    page = client.post("/paste", data={**data, "dates": "day_first"}).text
    assert '<input type="hidden" name="dates" value="day_first">' in page
    client.post("/paste", data={**data, "dates": "day_first", "commit": "all"})
    moults = [
        entry.when.last for entry in desk.entries() if entry.about.code == "N1" and entry.kind == "moulted"
    ]
    assert [date(2026, 4, 3)] == moults
