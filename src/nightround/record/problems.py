"""Contradictions between entries, and between entries and the calendar: a table of checks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import islice

from nightround.foundation.clock import RoomClock
from nightround.foundation.problem import Problem, Severity
from nightround.journal.entries import Entry
from nightround.record.builders import AnimalBuilder, RoomBuilder
from nightround.record.make_histories import last_checked
from nightround.record.model import Animal, Moult, Record
from nightround.record.moults import dated_windows, may_be_same, same
from nightround.record.size_problems import mass_misfits, size_problems

EARLIEST = date(1900, 1, 1)
LONE_GAP_DAYS = 180
LONE_AT_MOST = 10
LONE_SHARE = 0.01

_ALWAYS = frozenset(
    {"noted", "renamed", "filmed", "rule_set", "stock_take", "offer_seen", "leftovers_removed"}
)
AFTER_END: dict[str, frozenset[str]] = {
    "dead": _ALWAYS | {"died", "sexed", "cleaned", "arrived", "hatched"},
    "left": _ALWAYS | {"arrived", "left"},
    "escaped": _ALWAYS | {"arrived", "found_again", "not_found", "died", "left", "escaped"},
}
"""Status → kinds that may follow it. Everything else after the end contradicts it."""

_BEFORE_ARRIVAL = frozenset(
    {"moulted", "measured", "sexed", "matured", "noted", "renamed", "filmed", "rule_set", "injured",
     "treated", "paired", "sac", "hatched", "arrived"}
)  # fmt: skip
"""Kinds that a keeper may know from whoever had the animal before."""

AnimalCheck = Callable[[Record, Animal, AnimalBuilder], Iterator[Problem]]


def record_problems(record: Record, room: RoomBuilder) -> list[Problem]:
    """Return what contradicts what among the animals of the record."""
    found: list[Problem] = []
    for identity, builder in room.animals.items():
        animal = record.animals[room.code("animal", identity)]
        for check in ANIMAL_CHECKS:
            found.extend(check(record, animal, builder))
    found.extend(mass_misfits(record))
    return found


def _problem(
    kind: str, animal: Animal, message: str, todo: str, *numbers: int, doubt: bool = False
) -> Problem:
    severity: Severity = "doubt" if doubt else "contradiction"
    return Problem(kind, f"animal {animal.code}", message, todo, tuple(sorted(set(numbers))), severity)


def never_announced(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Some entry must say where it came from."""
    if not builder.arrivals and not builder.promotions:
        yield _problem(
            "never_announced", animal,
            f"There are entries about {animal.code}, but none says where it came from.",
            "Record its arrival (the date may stay empty), or correct the code.", *animal.entries[:3],
            doubt=True,
        )  # fmt: skip


def arrived_twice(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Coming back after it left is no contradiction."""
    comings = sorted([*builder.arrivals, *builder.promotions], key=lambda entry: entry.number)
    if len(comings) < 2:
        return
    departures = sum(record.entries[number].kind in ("left", "escaped") for number in animal.entries)
    if len(comings) > departures + 1:
        days = ", ".join(str(entry.when) for entry in comings)
        yield _problem(
            "arrived_twice", animal, f"{animal.code} came into the room more than once ({days}).",
            "Strike one of them, or give the second animal a code of its own.",
            *(entry.number for entry in comings),
        )  # fmt: skip


def after_end(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """One problem for the moults after the end and one for everything else."""
    ends = {"dead": "died", "left": "left", "escaped": "escaped"}
    groups: dict[tuple[str, bool], list[Entry]] = {}
    for status, _, entry in builder.after_end:
        groups.setdefault((status, entry.kind == "moulted"), []).append(entry)
    for (status, moults), entries in groups.items():
        ended = next(when for word, when, _ in builder.after_end if word == status)
        by = next(n for n in animal.entries if record.entries[n].kind == ends[status])
        what = "a moult" if moults else _kinds(entries)
        kind = f"moult_after_{_NOUN[status]}" if moults else f"after_{_NOUN[status]}"
        yield _problem(
            kind, animal, f"{animal.code} {ends[status]} on {ended}, but {what} is recorded later "
            f"({_days(entries)}).", "Correct the date that is wrong, or strike what did not happen.",
            by, *(entry.number for entry in entries), doubt=status == "escaped",
        )  # fmt: skip


_NOUN = {"dead": "death", "left": "leaving", "escaped": "escape"}


def _kinds(entries: Sequence[Entry]) -> str:
    return " and ".join(sorted({f"'{entry.kind}'" for entry in entries}))


def _days(entries: Sequence[Entry]) -> str:
    shown = [str(entry.when) for entry in entries[:3]]
    return ", ".join(shown) + (f" and {len(entries) - 3} more" if len(entries) > 3 else "")


def before_beginning(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Nothing happens to an animal before it hatched, nor to the keeper's animal before it arrived."""
    hatched, here = animal.hatched.first, animal.arrived.first if len(builder.arrivals) == 1 else None
    comings = [entry.number for entry in (*builder.arrivals, *builder.promotions)]
    if hatched is not None:
        early = [entry for entry in _until(record, builder, hatched) if entry.kind != "noted"]
        began = f"hatched on {animal.hatched}"
        for kind, entries in _split(early, {"moulted"}, "moult_before_hatching", "before_hatching"):
            yield _early(animal, kind, began, entries, comings)
    if here is not None:
        early = [entry for entry in _until(record, builder, here) if entry.kind not in _BEFORE_ARRIVAL]
        began = f"arrived on {animal.arrived}"
        for kind, entries in _split(early, {"died", "left"}, "ended_before_arrival", "before_arrival"):
            yield _early(animal, kind, began, entries, comings, doubt=kind == "before_arrival")


def _until(record: Record, builder: AnimalBuilder, day: date) -> Iterator[Entry]:
    """Yield the animal's entries that ended before `day`; the builder holds them in order of time."""
    for number in builder.numbers:
        entry = record.entries[number]
        last = entry.when.last
        if last is not None and last >= day:
            return
        if last is not None:
            yield entry


def _split(
    entries: Sequence[Entry], kinds: set[str], these: str, others: str
) -> Iterator[tuple[str, list[Entry]]]:
    chosen = [entry for entry in entries if entry.kind in kinds]
    rest = [entry for entry in entries if entry.kind not in kinds]
    if chosen:
        yield these, chosen
    if rest:
        yield others, rest


def _early(
    animal: Animal,
    kind: str,
    began: str,
    entries: Sequence[Entry],
    comings: list[int],
    *,
    doubt: bool = False,
) -> Problem:
    return _problem(
        kind, animal, f"{animal.code} {began}, but {_kinds(entries)} is recorded before ({_days(entries)}).",
        "Correct the date that is wrong.", *comings, *(entry.number for entry in entries), doubt=doubt,
    )  # fmt: skip


def moults_too_close(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Neighbouring moults that are, or may be, one moult written twice."""
    windows = dated_windows(animal, last_checked(record, animal)) if len(animal.moults) > 1 else []
    for one, other in zip(windows, windows[1:], strict=False):
        if not may_be_same(one, other):
            continue
        certain = same(one, other)
        words = "are counted as one moult" if certain else "may be one moult written twice"
        yield _problem(
            "moulted_twice" if certain else "moults_overlap", animal,
            f"Two moults of {animal.code} lie so close together ({_span(record, one.number)} and "
            f"{_span(record, other.number)}) that they {words}.",
            "Strike one of them if it is the same moult, or correct its date.", one.number, other.number,
            doubt=not certain,
        )  # fmt: skip


def _span(record: Record, number: int) -> str:
    return str(record.entries[number].when)


def mature_male_moulted(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Males hardly ever moult after their ultimate moult."""
    if not animal.mature_male or animal.matured is None or animal.matured.last is None:
        return
    late = [m for m in animal.moults if _after(m, animal.matured.last)]
    if late:
        yield _problem(
            "mature_male_moulted", animal,
            f"{animal.code} is a male seen to be mature on {animal.matured}, but moulted on {late[0].when}; "
            "males hardly ever moult again.", "Check its sex, and which moult was the last.",
            builder.matured_by, *(moult.number for moult in late), doubt=True,
        )  # fmt: skip


def _after(moult: Moult, day: date) -> bool:
    return moult.when.first is not None and moult.when.first > day


def sexes_differ(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Female and male by different entries; two mature sexes cannot both be true."""
    said = {sex for _, sex, _ in builder.sex_by}
    if len(said) > 1:
        words = ", ".join(f"{sex}{f' ({how})' if how else ''}" for _, sex, how in builder.sex_by)
        certain = {sex for _, sex, how in builder.sex_by if how == "mature"}
        yield _problem(
            "sexes_differ", animal, f"{animal.code} was recorded as {words}; the last word holds.",
            "Strike the sexing that was wrong.", *(number for number, _, _ in builder.sex_by),
            doubt=len(certain) < 2,
        )  # fmt: skip


def sizes(record: Record, animal: Animal, builder: AnimalBuilder) -> Iterator[Problem]:
    """Measurements that contradict each other."""
    return size_problems(record, animal)


ANIMAL_CHECKS: tuple[AnimalCheck, ...] = (
    never_announced,
    arrived_twice,
    after_end,
    before_beginning,
    moults_too_close,
    mature_male_moulted,
    sexes_differ,
    sizes,
)


def calendar_problems(record: Record, standing: Iterable[Entry], known: Sequence[Entry]) -> list[Problem]:
    """Return entries whose date cannot be: after they were written, centuries ago, or alone in time.

    standing   all standing entries: one dated after the day it was written on was wrong from the start; it is
               named as soon as it is written, although nothing else is read from it
    known      those known on the record's day, in order of time
    """
    return [*_in_the_future(record, standing), *_long_ago(known), *_alone(known)]


class _DayBegins(dict[date, datetime]):
    """Room day → the UTC instant at which it begins, worked out once per day."""

    def __init__(self, clock: RoomClock) -> None:
        self.clock = clock

    def __missing__(self, day: date) -> datetime:
        begins = self[day] = self.clock.close_of(max(day, EARLIEST) - timedelta(days=1))
        return begins


def _in_the_future(record: Record, standing: Iterable[Entry]) -> list[Problem]:
    begins, known_by = _DayBegins(record.clock), record.clock.close_of(record.on)
    ahead = [
        entry for entry in standing if (last := entry.when.last) is not None and entry.recorded < begins[last]
    ]
    return [
        _ahead(record.clock, entry, begins)
        for entry in ahead
        if entry.kind != "expected" and entry.recorded < known_by
    ]


def _ahead(clock: RoomClock, entry: Entry, begins: _DayBegins) -> Problem:
    """An interval that only ends in the future can be true, but does not count until it has ended."""
    first = entry.when.first
    doubt = first is not None and entry.recorded >= begins[first]
    return Problem(
        "date_in_the_future", str(entry.about),
        f"Entry {entry.number} ('{entry.kind}') is dated {entry.when}, "
        f"but was written on {clock.day_of(entry.recorded)}.",
        "Write the interval up to the day you looked; until it has ended it does not count."
        if doubt else "Correct the date.",
        (entry.number,), "doubt" if doubt else "contradiction",
    )  # fmt: skip


def _long_ago(known: Sequence[Entry]) -> Iterator[Problem]:
    for entry in known:
        last = entry.when.last
        if last is None:
            continue
        if last >= EARLIEST:  # they are in order of time
            return
        yield Problem(
            "date_long_ago", str(entry.about),
            f"Entry {entry.number} ('{entry.kind}') is dated {entry.when}, before any record could be.",
            "Correct the year.", (entry.number,),
        )  # fmt: skip


def _alone(known: Sequence[Entry]) -> Iterator[Problem]:
    """A few last entries long after anything else in the room: usually a wrong year."""
    allowed = min(LONE_AT_MOST, int(len(known) * LONE_SHARE))
    dated = (entry for entry in reversed(known) if entry.when.last is not None and entry.kind != "expected")
    tail = list(islice(dated, allowed + 1))[::-1]
    for place, (one, other) in enumerate(zip(tail, tail[1:], strict=False), start=1):
        before, after = one.when.last, other.when.last
        if before is None or after is None or (after - before).days <= LONE_GAP_DAYS:
            continue
        for entry in tail[place:]:
            yield Problem(
                "date_alone", str(entry.about),
                f"Entry {entry.number} ('{entry.kind}') is dated {entry.when}, {(after - before).days} days "
                f"after anything else in the room (until {before}): perhaps a wrong year.",
                "Correct the year, or leave it if the room rested so long.", (entry.number,), "doubt",
            )  # fmt: skip
        return
