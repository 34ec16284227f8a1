"""Histories for science: what happened to each animal, stripped of everything that science must not see."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Ending = Literal["running", "died", "left", "escaped"]


@dataclass(frozen=True, slots=True)
class MoultWindow:
    """Days between which a moult happened, both ends included (first == last: seen that day)."""

    number: int
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class MoultHistory:
    """The moults of one animal with censoring and late entry.

    under_watch   first day from which a moult would have been recorded (arrival or hatching; None: unknown)
    moults        ascending windows, also those dated before arrival
    last_look     last day known without a further moult: right-censoring; never after death or leaving
    ending        how observation ended
    stays         (place, first day, last day) in order; place '' when unknown
    mature_since  day of maturity seen (None: not seen); `sex` as known on the record's day
    legs_lost     (day, number) of injuries
    wintered      (first day, last day, wintering or not) of the days of which it is known
    taken, offered   days of meals taken / of offers with a known outcome, for ration and appetite
    """

    animal: str
    taxon: str
    group: str
    sex: str | None
    hatched_first: date | None
    hatched_last: date | None
    under_watch: date | None
    moults: tuple[MoultWindow, ...]
    last_look: date | None
    ending: Ending
    stays: tuple[tuple[str, date, date], ...]
    mature_since: date | None
    legs_lost: tuple[tuple[date, int], ...]
    taken: tuple[date, ...]
    offered: tuple[tuple[date, str], ...]
    wintered: tuple[tuple[date, date, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class SizeReading:
    """One measurement placed on an instar: `instar` counts moults before it within this record (0 first).

    short_legs   a leg span read while legs were missing or growing back
    """

    instar: int
    item: str
    value: float
    on: str | None
    posture: str | None
    day: date | None
    short_legs: bool = False


@dataclass(frozen=True, slots=True)
class SizeHistory:
    """The measurements of one animal; `n_instars` = moults recorded + 1."""

    animal: str
    taxon: str
    group: str
    sex: str | None
    n_instars: int
    readings: tuple[SizeReading, ...]
    mature_instar: int | None
    legs_lost: int | None


@dataclass(frozen=True, slots=True)
class DailyClimate:
    """Daily mean temperature of one place as recorded; days without a reading are absent, never filled.

    low_c, high_c   lowest and highest that a logger, a thermometer with a memory or several moments showed
    """

    place: str
    temperature_c: Mapping[date, float]
    humidity_percent: Mapping[date, float]
    expected_c: Mapping[date, float]
    low_c: Mapping[date, float] = field(default_factory=dict)
    high_c: Mapping[date, float] = field(default_factory=dict)
