"""A small way to write a situation down: one evening, one animal, what is on record and what is forecast."""

from __future__ import annotations

from datetime import date, time, timedelta
from types import MappingProxyType
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.estimate import Estimate
from nightround.foundation.when import between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.animal import Outcome, Seen
from nightround.journal.kinds.knowledge import Named
from nightround.plans.tonight import tonight
from nightround.record.model import (
    Animal,
    ClimateReading,
    Home,
    Look,
    Measurement,
    Moult,
    Offer,
    Record,
    Rule,
    Taxon,
)
from nightround.reports.forecast import WITHIN_DAYS, AnimalForecast, AppetiteNote, ForecastReport, NextMoult
from nightround.reports.size import ReadingPoint, SizeReport
from nightround.reports.tonight import Job, TonightReport, TonightRow

ON = date(2026, 11, 24)
CLOCK = RoomClock("Europe/Berlin", time(4))
KIND = "Aphonopelma inventum"


def ago(days: int) -> date:
    """The day so many days before the evening."""
    return ON - timedelta(days=days)


def offer(days_ago: int, outcome: Outcome | None = "taken", number: int = 0, **more: Any) -> Offer:
    """An offer of one cricket."""
    day = ago(days_ago)
    facts: dict[str, Any] = {"prey": "cricket", "count": 1, "prey_mm": None, "prekilled": None, **more}
    return Offer(
        number=number or 1000 - days_ago,
        when=on_day(day),
        outcome=outcome,
        seen_on=day if outcome else None,
        seen_by=None,
        **facts,
    )


def moult(days_ago: int, until: int | None = None, number: int = 0, exuvia: str | None = None) -> Moult:
    """A moult so many days ago, or found later: between then and `until` days ago."""
    when = on_day(ago(days_ago)) if until is None else between(ago(days_ago), ago(until))
    return Moult(number or 1000 - days_ago, when, exuvia)


def look(days_ago: int, number: int = 0, **signs: Any) -> Look:
    """A look with its signs."""
    return Look(number or 1000 - days_ago, on_day(ago(days_ago)), Seen(**signs))


def reading(item: Any, value: float, days_ago: int = 10, unit: str = "mm", on: Any = "live") -> Measurement:
    """A measurement."""
    return Measurement(1000 - days_ago, on_day(ago(days_ago)), item, value, unit, on, None)


def reading_of(temperature_c: float, days_ago: int) -> ClimateReading:
    """A place's mean temperature of one day."""
    return ClimateReading(1000 - days_ago, on_day(ago(days_ago)), temperature_c, None, "mean")


def animal(code: str = "K12", **facts: Any) -> Animal:
    """An animal that arrived two years ago and was seen alive yesterday."""
    facts.setdefault("taxon", KIND)
    facts.setdefault("arrived", on_day(ago(730)))
    facts.setdefault("last_life", ago(1))
    facts.setdefault("last_look", ago(1))
    return Animal(code, **facts)


def forecast(
    median: float,
    code: str = "K12",
    sd: float = 0.3,
    unseen: float = 0.0,
    n: int = 9,
    level: float | None = None,
    premoult: float | None = None,
    own: float | None = None,
) -> AnimalForecast:
    """A log-normal wait with that median in days, as the moult clock would report it.

    premoult   chance that premoult has begun, as appetite and signs would say
    own        chance that it fasts for a reason of its own; most of the rest where it is not said
    """
    from math import erf, exp, log, sqrt

    z = {"0.05": -1.645, "0.50": 0.0, "0.80": 0.8416, "0.95": 1.645}
    within = {day: 0.5 * (1 + erf(log(day / median) / sd / sqrt(2))) for day in WITHIN_DAYS}
    quantiles: dict[str, float | None] = {key: median * exp(sd * value) for key, value in z.items()}
    ahead = NextMoult(quantiles, within, n, 4 * n, "invented for a test", ())
    note = None
    if premoult is not None:
        note = AppetiteNote(
            code, 0, 0, 0, None, (), premoult, 0.9 * (1.0 - premoult) if own is None else own, None, ()
        )
    return AnimalForecast(code, KIND, None, None, None, unseen, ahead, elapsed_level=level, appetite=note)


def sized(code: str = "K12", **lengths: float) -> SizeReport:
    """A size report with readings: span, body, carapace in mm, each with ±10 % doubt."""

    def estimate(name: str) -> Estimate | None:
        value = lengths.get(name)
        if value is None:
            return None
        return Estimate(value, value * 0.9, value * 1.1, "mm", 1, 2, "invented for a test")

    point = ReadingPoint(0, ago(10), "leg_span", 1.0, "mm", "live")
    return SizeReport(
        code, (), (point,), estimate("carapace"), estimate("span"), estimate("body"), None, None, None
    )


def rule(key: str, value: str, kind: Any = "room", code: str = "", number: int = 1) -> Rule:
    """An overrule by the keeper."""
    return Rule(number, Ref(kind, code), key, value, "")


def record(*animals: Animal, habit: Any = None, **parts: Any) -> Record:
    """The room with these animals."""
    parts.setdefault("taxa", {KIND: Taxon(KIND, (KIND,), Named(habit=habit) if habit else None)})
    frozen = {
        key: MappingProxyType(value) if isinstance(value, dict) else value for key, value in parts.items()
    }
    return Record(
        on=ON, clock=CLOCK, animals=MappingProxyType({each.code: each for each in animals}), **frozen
    )


def round_of(
    room: Record,
    *forecasts: AnimalForecast,
    sizes: tuple[SizeReport, ...] = (),
    notices: tuple[str, ...] = (),
) -> TonightReport:
    """Tonight's report of that room; without any forecast given, a moult is far off for everybody."""
    forecasts = forecasts or tuple(forecast(400, code) for code in room.animals)
    return tonight(
        room, ForecastReport(ON, forecasts, notices), {each.animal: each for each in sizes}, room="test room"
    )


def row_of(
    one: Animal, *forecasts: AnimalForecast, sizes: tuple[SizeReport, ...] = (), **parts: Any
) -> TonightRow:
    """Tonight's row of a single animal."""
    return round_of(record(one, **parts), *forecasts, sizes=sizes).shelves[0].rows[0]


def actions(row: TonightRow) -> list[str]:
    """The actions of a row in order."""
    return [job.action for job in row.jobs]


def job(row: TonightRow, action: str) -> Job:
    """The job of that action, which must be there once."""
    found = [each for each in row.jobs if each.action == action]
    assert len(found) == 1, f"{action} {len(found)} times in {actions(row)}"
    return found[0]


def feeding(row: TonightRow) -> str:
    """Which of offer, leave alone and wait it is: exactly one."""
    found = [action for action in actions(row) if action in ("offer", "leave_alone", "wait")]
    assert len(found) == 1, found
    return found[0]


def home(side: float | None = None, **facts: Any) -> Home:
    """A home with a square floor."""
    from nightround.journal.kinds.surroundings import MadeUp

    body = MadeUp(shape="box", inner_length_mm=side, inner_width_mm=side) if side else None
    return Home("H1", body=body, occupants=("K12",), **facts)
