"""The room's climate: frozen data of its page, its command and the round's notices.

Days without a reading are None or absent, never filled; what was estimated is an Estimate and says from what.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from nightround.foundation.estimate import Estimate
from nightround.reports.tonight import RuleUsed

EventSort = Literal["cold", "heat"]


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What counts as cold, as sudden cold and as heat at a place [C]; None: switched off by the keeper.

    target_c   what thermal days lost are held against (None: the place's own warm half-year)
    """

    cold_c: float | None
    drop_c: float | None
    heat_c: float | None
    rules: tuple[RuleUsed, ...] = ()
    target_c: float | None = None


@dataclass(frozen=True, slots=True)
class PlaceStretch:
    """One month or week at a place; figures are None where no reading says them.

    days, known     days of it up to the report's day, and how many were read
    under, over     read days colder, and hotter, than the place's thresholds
    thermal_days    what its read days were worth in days at 25 C (only the read ones)
    hours_read      hours that loggers read in it (None: none)
    hours_under, hours_over   how many of them were past the thresholds (None: none read, or no threshold)
    """

    first: date
    last: date
    days: int
    known: int
    low_c: float | None
    mean_c: float | None
    high_c: float | None
    coldest: date | None
    hottest: date | None
    under: int
    over: int
    short_degree_days: float
    thermal_days: float
    humidity_percent: float | None = None
    hours_read: int | None = None
    hours_under: int | None = None
    hours_over: int | None = None


@dataclass(frozen=True, slots=True)
class CourseDay:
    """One read day: lowest and highest where known, mean where known [C]."""

    day: date
    low_c: float | None
    mean_c: float | None
    high_c: float | None


@dataclass(frozen=True, slots=True)
class AheadDay:
    """One day to come: the expected mean, and the range that holds the season's level four times in five."""

    day: date
    low_c: float
    mean_c: float
    high_c: float


@dataclass(frozen=True, slots=True)
class YearWave:
    """The wave of a place's year.

    coldest   the next day on which the wave is lowest, give or take so many days (None: it hardly swings)
    share     share of the days' variance that it explains: a heated place follows no wave
    """

    mean: Estimate
    swing: Estimate
    coldest: date | None
    give_days: float
    share: float


@dataclass(frozen=True, slots=True)
class PlaceClimate:
    """One place as far as it was read.

    room          the room that it stands in ('' when none is on record)
    animals       how many live there now
    first, last   days of the first and the latest reading (None: never read)
    wave_words    why there is no wave, or how well it fits
    course        the read days of the last year; ahead: days to come; ahead_words: from what
    """

    place: str
    room: str
    animals: int
    first: date | None
    last: date | None
    days_known: int
    latest_c: float | None
    thresholds: Thresholds
    months: tuple[PlaceStretch, ...] = ()
    weeks: tuple[PlaceStretch, ...] = ()
    wave: YearWave | None = None
    wave_words: str = ""
    course: tuple[CourseDay, ...] = ()
    ahead: tuple[AheadDay, ...] = ()
    ahead_words: str = ""


@dataclass(frozen=True, slots=True)
class ShelfOffset:
    """How much warmer a place is than the room's own readings (`against`; '' is the mean of its places).

    winter, summer   the quarter of the year around the room's coldest and hottest day (None: not a year yet)
    swings           whether it surely differs between them
    estimated_days   unread days of the place on which the others were read, and that it could be told from
    """

    place: str
    against: str
    offset: Estimate
    winter: Estimate | None
    summer: Estimate | None
    swings: bool
    direct: bool
    first: date
    last: date
    day_sd_c: float
    estimated_days: int
    words: str


@dataclass(frozen=True, slots=True)
class EventPlace:
    """One place in a cold spell or heat wave: its days, how many were read, and its worst day.

    hours, hours_read   hours past the threshold among those that a logger read (None: no logger's hour)
    hours_words         the same in words
    """

    place: str
    first: date
    last: date
    days: int
    unread: int
    worst_c: float
    worst_day: date
    fell: bool = False
    hours: int | None = None
    hours_read: int | None = None
    hours_words: str = ""


@dataclass(frozen=True, slots=True)
class ClimateEvent:
    """Cold nights or a heat wave of one room: places whose days overlap are one event.

    animals      everybody who lived there on one of those days, by code
    heat_failed  the day of a heating failure on record within it
    coming       whether it lies ahead, by expected climate
    """

    sort: EventSort
    room: str
    first: date
    last: date
    places: tuple[EventPlace, ...]
    animals: tuple[str, ...]
    heat_failed: date | None
    words: str
    coming: bool = False


@dataclass(frozen=True, slots=True)
class ClimateGap:
    """Days without a reading at places of one room that miss them together.

    read      places of them that were read on some of these days after all, and on how many
    running   whether it lasts to the report's day
    told      what the places were then, from the others' readings and the offsets: estimates, never readings
    """

    room: str
    places: tuple[str, ...]
    read: tuple[tuple[str, int], ...]
    first: date
    last: date
    running: bool
    told: tuple[tuple[str, Estimate], ...]


@dataclass(frozen=True, slots=True)
class LaterMoult:
    """By how many days the winter put off an animal's next moult."""

    animal: str
    taxon: str
    later: Estimate


@dataclass(frozen=True, slots=True)
class Winter:
    """What a cold half-year cost at a place, in days at 25 C.

    days, known    its days up to the report's day, and how many were read
    mean_c         mean of the read days
    warm_c         what it is held against: the mean of the warm half-year, or the keeper's target
    animals        living animals whose wait for the next moult went through it, longest delay first
    """

    place: str
    first: date
    last: date
    running: bool
    days: int
    known: int
    mean_c: float
    warm_c: float
    by_target: bool
    lost: Estimate
    animals: tuple[LaterMoult, ...]
    words: str


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """A logger's file that was taken in: which place, which days, when."""

    place: str
    name: str
    first: date | None
    last: date | None
    readings: int
    taken_in: date


@dataclass(frozen=True, slots=True)
class ClimateReport:
    """The room's climate as of a day.

    q10        how many times as fast in ten degrees more, behind thermal days
    events     newest first; coming: from expected climate
    gaps       three days and longer, newest first; short_gaps: how many shorter ones there are
    words      what there is to say where there is little or nothing
    """

    on: date
    room: str
    invented: bool
    places: tuple[PlaceClimate, ...]
    offsets: tuple[ShelfOffset, ...]
    events: tuple[ClimateEvent, ...]
    coming: tuple[ClimateEvent, ...]
    gaps: tuple[ClimateGap, ...]
    short_gaps: int
    winters: tuple[Winter, ...]
    q10: Estimate
    logger_files: tuple[LoggerFile, ...] = ()
    words: tuple[str, ...] = ()
    method: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = field(default_factory=tuple)
