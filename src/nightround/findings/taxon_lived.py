"""How a taxon's animals lived here: appetite, climate, homes and moves, deaths a year. Counts, no models."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.survival_lives import Life
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.record.histories import DailyClimate, MoultHistory
from nightround.record.model import Animal, Record, Stay
from nightround.reports.taxon import Finding, HomeUsed
from nightround.science.survival.counts import losses, together
from nightround.science.survival.data import DIED, FEWEST, LOST

LEVEL: Final = 0.8
Sizes = tuple[float | None, float | None, float | None]
_YEAR: Final = 365.25
_KNOWN: Final = ("taken", "refused", "uneaten")
_FEWEST_DAYS: Final = 30


def appetite(animals: Sequence[Animal]) -> Finding:
    """Share of offers that were taken; the interval allows for animals that differ."""
    key, name = "appetite", "Offers taken"
    counts = [
        (sum(offer.outcome == "taken" for offer in known), len(known))
        for animal in animals
        if (known := [offer for offer in animal.offers if offer.outcome in _KNOWN])
    ]
    if len(counts) < FEWEST:
        return Finding(
            key, name, "share", None, f"{len(counts)} of {FEWEST} animals with offers of known outcome"
        )
    taken, known_offers = np.array(counts, dtype=np.float64).T
    found = together(losses(taken, known_offers, level=LEVEL), level=LEVEL)
    assert found.share_low is not None and found.low is not None and found.high is not None
    estimate = Estimate(
        found.share_low, found.low, found.high, "share", len(counts), found.started,
        "offers taken among offers of known outcome, exact interval widened by how animals differ", LEVEL,
        (OWN_RECORDS,), ("passed over by choice, open and not seen: not counted",),
    )  # fmt: skip
    shares = taken / known_offers
    return Finding(
        key,
        name,
        "share",
        estimate,
        words=(f"{100 * shares.min():.0f} to {100 * shares.max():.0f} % by animal",),
    )


def climate_lived(
    lives: Sequence[Life], histories: Mapping[str, MoultHistory], climate: Mapping[str, DailyClimate]
) -> list[Finding]:
    """Temperature and humidity of the days they lived here: read days only, by the places they stood at."""
    days = {life.code: list(_days_here(life, histories.get(life.code))) for life in lives}
    of_all = sum(map(len, days.values()))
    found = []
    for key, name, unit in (("temperature", "Mean temperature of a day", "C"),
                            ("humidity", "Mean humidity of a day", "percent")):  # fmt: skip
        read: list[float] = []
        animals = 0
        for of_one in days.values():
            values = [
                value
                for day, place in of_one
                if place in climate and (value := _read(climate[place], key).get(day)) is not None
            ]
            animals += bool(values)
            read += values
        found.append(_climate_finding(key, name, unit, read, animals, of_all))
    return found


def _read(of: DailyClimate, key: str) -> Mapping[date, float]:
    return of.temperature_c if key == "temperature" else of.humidity_percent


def _climate_finding(
    key: str, name: str, unit: str, read: Sequence[float], animals: int, of_all: int
) -> Finding:
    if len(read) < _FEWEST_DAYS:
        missing = f"{len(read)} of {_FEWEST_DAYS} days of its animals at places that were read"
        return Finding(key, name, "C" if unit == "C" else "percent", None, missing)
    low, value, high = np.quantile(np.array(read), (0.1, 0.5, 0.9)).tolist()
    estimate = Estimate(
        value, low, high, unit, animals, len(read),
        "median of animal-days; the range holds four days in five: a spread, not a doubt", LEVEL,
        (OWN_RECORDS,), ("what the place was read, which is not the inside of the home",),
    )  # fmt: skip
    unread = of_all - len(read)
    words = (
        [f"coldest and hottest day {both(min(read), 'C')} and {both(max(read), 'C')}"] if unit == "C" else []
    )
    if unread:
        words.append(f"{100 * unread / of_all:.0f} % of {of_all:,} animal-days were not read")
    return Finding(key, name, "C" if unit == "C" else "percent", estimate, words=tuple(words))


def _days_here(life: Life, history: MoultHistory | None) -> Iterator[tuple[date, str]]:
    for place, first, last in history.stays if history is not None else ():
        day, end = max(first, life.came), min(last, life.alive_to)
        while day <= end:
            yield day, place
            day += timedelta(days=1)


def moves_a_year(lives: Sequence[Life], animals: Mapping[str, Animal]) -> Finding:
    """Moves into another home an animal-year; the first home after arrival is no move."""
    moves = sum(_moves(animals[life.code].stays) for life in lives)
    words = ("from homes on record; shelves moved with their homes are not counted",)
    return _rate("moves", "Moves into another home", moves, lives, words)


def _moves(stays: Sequence[Stay]) -> int:
    homes = [stay.home for stay in stays if stay.home]
    return sum(a != b for a, b in zip(homes, homes[1:], strict=False))


def deaths_a_year(lives: Sequence[Life]) -> Finding:
    """Deaths an animal-year: a check value, as the hazard is not constant."""
    dead = [life for life in lives if life.fate == DIED]
    moulting = sum(life.during_moult is True for life in dead)
    lost = sum(life.fate == LOST for life in lives)
    words = [f"{moulting} of {counted(len(dead), 'death')} during a moult"] if dead else []
    words += [f"{lost} lost or escaped, counted as neither dead nor alive"] if lost else []
    words.append("a check value: the hazard of a spider is not constant, see the curves")
    return _rate("deaths", "Deaths", len(dead), lives, tuple(words))


def _rate(key: str, name: str, events: int, lives: Sequence[Life], words: tuple[str, ...]) -> Finding:
    """Events an animal-year with the exact Poisson interval (Garwood 1936, Biometrika 28:437)."""
    from scipy.special import gammaincinv

    years = sum(((life.dead_by or life.alive_to) - life.watched).days for life in lives) / _YEAR
    if years < 1.0:
        return Finding(key, name, "a year", None, f"{years:.1f} of 1 animal-year watched")
    tail = (1.0 - LEVEL) / 2.0
    low = float(gammaincinv(events, tail)) if events else 0.0
    high = float(gammaincinv(events + 1, 1.0 - tail))
    estimate = Estimate(
        events / years, low / years, high / years, "a year", len(lives), events,
        f"{counted(events, 'event')} in {years:.1f} animal-years, exact Poisson interval", LEVEL,
        (OWN_RECORDS,),
    )  # fmt: skip
    return Finding(key, name, "a year", estimate, words=words)


def homes_used(record: Record, animals: Sequence[Animal]) -> tuple[HomeUsed, ...]:
    """Homes these animals lived in, by inner size, the longest first; stays of unknown days count none."""
    days: dict[Sizes, Counter[str]] = {}
    who: dict[Sizes, set[str]] = {}
    for animal in animals:
        for stay in animal.stays:
            if not stay.home:
                continue
            sizes = _sizes(record, stay.home)
            who.setdefault(sizes, set()).add(animal.code)
            last = stay.last or _end_of(animal, record.on)
            stayed = max((last - stay.first).days + 1, 0) if stay.first is not None else 0
            days.setdefault(sizes, Counter())[stay.home] += stayed
    found = [
        HomeUsed(len(of), of.most_common(1)[0][0], *sizes, len(who[sizes]), of.total())
        for sizes, of in days.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.days, each.example)))


def _end_of(animal: Animal, on: date) -> date:
    ended = animal.ended.last if animal.ended is not None else None
    return ended or on


def _sizes(record: Record, code: str) -> Sizes:
    home = record.homes.get(code)
    body = home.body if home is not None else None
    if body is None:
        return None, None, None
    return body.inner_length_mm, body.inner_width_mm, body.inner_height_mm
