"""Words of the round, and how long it takes."""

from __future__ import annotations

import random
from time import process_time

import pytest

from nightround.plans import words
from plans.evening import ON, ago, animal, forecast, look, moult, offer, record, round_of, sized


@pytest.mark.parametrize(
    ("number", "name", "told"),
    [
        (1, "cricket", "1 cricket"),
        (2, "cricket", "2 crickets"),
        (3, "lateralis roach", "3 lateralis roaches"),
        (2, "flightless fruit fly (melanogaster)", "2 flightless fruit flies (melanogaster)"),
        (2, "crickets", "2 crickets"),
    ],
)
def test_feeders_are_counted_in_plain_words(number: int, name: str, told: str) -> None:
    """Whatever the keeper called them."""
    assert told == words.things(number, name)


@pytest.mark.parametrize(
    ("chance", "told"),
    [
        (0.0, "under 1 %"),
        (0.004, "under 1 %"),
        (0.014, "1 %"),
        (0.5, "50 %"),
        (0.996, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_no_chance_is_ever_nothing_or_certain(chance: float, told: str) -> None:
    """A chance of 0.4 % is not 0 %."""
    assert told == words.percent(chance)


def test_days_are_told_from_the_evening() -> None:
    """The year is named when it is another."""
    assert "today" == words.ago(ON, ON)
    assert "yesterday" == words.ago(ago(1), ON)
    assert "12 days ago (12 Nov)" == words.ago(ago(12), ON)
    assert "24 Nov 2025" == words.day_words(ago(365), ON)


def test_a_thousand_animals_are_no_wait() -> None:
    """1,000 animals with 40 offers, 30 looks, 3 moults each: 0.13 s of one quiet core; 0.4 s passes."""
    draw = random.Random(1)
    animals, forecasts, sizes = [], [], []
    for number in range(1000):
        code = f"K{number:04}"
        animals.append(
            animal(
                code,
                offers=tuple(
                    offer(days, draw.choice(["taken", "refused", None]))
                    for days in range(300, draw.randint(0, 12), -7)
                ),
                moults=tuple(moult(days) for days in (600, 400, draw.randint(1, 200))),
                looks=tuple(look(days, abdomen="normal") for days in range(200, 5, -7)),
                place=f"shelf {number % 9}",
            )
        )
        forecasts.append(forecast(draw.uniform(3, 300), code))
        sizes.append(sized(code, span=draw.uniform(8, 150)))
    room = record(*animals)
    took = []
    for _ in range(5):
        begun = process_time()
        report = round_of(room, *forecasts, sizes=tuple(sizes))
        took.append(process_time() - begun)
    assert 1000 == sum(len(shelf.rows) for shelf in report.shelves)
    assert min(took) < 0.4, f"{min(took):.2f} s"
