"""Strategies for Hypothesis: moments, bodies of every kind, and whole journals."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import UNKNOWN, When, at, between, on_day
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import KINDS, Amount, Body, Kind
from nightround.journal.kinds.animal import OfferSeen
from nightround.journal.tables.amounts import AMOUNT_FIELDS, amount_of
from nightround.journal.tables.cells import SIGNED, Field, fields_of

FIRST_DAY, LAST_DAY = date(1960, 1, 1), date(2080, 12, 31)

CLOCKS = [
    RoomClock("UTC"),
    RoomClock("Europe/Lisbon"),
    RoomClock("America/Denver"),
    RoomClock("Asia/Kolkata"),
]

_UNITS = {
    "length": ["mm", "cm", "in", '"', "Inches"],
    "mass": ["mg", "g", "oz"],
    "volume": ["ml", "fl oz", "l"],
}

words = st.text(
    st.one_of(
        st.sampled_from(list(" ;=\\,\"'\n\r\t|/ äΩ蜘🕷\u2028\ufeff")), st.characters(exclude_categories=["Cs"])
    ),
    max_size=12,
)
"""Free text with everything that has ever broken a table."""

clocks = st.sampled_from(CLOCKS)
codes = st.one_of(
    st.sampled_from(["K1", "K2", "K07", "H3", "shelf B", "Aphonopelma sp. 'north; rim'"]),
    words.map(str.strip).filter(bool),
)
"""Codes and names: never empty, no outer spaces."""

days = st.dates(FIRST_DAY, LAST_DAY)

offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))


def instants() -> st.SearchStrategy[datetime]:
    """Aware instants, at offsets of their own, to the microsecond."""
    return st.datetimes(datetime(1960, 1, 2), datetime(2080, 12, 30), timezones=offsets)  # noqa: DTZ001


def whens(clock: RoomClock) -> st.SearchStrategy[When]:
    """Unknown moments, days, intervals and instants of a room."""
    intervals = st.tuples(days, days).map(sorted).map(lambda pair: between(pair[0], pair[1]))
    moments = instants().map(lambda instant: at(instant, clock))
    return st.one_of(st.just(UNKNOWN), days.map(on_day), intervals, moments)


def day_texts() -> st.SearchStrategy[str]:
    """Dates as bodies hold them: '', a day, a month, a year, an interval."""
    intervals = st.tuples(days, days).map(sorted).map(lambda pair: f"{pair[0]}/{pair[1]}")
    months, years = days.map(lambda day: f"{day:%Y-%m}"), days.map(lambda day: f"{day.year:04}")
    return st.one_of(st.just(""), days.map(date.isoformat), months, years, intervals)


def values_of(field: Field) -> st.SearchStrategy[Any]:
    """Every value that a body's field may hold."""
    low = -1e6 if field.name in SIGNED else 0
    by_sort: dict[str, st.SearchStrategy[Any]] = {
        "text": st.one_of(words, st.sampled_from(["exuvia", "Ventral", " mature"]))
        if field.name in ("note", "how")
        else words,
        "code": st.one_of(codes, words),
        "date": day_texts(),
        "choice": st.sampled_from(field.choices or ("",)),
        "whole": st.integers(int(low), 10**6),
        "number": st.floats(low, 1e9, allow_nan=False),
        "yes_no": st.booleans(),
        "list": st.lists(words.filter(bool), max_size=3).map(tuple),
    }
    values = by_sort[field.sort]
    if field.required or (field.default is not None and field.sort == "choice"):
        return values
    return st.one_of(st.just(field.default), values)


@st.composite
def amounts(draw: st.DrawFn, dimension: str) -> dict[str, Any]:
    """The four fields of a quantity: as read from a table, as a form may make it, or hardly known."""
    way = draw(st.sampled_from(["read", "bare", "loose", "none"]))
    if way == "none":
        return {}
    value = draw(st.floats(0, 1e6, allow_nan=False))
    if way == "bare":
        return {"value": value, "unit": {"length": "mm", "mass": "g", "volume": "ml"}[dimension]}
    if way == "loose":
        return {name: draw(words) for name in AMOUNT_FIELDS[1:]} | {"value": value}
    written = draw(st.sampled_from([repr(value), f"{value:.2f}"]))
    return amount_of(written, draw(st.sampled_from(_UNITS[dimension])), dimension)


@st.composite
def bodies(draw: st.DrawFn, kind: Kind, last: int = 0) -> Body:
    """A body of this kind; `last` is the highest entry number that it may name."""
    values = {
        name: draw(values_of(field))
        for name, field in fields_of(kind.body).items()
        if name != "offer" and not (issubclass(kind.body, Amount) and name in AMOUNT_FIELDS)
    }
    if issubclass(kind.body, Amount):
        dimension = kind.dimension or ("mass" if values.get("item") == "mass" else "length")
        values |= draw(amounts(dimension))
    if kind.body is OfferSeen and last and draw(st.booleans()):
        values["offer"] = draw(st.integers(1, last))
    return kind.body(**values)


@st.composite
def entries(draw: st.DrawFn, number: int, clock: RoomClock, kinds: tuple[str, ...] = ()) -> Entry:
    """The entry of this number: any kind, any subject it may have, perhaps a correction."""
    kind = KINDS[draw(st.sampled_from(kinds or tuple(KINDS)))]
    subject = draw(st.sampled_from(kind.subjects))
    return Entry(
        number=number,
        kind=kind.name,
        about=Ref(subject, "" if subject == "room" else draw(codes)),
        when=draw(whens(clock)),
        body=draw(bodies(kind, number - 1)),
        recorded=draw(instants()).astimezone(UTC),
        device=draw(st.sampled_from(["", "phone", "Tablet by the door"])),
        key=f"key {number}" if draw(st.booleans()) else f"row-{number:024x}-1",
        corrects=draw(st.integers(1, number - 1)) if number > 1 and draw(st.integers(0, 4)) == 0 else None,
        intention=draw(st.sampled_from(["a1", "b2", "c3/a1"])),
        version=kind.version,
    )


@st.composite
def journals(
    draw: st.DrawFn, max_size: int = 12, kinds: tuple[str, ...] = ()
) -> tuple[RoomClock, list[Entry]]:
    """A room's clock and its entries, numbered from 1."""
    clock = draw(clocks)
    size = draw(st.integers(1, max_size))
    return clock, [draw(entries(number, clock, kinds)) for number in range(1, size + 1)]
