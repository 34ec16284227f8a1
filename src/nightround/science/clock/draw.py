"""Rooms drawn from the moult clock's own priors: what calibration is measured on.

Everything the likelihood allows for happens here by the same rules: late-found moults, arrivals with and
without a known last moult, running intervals, missed moults, wrong dates, unread places, climate that is
expected with error.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.clock import sites
from nightround.science.clock.data import NO_DAY, ClockData, Intervals
from nightround.science.clock.priors import (
    COVARIATE_NAMES,
    COVARIATES,
    FIXED,
    READ_PLACE,
    REFERENCE_LOG_SIZE,
    UNREAD_PLACE,
    hyper_mean,
    hyper_sd,
)
from nightround.science.clock.propagate import Hyper
from nightround.science.thermal import (
    UNREAD_PLACE_C,
    DailyClimate,
    FloatArray,
    IntArray,
    Stays,
    relative_rate,
)

_FIRST_DAY: Final = 700_000
_LATER_DAYS: Final = 5000


@dataclass(frozen=True)
class RoomShape:
    """How large a drawn room is and how it is kept.

    late_share      share of moults found late, by up to `late_days` days
    true_q10        overrides the drawn Q10 when positive (to break the model on purpose)
    season          multiplies lengths by 1 +- season over the year (a break)
    unrecorded      extra share of moults that nobody wrote down (a break)
    heavy_tails     residuals from a t with 3 degrees of freedom (a break)
    """

    groups: int = 2
    taxa: int = 5
    animals: int = 40
    places: int = 3
    record_days: int = 900
    unread_share: float = 0.15
    late_share: float = 0.15
    late_days: int = 14
    missing_share: float = 0.05
    expectation_spread_c: float = 0.7
    true_q10: float = 0.0
    season: float = 0.0
    unrecorded: float = 0.0
    heavy_tails: bool = False


@dataclass(frozen=True)
class DrawnRoom:
    """A drawn room: what the clock is given, and the truth it is judged by.

    asked [A']          animals with a running interval
    truth_days [A']     days from the close of `on` to the true next moult; negative if it happened unseen
    closed [A']         intervals of the animal that were seen to their end
    """

    data: ClockData
    on: int
    expected: DailyClimate
    theta: FloatArray
    gamma: FloatArray
    asked: IntArray
    truth_days: FloatArray
    closed: IntArray
    newcomer_taxon: IntArray


class _Rows:
    """Interval rows under construction."""

    def __init__(self) -> None:
        self.rows: list[tuple[float, ...]] = []
        self.covariates: list[FloatArray] = []

    def add(
        self,
        animal: int,
        start: tuple[int, int],
        end: tuple[int, int],
        looked: int,
        watched: int,
        size: float,
        covariates: FloatArray,
    ) -> None:
        self.rows.append((animal, *start, *end, looked, watched, size, 0.0))
        self.covariates.append(covariates)

    def intervals(self) -> Intervals:
        table = np.array(self.rows, dtype=np.float64).reshape(-1, 9)
        animal, first, last, end_first, end_last, looked, watched = table[:, :7].astype(np.int64).T
        covariates = np.array(self.covariates).reshape(-1, len(COVARIATE_NAMES))
        return Intervals(
            animal, first, last, end_first, end_last, looked, watched, table[:, 7], table[:, 8], covariates
        )


@dataclass(frozen=True)
class _World:
    """What is true in one drawn room."""

    shape: RoomShape
    hyper: Hyper
    fixed: FloatArray
    covariate: FloatArray
    taxon_effect: FloatArray
    taxon_slope: FloatArray
    taxon_size: FloatArray
    clock: FloatArray
    begin: int
    on: int


def _temperatures(
    rng: np.random.Generator, shape: RoomShape, on: int
) -> tuple[FloatArray, FloatArray, DailyClimate]:
    """True temperatures by place from the first day on, those recorded up to `on`, and those expected."""
    total = shape.record_days + _LATER_DAYS
    day = np.arange(total)
    mean = rng.uniform(20.0, 26.0, shape.places)[:, None]
    swing = rng.uniform(0.5, 4.0, shape.places)[:, None]
    true = (
        mean
        + swing * np.sin(2.0 * np.pi * (day / 365.25 + rng.uniform()))
        + rng.normal(0.0, 0.6, (shape.places, total))
    )
    expected = true[:, shape.record_days :].copy()
    true[:, shape.record_days :] += shape.expectation_spread_c * rng.normal(size=(shape.places, 1))
    recorded = true[:, : shape.record_days].copy()
    if shape.missing_share > 0.0:
        gone = int(shape.missing_share * shape.record_days)
        for place in range(shape.places):
            at = int(rng.integers(0, shape.record_days - gone))
            recorded[place, at : at + gone] = np.nan
    spread = np.full(expected.shape, shape.expectation_spread_c)
    return true, recorded, DailyClimate(on + 1, expected, spread)


def _noise(rng: np.random.Generator, noise: sites.Noise, heavy: bool) -> float:
    kind = rng.choice(noise.weight.size, p=noise.weight)
    unit = rng.standard_t(3) / np.sqrt(3.0) if heavy else rng.normal()
    return float(noise.shift[kind] + np.sqrt(noise.variance[kind]) * unit)


def _length_biased(rng: np.random.Generator, noise: sites.Noise) -> float:
    """A residual drawn with density proportional to exp(e) f(e): the interval an arrival falls into."""
    weight = noise.weight * np.exp(noise.shift + noise.variance / 2.0)
    kind = rng.choice(weight.size, p=weight / weight.sum())
    return float(noise.shift[kind] + noise.variance[kind] + np.sqrt(noise.variance[kind]) * rng.normal())


def _window(rng: np.random.Generator, moment: float, usual: float, shape: RoomShape) -> tuple[int, int]:
    """First and last day of the moult as known, at most a quarter of the usual interval apart."""
    day = int(np.floor(moment))
    if rng.uniform() >= shape.late_share:
        return day, day
    width = int(rng.integers(2, max(min(shape.late_days, int(usual / 4.0)), 2) + 1))
    first = day - int(rng.integers(0, width))
    return first, first + width - 1


class _TooFast(Exception):
    """Moults under two days apart, or one before the last was found: no record in days could hold them."""


def draw_room(rng: np.random.Generator, shape: RoomShape = RoomShape()) -> DrawnRoom:
    """Draw a room from the priors; rooms with moults less than two days apart are drawn again."""
    while True:
        try:
            return _draw(rng, shape)
        except _TooFast:
            continue


def _draw(rng: np.random.Generator, shape: RoomShape) -> DrawnRoom:
    """Hyperparameters, effects, climate and histories."""
    theta = hyper_mean() + hyper_sd() * rng.normal(size=hyper_mean().size)
    if shape.true_q10 > 0.0:
        theta[0] = np.log(shape.true_q10)
    hyper = Hyper.of(theta)
    on = _FIRST_DAY + shape.record_days - 1
    true, recorded, expected = _temperatures(rng, shape, on)
    unread = rng.uniform(size=shape.places) < shape.unread_share
    recorded[unread] = np.nan
    rate = relative_rate(true, hyper.log_q10)
    flat = relative_rate(np.array([UNREAD_PLACE_C]), hyper.log_q10)[0]
    rate[unread] = flat
    sd = np.where(unread, UNREAD_PLACE.sd, READ_PLACE.sd)
    rate = rate * np.exp(rng.normal(0.0, sd))[:, None]
    expected_c = np.where(unread[:, None], np.nan, expected.temperature_c)
    fixed = np.array([rng.normal(prior.mean, prior.sd) for prior in FIXED.values()])
    covariate = np.array([rng.normal(prior.mean, prior.sd) for prior in COVARIATES.values()])
    group_of = rng.integers(0, shape.groups, shape.taxa)
    group_of[: shape.groups] = np.arange(min(shape.groups, shape.taxa))
    effect = (
        rng.normal(0.0, hyper.spreads.taxon, shape.taxa)
        + rng.normal(0.0, hyper.spreads.group, shape.groups)[group_of]
    )
    slope = rng.normal(0.0, hyper.spreads.slope, shape.taxa)
    clock = np.concatenate([np.zeros((shape.places, 1)), np.cumsum(rate, axis=1)], axis=1)
    world = _World(
        shape, hyper, fixed, covariate, effect, slope, rng.normal(0.0, 0.5, shape.taxa), clock, _FIRST_DAY, on
    )
    taxon_of = np.sort(rng.integers(0, shape.taxa, shape.animals))
    place_of = rng.integers(0, shape.places, shape.animals)
    pace = rng.normal(0.0, hyper.spreads.animal, shape.animals)
    drafts = [
        _life(rng, world, int(taxon_of[i]), int(place_of[i]), float(pace[i])) for i in range(shape.animals)
    ]
    # Size is centred on the taxon's mean over its rows, known only now: move the truth's intercept with it.
    return _assemble(world, drafts, taxon_of, place_of, group_of, recorded, expected, expected_c, theta)


@dataclass(frozen=True)
class _Life:
    """One animal's seen and unseen history."""

    rows: list[tuple[tuple[int, int], tuple[int, int], int, int, float, FloatArray]]
    next_moult: float
    closed: int


def _life(rng: np.random.Generator, world: _World, taxon: int, place: int, pace: float) -> _Life:
    shape, noise = world.shape, world.hyper.noise
    clock = world.clock[place]
    size = float(rng.normal(-0.2, 0.4))
    ration = rng.normal()
    arrival = float(rng.integers(0, int(shape.record_days * 0.9)))
    how = rng.choice(3, p=[0.4, 0.3, 0.3])

    def eta(newcomer: float) -> float:
        covariates = np.array([ration, 0.0, 0.0, newcomer])
        centre = world.fixed[0] + world.taxon_effect[taxon] + world.fixed[2] * world.taxon_size[taxon]
        slope = world.fixed[1] + world.taxon_slope[taxon]
        return float(centre + slope * size + covariates @ world.covariate + pace)

    def lengthened(newcomer: float) -> float:
        return float(np.exp(eta(newcomer) + _noise(rng, noise, shape.heavy_tails)))

    def after(moment: float, length: float) -> float:
        """The day on which `length` of warmth has passed since `moment`."""
        begun = np.interp(moment, np.arange(clock.size), clock)
        return float(np.interp(begun + length, clock, np.arange(clock.size)))

    def lengthen(moment: float, length: float) -> float:
        if shape.season <= 0.0:
            return length
        return length * float(1.0 + shape.season * np.sin(2.0 * np.pi * moment / 365.25))

    base = world.begin
    rows: list[tuple[tuple[int, int], tuple[int, int], int, int, float, FloatArray]] = []
    unknown, none = (NO_DAY, NO_DAY), (NO_DAY, NO_DAY)
    first = 1.0
    if how == 0:  # watched from a moult on
        start: tuple[int, int] = (int(arrival) + base,) * 2
        moment, watched = arrival + rng.uniform(), NO_DAY
        length = lengthened(first)
    elif how == 1:  # arrived with its last moult known; the warmth before arrival is this place's
        usual = float(np.exp(eta(first)))
        passed = float(rng.uniform(0.0, 0.9)) * usual
        begun = np.interp(arrival, np.arange(clock.size), clock) - passed
        moment = float(np.interp(max(begun, 0.0), clock, np.arange(clock.size)))
        passed = float(
            np.interp(arrival, np.arange(clock.size), clock) - np.interp(moment, np.arange(clock.size), clock)
        )
        length = 0.0
        while length <= passed:
            length = lengthened(first)
        start, watched = (int(np.floor(moment)) + base,) * 2, int(arrival) + base
    else:  # nothing known of the last moult
        start, moment, watched = unknown, arrival, int(arrival) + base
        length = float(rng.uniform()) * float(np.exp(eta(first) + _length_biased(rng, noise)))
    closed = 0
    look = shape.record_days - 1 - int(rng.integers(0, 4))
    for count in range(1000):
        next_moment = after(moment, lengthen(moment, length))
        if count and next_moment < moment + 2.0:
            raise _TooFast
        end = _window(rng, next_moment, float(np.exp(eta(first))), shape)
        # Found at the last look at the latest, and no earlier than the day after the moult before.
        if next_moment < look + 1:
            end = max(end[0], start[1] + 1 - base, watched - base), min(end[1], look)
            if end[0] > int(np.floor(next_moment)) or (count and next_moment < moment + 2.0):
                raise _TooFast
        cov = np.array([ration, 0.0, 0.0, first])
        if next_moment >= look + 1:
            rows.append((start, none, max(look + base, start[1], watched), watched, size, cov))
            return _Life(rows, next_moment, closed)
        if rng.uniform() >= shape.unrecorded:
            rows.append((start, (end[0] + base, end[1] + base), NO_DAY, watched, size, cov))
            closed += 1 if start != unknown else 0
            start, watched = (end[0] + base, end[1] + base), NO_DAY
            first = 1.0 if count == 0 and how != 0 else 0.0
        size += float(rng.normal(0.2, 0.05))
        ration = rng.normal()
        moment = next_moment
        length = lengthened(first)
    raise _TooFast


def _assemble(
    world: _World,
    lives: list[_Life],
    taxon_of: IntArray,
    place_of: IntArray,
    group_of: IntArray,
    recorded: FloatArray,
    expected: DailyClimate,
    expected_c: FloatArray,
    theta: FloatArray,
) -> DrawnRoom:
    rows = _Rows()
    for animal, life in enumerate(lives):
        taxon_size = world.taxon_size[taxon_of[animal]]
        for start, end, looked, watched, size, covariates in life.rows:
            rows.add(animal, start, end, looked, watched, REFERENCE_LOG_SIZE + taxon_size + size, covariates)
    animals = len(lives)
    stays = Stays(np.arange(animals), place_of, np.full(animals, world.begin))
    data = ClockData(
        taxon_of,
        group_of,
        np.zeros(group_of.size),
        np.zeros(animals),
        np.zeros(animals),
        DailyClimate(world.begin, recorded),
        stays,
        rows.intervals(),
    )
    asked = np.array([animal for animal, life in enumerate(lives) if life.rows[-1][1][0] == NO_DAY])
    truth = np.array([lives[animal].next_moult - world.shape.record_days for animal in asked])
    closed = np.array([lives[animal].closed for animal in asked])
    return DrawnRoom(
        data,
        world.on,
        DailyClimate(expected.first_day, expected_c, expected.spread_c),
        theta,
        np.concatenate([world.fixed, world.covariate]),
        asked,
        truth,
        closed,
        taxon_of[asked],
    )
