"""The round's lines on the climate: one a room and matter, with the animals and what to do."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from nightround.foundation.when import on_day
from nightround.journal.entries import Ref
from nightround.plans.climate_notices import thresholds_of
from nightround.plans.tonight import tonight
from nightround.record.model import Animal, Batch, ClimateReading, Place, Record, Wintering
from nightround.reports.forecast import ForecastReport
from plans.evening import ON, ago, animal, forecast, record, round_of, rule, sized

WORDS_COLD = "never a mat without a thermostat; one that has collapsed: ask a veterinarian"


def days(values: dict[int, float], usual: float = 22.0, length: int = 40) -> tuple[ClimateReading, ...]:
    """A mean a day for so many days up to today; `values` by days ago."""
    return tuple(
        ClimateReading(at + 1, on_day(ago(at)), values.get(at, usual), None, "mean")
        for at in reversed(range(length))
    )


def expected(values: dict[int, float]) -> tuple[ClimateReading, ...]:
    """What the keeper expects, by days ahead."""
    return tuple(
        ClimateReading(9000 + at, on_day(ON + timedelta(days=at)), value, None, "mean")
        for at, value in values.items()
    )


def room(*animals: Animal, **places: Place) -> Record:
    """A room with shelves A to C."""
    return record(*animals, places=places)


def about(report: Any, word: str) -> list[str]:
    """The notices that begin with a word."""
    return [words for words in report.notices if words.startswith(word)]


def shelf(name: str, readings: tuple[ClimateReading, ...], **more: Any) -> Place:
    """A shelf of the spare room."""
    return Place(name, sort="shelf", inside="spare room", readings=readings, **more)


def test_a_cold_night_on_three_shelves_is_one_line() -> None:
    """Three shelves were cold last night: one line, coldest first, with the animals in need first."""
    grown = animal("K9", place="C", matured=on_day(ago(90)))
    near, far = animal("K5", place="B"), animal("K1", place="A")
    small = animal("K7", place="A")
    found = round_of(
        room(
            grown, near, far, small,
            A=shelf("A", days({0: 15.2})), B=shelf("B", days({0: 14.1})), C=shelf("C", days({0: 15.9})),
        ),
        forecast(400, "K9"), forecast(5, "K5"), forecast(400, "K1"), forecast(400, "K7"),
        sizes=(sized("K7", span=12.0), sized("K1", span=90.0)),
    )  # fmt: skip
    (line,) = about(found, "Cold")
    assert line.startswith(
        "Cold in spare room on 24 Nov: B 14.1 °C (57.4 °F), A 15.2 °C (59.4 °F) and C 15.9 °C (60.6 °F)"
        " (under 17.0 °C (62.6 °F)). 4 animals there: K9 (mature), K5 (near a moult), K7 (spiderling) and"
        " 1 more."
    )
    assert WORDS_COLD in line
    assert [] == about(found, "No temperature readings")


def test_heat_says_what_helps() -> None:
    """A day at 31.5 C: air, shade and water; a collapsed animal is the veterinarian's."""
    (line,) = about(round_of(room(animal(place="A"), A=shelf("A", days({0: 31.5, 1: 31.0})))), "Heat")
    assert line.startswith("Heat in spare room 23 to 24 Nov: A 31.5 °C (88.7 °F) (over 30.0 °C (86.0 °F))")
    assert "Air and shade, fresh water within reach" in line
    assert "ask a veterinarian" in line


def test_a_fall_from_warm_to_mild_is_told_as_a_fall() -> None:
    """A cabinet that falls from 25 to 20 C is over the threshold and is told."""
    (line,) = about(round_of(room(animal(place="A"), A=shelf("A", days({0: 20.0}, usual=25.0)))), "Cold")
    assert "A 20.0 °C (68.0 °F), a sudden fall." in line


@pytest.mark.parametrize(("days_ago", "told"), [(0, True), (2, True), (3, False), (20, False)])
def test_old_events_are_not_told(days_ago: int, told: bool) -> None:
    """A cold night is told while it is one of the last three days that were read."""
    found = round_of(room(animal(place="A"), A=shelf("A", days({days_ago: 14.0}))))
    assert told is bool(about(found, "Cold"))


def test_cold_to_come_is_told_by_the_keepers_expectation() -> None:
    """16 C expected the day after tomorrow."""
    found = round_of(room(animal(place="A"), A=shelf("A", days({}), expected=expected({2: 16.0}))))
    (line,) = about(found, "Cold")
    assert line.startswith("Cold in spare room coming on 26 Nov, as you expect: about A 16.0 °C (60.8 °F)")


def test_the_keepers_rule_counts() -> None:
    """Switched off for shelf A, 14 C for the room: neither shelf is told; the default tells both."""
    places = {"A": shelf("A", days({0: 13.0})), "B": shelf("B", days({0: 15.0}))}
    animals = animal("K1", place="A"), animal("K2", place="B")
    ruled = record(
        *animals,
        places=places,
        rules=(
            rule("cold_night_c", "never", "place", "A", 1), rule("cold_night_c", "14 C", number=2),
            rule("cold_drop_c", "never", number=3),
        ),
    )  # fmt: skip
    limits = thresholds_of(ruled)
    assert (None, 14.0, None) == (limits["A"].cold_c, limits["B"].cold_c, limits["B"].drop_c)
    assert limits["B"].rules[0].overruled
    assert [] == about(round_of(ruled), "Cold")
    assert 1 == len(about(round_of(room(*animals, **places)), "Cold"))


def test_places_without_readings_are_one_line() -> None:
    """Two of four shelves with animals were last read on 1 November, one never; empty ones are left out."""
    old = tuple(reading for reading in days({}) if reading.when.last <= date(2026, 11, 1))  # type: ignore[operator]
    found = round_of(
        room(
            *(animal(f"K{name}", place=name) for name in "ABCD"),
            A=shelf("A", old), B=shelf("B", old), C=shelf("C", ()), D=shelf("D", days({})), E=shelf("E", ()),
        )
    )  # fmt: skip
    (line,) = about(found, "No temperature readings")
    assert line.startswith(
        "No temperature readings for 3 of 4 places of spare room with animals: A and B since 1 Nov; C never;"
    )


def test_q10_and_wintering_are_not_told_in_the_round() -> None:
    """What the fit says of warmth belongs to the forecast; its other notices stay."""
    said = ("Ten degrees Celsius more make growth 2.4 times as fast here", "Tarantulas: widened by 40 %.")
    report = tonight(
        record(animal()), ForecastReport(ON, (forecast(400),), said, said[:1]), {}, room="test room"
    )
    assert said[1:] == report.notices


def test_batches_are_named_and_long_cold_asks_whether_it_is_meant() -> None:
    """Three weeks at 15 C on a shelf with a batch: the batch is named, and the rule to set."""
    cold = days(dict.fromkeys(range(21), 15.0))
    one = record(
        animal(place="A"),
        places={"A": shelf("A", cold)},
        batches={
            "B1": Batch("B1", "T t", living=20, place="A"),
            "B2": Batch("B2", "T t", living=0, place="A"),
        },
    )
    (line,) = about(round_of(one), "Cold")
    assert "1 animal there: K12. Batches there: B1." in line
    assert line.endswith("If that is meant, set cold_night_c for the place")


def test_animals_that_winter_by_the_record_are_counted() -> None:
    """A shelf whose wintering began a month ago is cold: the line says how many of its animals winter."""
    one = record(
        animal("K1", place="A"), animal("K2", place="A"),
        places={"A": shelf("A", days({0: 14.0}))},
        winterings=(Wintering(Ref("animal", "K2"), ago(30), True),),
    )  # fmt: skip
    (line,) = about(round_of(one), "Cold")
    assert "2 animals there (1 wintering by the record): K1 and K2." in line
