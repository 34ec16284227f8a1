"""Moments, intervals and the room's own days."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightround.foundation import clock
from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import UNKNOWN, When, at, between, on_day, parse

LISBON = RoomClock("Europe/Lisbon")
DENVER = RoomClock("America/Denver")


def test_a_round_after_midnight_belongs_to_the_evening_before():
    """The room's day turns at 04:00: 03:59 is yesterday, 04:00 is today."""
    before = datetime(2026, 3, 2, 3, 59, tzinfo=LISBON.zone)
    assert date(2026, 3, 1) == LISBON.day_of(before)
    assert date(2026, 3, 2) == LISBON.day_of(before + timedelta(minutes=1))


@pytest.mark.parametrize(
    ("room", "day", "hours"),
    [
        (LISBON, date(2026, 3, 28), 23),  # EU: clocks go on at 01:00 UTC on the last Sunday of March
        (LISBON, date(2026, 10, 24), 25),  # and back at 01:00 UTC on the last Sunday of October
        (DENVER, date(2026, 3, 7), 23),  # US: second Sunday of March, 02:00 local
        (DENVER, date(2026, 10, 31), 25),  # first Sunday of November, 02:00 local
        (LISBON, date(2026, 6, 1), 24),
    ],
)
def test_nights_of_the_clock_change(room, day, hours):
    """The room day that holds the change has 23 or 25 hours (rules: Directive 2000/84/EC; 15 U.S.C. 260a)."""
    length = room.close_of(day) - room.close_of(day - timedelta(days=1))
    assert timedelta(hours=hours) == length


def test_an_instant_without_offset_is_local():
    """2026-07-01T21:30 typed in Denver is 03:30 UTC of the next day, on the room's 1 July."""
    when = parse("2026-07-01T21:30", DENVER)
    assert date(2026, 7, 1) == when.last
    assert datetime(2026, 7, 2, 3, 30, tzinfo=UTC) == when.instant


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-03-01", "2026-03-01", "2026-03-01"),
        ("2026-03-01/2026-03-04", "2026-03-01", "2026-03-04"),
        ("2026-02", "2026-02-01", "2026-02-28"),
        ("2024-02", "2024-02-01", "2024-02-29"),
        ("2019", "2019-01-01", "2019-12-31"),
        ("2026-02/2026-03", "2026-02-01", "2026-03-31"),
    ],
)
def test_what_is_known_is_an_interval(text, first, last):
    """A date known to the month is the whole month; both ends belong to it (ISO 8601-1:2019, 5.5)."""
    assert between(date.fromisoformat(first), date.fromisoformat(last)) == parse(text, LISBON)


@pytest.mark.parametrize(
    "text", ["01/02/2026x", "yesterday", "2026-13-01", "2026-02-30", "3 May", "2026-05-09/x"]
)
def test_other_spellings_are_refused(text):
    """Dates that are not ISO 8601 are refused with what to write."""
    with pytest.raises(NotReadable, match="2026-03-01"):
        parse(text, LISBON)


def test_an_interval_backwards_is_refused():
    """An interval whose end comes before its start is refused, not turned round."""
    with pytest.raises(NotReadable, match="wrong order"):
        parse("2026-03-04/2026-03-01", LISBON)


def test_empty_is_unknown():
    """An empty date is unknown; it is not today and not zero."""
    assert parse("  ", LISBON) is UNKNOWN
    assert not UNKNOWN.known


@given(st.dates(date(1950, 1, 1), date(2090, 1, 1)), st.integers(0, 400))
def test_text_there_and_back(first, days):
    """Reading back the text of a moment gives the same moment."""
    when = between(first, first + timedelta(days=days))
    assert when == parse(when.text(), LISBON)


@given(st.integers(10**8, 4 * 10**9).map(lambda second: datetime.fromtimestamp(second, UTC)))
def test_an_instant_lies_inside_its_room_day(instant):
    """Every instant lies after the close of the day before and not after the close of its own day."""
    for room in (LISBON, DENVER):
        day = room.day_of(instant)
        assert room.close_of(day - timedelta(days=1)) <= instant < room.close_of(day)
        assert at(instant, room) == parse(at(instant, room).text(), room)


def test_half_an_interval_is_refused():
    """One known end is not an interval."""
    with pytest.raises(NotReadable):
        When(date(2026, 1, 1), None)
    assert When(date(2026, 1, 1), date(2026, 1, 1)) == on_day(date(2026, 1, 1))


def test_an_unknown_zone_is_refused():
    """A zone name that does not exist says what one looks like."""
    with pytest.raises(NotReadable, match="Europe/Lisbon"):
        RoomClock("Mars/Olympus")


def test_the_clock_can_be_held():
    """Inside `fixed`, today is the given evening's room day."""
    with clock.fixed(datetime(2026, 11, 25, 2, 0, tzinfo=UTC)):
        assert date(2026, 11, 24) == LISBON.today()
        assert date(2026, 11, 25) == RoomClock("UTC", time(0, 0)).today()


@pytest.mark.parametrize("text", ["03/04/2026", "3.4.2026", "3-4-26"])
def test_a_date_that_reads_both_ways_is_refused_whole(text):
    """03/04/2026 is March in Denver and April in Lisbon: it is named whole and never guessed at."""
    with pytest.raises(NotReadable, match="either way") as refused:
        parse(text, LISBON)
    assert repr(text) in str(refused.value)


@pytest.mark.parametrize("text", ["20260301", "2026-03-01", "2026W097"])
def test_a_day_without_dashes_is_that_day(text):
    """ISO 8601's basic form is the same day; read as midnight it would be the evening before."""
    assert on_day(date(2026, 3, 1)) == parse(text, LISBON)


@pytest.mark.parametrize("text", ["0226-03-01", "0001", "0001-01-01/2026-03-01", "9999-12-31", "3026-01"])
def test_a_year_that_no_record_can_be_about_is_refused(text):
    """0226 for 2026 is a slip; a day at the calendar's end could not even be counted from."""
    with pytest.raises(NotReadable, match="year-month-day"):
        parse(text, LISBON)


@pytest.mark.parametrize(
    ("turns_at", "first"),
    [
        (time(1, 30), datetime(2026, 10, 31, tzinfo=UTC)),  # 01:30 comes twice on 1 November
        (time(2, 30), datetime(2026, 3, 7, tzinfo=UTC)),  # 02:30 never comes on 8 March
    ],
)
def test_days_follow_each_other_even_when_they_turn_in_the_changed_hour(turns_at, first):
    """Denver's clock changes at 02:00 (US Energy Policy Act of 2005): each instant has one day, in order."""
    room = RoomClock("America/Denver", turns_at)
    instants = [first + timedelta(minutes=10 * step) for step in range(3 * 144)]
    days = [room.day_of(instant) for instant in instants]
    assert sorted(days) == days
    for instant, day in zip(instants, days, strict=True):
        assert room.close_of(day - timedelta(days=1)) <= instant < room.close_of(day)
