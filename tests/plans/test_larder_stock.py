"""What is in the house: counted, less what was offered and what died, grown since by the room's warmth."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from nightround.foundation.when import on_day
from nightround.plans.larder_stock import Warmth, in_house, kind_of, warmth_of
from nightround.record.larder import Lot, LotAct
from nightround.record.model import ClimateReading, Place, Record
from nightround.science.larder.development import days_at
from plans.evening import ON, ago, animal, offer, record


def lot(feeder: str, day: date, number: int | None, size: float | None, how: Any = "bought") -> Lot:
    """A lot with its first act."""
    return Lot(
        "L", feeder, on_day(day), size, number, how=how, acts=(LotAct(1, on_day(day), how, number, size),)
    )


def room(there: Lot, celsius: float | None = 25.0, days: int = 60, **more: Any) -> Record:
    """A room of one lot whose place was read every day."""
    readings = tuple(
        ClimateReading(900 + day, on_day(ago(day)), celsius, None, "mean") for day in range(days) if celsius
    )
    return record(lots={"L": there}, places={"room": Place("room", readings=readings)}, **more)


def house(there: Record) -> Any:
    """The one lot of the room tonight."""
    (found,) = in_house(there, warmth_of(there, 70))
    return found


@pytest.mark.parametrize(
    ("name", "key"),
    [("crickets", "acheta"), ("small black crickets", "gryllus"), ("lateralis roaches", "lateralis"),
     ("flightless fruit flies", "melanogaster"), ("fruit fly (hydei)", "hydei"), ("dubia", "dubia"),
     ("mealworms", None), ("", None)],
)  # fmt: skip
def test_names_of_the_trade_mean_kinds(name: str, key: str | None) -> None:
    """A feeder nobody published the growth of is none of them."""
    kind = kind_of(name)
    assert key == (kind.key if kind else None)


def test_a_lot_grows_by_the_warmth_that_was_read() -> None:
    """A third of the days to adulthood at 25 °C after a count of pinheads: a third of development on."""
    kind = kind_of("cricket")
    assert kind is not None
    days = round(days_at(kind.law, 25.0) / 3)
    found = house(room(lot("cricket", ago(days), 100, kind.hatch_mm), days=days + 30))
    wanted = kind.hatch_mm * (kind.adult_mm / kind.hatch_mm) ** (1 / 3)
    assert wanted == pytest.approx(found.length_mm, rel=0.02)
    assert 100 * (1 - kind.deaths_per_day) ** days == pytest.approx(found.number)


def test_in_the_cold_it_stays_small() -> None:
    """Thirty days at 10 °C do less than a quarter of what they do at 25 °C."""
    cold, warm = (house(room(lot("cricket", ago(30), 100, 5.0), celsius=c)).length_mm for c in (10.0, 25.0))
    assert 5.0 <= cold
    assert cold - 5.0 < (warm - 5.0) / 4


def test_what_was_offered_is_no_longer_there() -> None:
    """Forty of a hundred."""
    there = room(lot("lateralis roach", ago(2), 100, 5.0))
    fed = animal(offers=(offer(1, prey="lateralis roach", count=40),))
    found = house(replace(there, animals={"K12": fed}))
    assert 58.0 < found.number <= 60.0
    assert "40 offered since" in found.basis


@pytest.mark.parametrize(
    ("there", "why"),
    [
        (lot("cricket", ago(5), None, 6.0), "count it"),
        (lot("mealworm", ago(5), 50, 10.0), "nothing is known of how this feeder grows"),
        (lot("cricket", ago(5), 10, 6.0), "count it again"),
    ],
)
def test_what_is_not_known_serves_nothing(there: Lot, why: str) -> None:
    """Never counted, of no known kind, more offered than there was: said, and in no figure."""
    fed = animal(offers=(offer(1, prey="cricket", count=20),))
    found = house(replace(room(there), animals={"K12": fed}))
    assert any(why in words for words in found.notes)
    assert not found.serves


def test_an_unwritten_length_is_unknown_but_for_flies() -> None:
    """Flies are only ever of one length; crickets are not."""
    assert house(room(lot("cricket", ago(5), 50, None))).length_mm is None
    assert 2.5 < house(room(lot("fruit fly", ago(5), 50, None))).length_mm < 2.7


def test_a_culture_counts_from_the_day_it_was_set_up() -> None:
    """Started ten days ago; flies written down as hatched stand for a culture of 19 days before (C)."""
    started = house(room(lot("fruit fly", ago(10), None, None, "started")))
    hatched = house(room(lot("fruit fly", ago(10), None, 2.6, "hatched")))
    assert (-10, -29) == (started.culture_day, hatched.culture_day)


def test_warmth_is_that_of_the_same_weeks_a_year_ago_where_it_was_read() -> None:
    """Read then: as then; not read: as of late; nothing read: 23 °C, and it is said."""
    late = {ago(day): 21.0 for day in range(28)}
    year = {ON + timedelta(days=day - 365): 26.0 for day in range(14)}
    readings = tuple(
        ClimateReading(number, on_day(day), celsius, None, "mean")
        for number, (day, celsius) in enumerate({**late, **year}.items())
    )
    told = warmth_of(record(places={"room": Place("room", readings=readings)}), 28)
    assert [26.0, 26.0, 21.0, 21.0] == [round(float(each), 6) for each in told.ahead[::7]]
    nothing = warmth_of(record(), 28)
    assert 23.0 == float(nothing.ahead[0])
    assert "nothing was read" in nothing.words


def test_unread_days_are_taken_at_the_usual_warmth() -> None:
    """Between two days, the unread one as the recent mean."""
    warmth = Warmth({ago(2): 20.0}, warmth_of(record(), 7).ahead, "")
    assert [20.0, 23.0] == [float(each) for each in warmth.between(ago(2), ON)]
