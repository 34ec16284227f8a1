"""Properties of the fold: order of writing, the future deleted, correction, and that nothing breaks it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

import strategies
from nightround.foundation.clock import RoomClock
from nightround.foundation.when import between, on_day
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import KIND_OF_BODY, Body
from nightround.journal.kinds.animal import (
    Arrived,
    Died,
    Injured,
    Left,
    Matured,
    Measured,
    Moulted,
    Moved,
    Offered,
    OfferSeen,
    PassedOver,
    Seen,
    Sexed,
)
from nightround.journal.kinds.knowledge import Renamed, StockTake, Struck
from nightround.journal.kinds.surroundings import MadeUp, Reading, Watered
from nightround.record.fold import fold
from nightround.record.make_histories import daily_climate, moult_histories, size_histories
from nightround.record.model import Record

CLOCK = RoomClock("Europe/Lisbon")
FIRST = date(2024, 1, 1)
WRITTEN = datetime(2030, 1, 1, tzinfo=UTC)
ANIMALS, HOMES, PLACES = ["K1", "K2"], ["H1", "H2"], ["shelf A", "shelf B"]

animal_bodies: st.SearchStrategy[Body] = st.one_of(
    st.builds(Arrived, taxon=st.sampled_from(["", "A"]), home=st.sampled_from(["", *HOMES])),
    st.builds(Offered, prey=st.just("cricket"), outcome=st.sampled_from([None, "taken", "refused"])),
    st.builds(OfferSeen, outcome=st.sampled_from(["taken", "uneaten", "not_seen"])),
    st.builds(Moulted),
    st.builds(Measured, item=st.just("leg_span"), value=st.floats(1, 100), unit=st.just("mm")),
    st.builds(Sexed, sex=st.sampled_from(["female", "male"])),
    st.builds(Moved, home=st.sampled_from(HOMES), place=st.sampled_from(["", *PLACES])),
    st.builds(Injured, legs_lost=st.integers(0, 2)),
    st.builds(Renamed, name=st.sampled_from(["K1", "K3", "K4"])),
    st.builds(StockTake, alive=st.booleans()),
    st.sampled_from([Seen(), PassedOver(), Watered(), Matured(sex="male"), Died(), Left(how="sold")]),
)
home_bodies: st.SearchStrategy[Body] = st.one_of(
    st.builds(MadeUp, place=st.sampled_from(PLACES)),
    st.builds(Moved, place=st.sampled_from(PLACES)),
    st.just(Watered(value=5.0, unit="ml")),
)


@st.composite
def facts(draw: st.DrawFn) -> tuple[Ref, Body]:
    """Something that happened to an animal, a home or a place."""
    sort = draw(st.sampled_from(["animal", "animal", "animal", "home", "place"]))
    if sort == "animal":
        return Ref("animal", draw(st.sampled_from(ANIMALS))), draw(animal_bodies)
    if sort == "home":
        return Ref("home", draw(st.sampled_from(HOMES))), draw(home_bodies)
    return Ref("place", draw(st.sampled_from(PLACES))), Reading(temperature_c=draw(st.floats(10, 30)))


def entry(number: int, fact: tuple[Ref, Body], day: int, corrects: int | None = None) -> Entry:
    """One entry on the n-th day."""
    about, body = fact
    when = on_day(FIRST + timedelta(days=day))
    kind = KIND_OF_BODY[type(body)].name
    return Entry(number, kind, about, when, body, WRITTEN, "", f"k{number}", corrects, "")


def plain(record: Record) -> Any:
    """Everything a record says apart from the numbers of its entries, as nested values."""
    order = {number: place for place, number in enumerate(_by_day(record))}
    return _plain((record.animals, record.homes, record.places, record.taxa), order), [
        (p.kind, p.subject, p.severity) for p in record.problems
    ]


def _by_day(record: Record) -> list[int]:
    return sorted(record.entries, key=lambda number: str(record.entries[number].when))


def _plain(value: Any, order: dict[int, int]) -> Any:
    if hasattr(value, "items"):
        return {key: _plain(each, order) for key, each in value.items()}
    if isinstance(value, tuple):
        return tuple(_plain(each, order) for each in value)
    fields = getattr(value, "__dataclass_fields__", None) or getattr(value, "__struct_fields__", None)
    if fields is None:
        return value
    result = {name: _plain(getattr(value, name), order) for name in fields}
    if "entries" in result:
        result["entries"] = tuple(sorted(order[number] for number in result["entries"]))
    for name in ("number", "seen_by"):
        if isinstance(result.get(name), int) and name in result and "when" in result:
            result[name] = order[result[name]]
    return result


journal = st.lists(facts(), min_size=1, max_size=14)
fewer = settings(max_examples=50)


@fewer
@given(journal, st.randoms(use_true_random=False), st.integers(0, 14))
def test_the_order_of_writing_does_not_matter_between_days(
    story: list[tuple[Ref, Body]], random: Any, on: int
) -> None:
    """Each fact on a day of its own: written in any order, the record says the same."""
    days = list(range(len(story)))
    random.shuffle(days)
    told = [entry(n, fact, day) for n, (day, fact) in enumerate(enumerate(story), start=1)]
    shuffled = [entry(n, story[day], day) for n, day in enumerate(days, start=1)]
    last = FIRST + timedelta(days=on)
    assert plain(fold(told, last, CLOCK)) == plain(fold(shuffled, last, CLOCK))


@fewer
@given(journal, st.integers(0, 14))
def test_what_happened_later_changes_nothing(story: list[tuple[Ref, Body]], on: int) -> None:
    """The record as of a day is the record of a journal that ends on that day; histories are too."""
    told = [entry(n, fact, n - 1) for n, fact in enumerate(story, start=1)]
    last = FIRST + timedelta(days=on)
    whole = fold(told, last, CLOCK)
    cut = fold([each for each in told if each.when.last is not None and each.when.last <= last], last, CLOCK)
    assert cut == whole
    assert moult_histories(cut) == moult_histories(whole)
    assert size_histories(cut) == size_histories(whole)
    assert daily_climate(cut) == daily_climate(whole)


@fewer
@given(journal, facts(), st.data())
def test_correcting_is_never_having_written_it(
    story: list[tuple[Ref, Body]], wrong: tuple[Ref, Body], data: st.DataObject
) -> None:
    """A wrong entry that is replaced leaves no trace but its number."""
    place = data.draw(st.integers(0, len(story) - 1))
    day = data.draw(st.sampled_from([place, place + 3]))
    right = [entry(n, fact, n - 1) for n, fact in enumerate(story, start=1)]
    mistaken = [*right]
    mistaken[place] = entry(place + 1, wrong, day)
    mistaken.append(entry(len(story) + 1, story[place], place, corrects=place + 1))
    on = FIRST + timedelta(days=20)
    assert plain(fold(right, on, CLOCK)) == plain(fold(mistaken, on, CLOCK))


@fewer
@given(journal, st.integers(0, 13))
def test_undo_is_never_having_written_it(story: list[tuple[Ref, Body]], place: int) -> None:
    """A struck entry leaves no trace; a strike that is struck neither."""
    told = [entry(n, fact, n - 1) for n, fact in enumerate(story, start=1)]
    place = min(place, len(told) - 1)
    struck = told[place].number
    undo = entry(len(told) + 1, (told[place].about, Struck()), 0, corrects=struck)
    redo = entry(len(told) + 2, (told[place].about, Struck()), 0, corrects=undo.number)
    on = FIRST + timedelta(days=20)
    without = [each for each in told if each.number != struck]
    assert fold(without, on, CLOCK) == fold([*told, undo], on, CLOCK)
    assert fold(told, on, CLOCK) == fold([*told, undo, redo], on, CLOCK)


@fewer
@given(strategies.journals(max_size=25), st.dates(strategies.FIRST_DAY, strategies.LAST_DAY))
def test_no_journal_breaks_the_fold(written: tuple[RoomClock, list[Entry]], on: date) -> None:
    """Whatever keepers write, the record stands and every problem names entries that exist."""
    clock, entries = written
    record = fold(entries, on, clock)
    numbers = {each.number for each in entries}
    assert all(number in numbers for problem in record.problems for number in problem.entries)
    for history in moult_histories(record).values():
        assert all(
            one.last <= other.last for one, other in zip(history.moults, history.moults[1:], strict=False)
        )
        assert all(first <= last for _, first, last in history.stays)
        assert all(one[2] < other[1] for one, other in zip(history.stays, history.stays[1:], strict=False))
    size_histories(record), daily_climate(record)


@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 20)), max_size=12))
def test_windows_ascend_and_the_running_interval_never_ends_before_the_last(
    windows: list[tuple[int, int]],
) -> None:
    """However moults overlap, their windows are in order and the last look is not before the last of them."""
    told = [
        replace(
            entry(n, (Ref("animal", "K1"), Moulted()), 0),
            when=between(FIRST + timedelta(days=first), FIRST + timedelta(days=first + wide)),
        )
        for n, (first, wide) in enumerate(windows, start=1)
    ]
    record = fold(told, FIRST + timedelta(days=300), CLOCK)
    history = moult_histories(record).get("K1")
    if history is None:
        assert not windows
        return
    assert list(history.moults) == sorted(history.moults, key=lambda w: (w.last, w.first, w.number))
    assert history.last_look is not None and history.last_look >= history.moults[-1].last
