"""How long a fold takes: run with `--benchmark-only`; the figures depend on the machine."""

from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import on_day
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds import KIND_OF_BODY, Body
from nightround.journal.kinds.animal import Arrived, Moulted, Offered, OfferSeen
from nightround.journal.kinds.surroundings import Reading
from nightround.record.fold import fold
from nightround.record.make_histories import moult_histories

FIRST, DAYS, ANIMALS, SHELVES = date(2022, 1, 1), 1000, 1000, 20


def _facts(random: Random) -> list[tuple[date, Ref, Body]]:
    """A room of 1,000 animals over 1,000 days: readings five times a day, an offer a week, half looked at."""
    days = [FIRST + timedelta(days=n) for n in range(DAYS)]
    facts: list[tuple[date, Ref, Body]] = []
    for shelf in (Ref("place", f"shelf {n}") for n in range(SHELVES)):
        facts += [(day, shelf, Reading(temperature_c=20 + random.random())) for day in days for _ in range(5)]
    for n in range(ANIMALS):
        animal = Ref("animal", f"K{n}")
        facts.append((FIRST, animal, Arrived(taxon=f"T{n % 14}", place=f"shelf {n % 20}", home=f"H{n}")))
        for day in days[random.randrange(7) :: 7]:
            if (day - FIRST).days % 70 < 7:
                facts.append((day, animal, Moulted()))
                continue
            facts.append((day, animal, Offered(prey="cricket", number=1)))
            if random.random() < 0.4:
                facts.append((day + timedelta(days=1), animal, OfferSeen(outcome="taken")))
    return sorted(facts, key=lambda fact: fact[0])


def _entries() -> list[Entry]:
    return [
        Entry(
            n,
            KIND_OF_BODY[type(body)].name,
            about,
            on_day(day),
            body,
            datetime(day.year, day.month, day.day, 21, tzinfo=UTC),
            "phone",
            f"k{n}",
            None,
            f"i{n}",
        )  # fmt: skip
        for n, (day, about, body) in enumerate(_facts(Random(1)), start=1)
    ]


def test_fold_of_a_large_room(benchmark: Any) -> None:
    """1,000 animals and about 300,000 entries: under a second on an idle core is meant, three are allowed."""
    entries = _entries()
    on = FIRST + timedelta(days=DAYS)
    record = benchmark.pedantic(fold, (entries, on, RoomClock("Europe/Lisbon")), rounds=3)
    assert (ANIMALS, ()) == (len(record.animals), record.problems)
    assert benchmark.stats.stats.min < 3.0


def test_histories_of_a_large_room(benchmark: Any) -> None:
    """The moult histories of the same room."""
    record = fold(_entries(), FIRST + timedelta(days=DAYS), RoomClock("Europe/Lisbon"))
    histories = benchmark.pedantic(moult_histories, (record,), rounds=3)
    assert ANIMALS == len(histories)
    assert benchmark.stats.stats.min < 1.0
