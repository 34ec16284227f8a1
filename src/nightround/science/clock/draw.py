"""Rooms drawn from the moult clock's own priors: what calibration is measured on.

Everything the likelihood allows for happens here by the same rules: late-found moults, arrivals with and
without a known last moult, running intervals, missed moults, wrong dates, unread places, climate that is
expected with error (`draw_life` for one animal's history).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.clock.data import NO_DAY, ClockData, Intervals
from nightround.science.clock.draw_life import Life, RoomShape, TooFast, World, draw_life
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

__all__ = ["DrawnRoom", "RoomShape", "draw_room"]

_FIRST_DAY: Final = 700_000
_LATER_DAYS: Final = 5000
_USUAL_SHAPE: Final = RoomShape()


@dataclass(frozen=True)
class DrawnRoom:
    """A drawn room: what the clock is given, and the truth it is judged by.

    theta, gamma        hyperparameters (priors.HYPER_NAMES); fixed coefficients and those of covariates
    taxon_level [J]     log length at the taxon's mean size as recorded; taxon_slope [J] its slope inside
    pace [A]            each animal's own effect
    asked [A']          animals with a running interval
    truth_days [A']     days from the close of `on` to the true next moult; negative if it happened unseen
    closed [A']         intervals of the animal that were seen to their end
    """

    data: ClockData
    on: int
    expected: DailyClimate
    theta: FloatArray
    gamma: FloatArray
    taxon_level: FloatArray
    taxon_slope: FloatArray
    pace: FloatArray
    asked: IntArray
    truth_days: FloatArray
    closed: IntArray


@dataclass(frozen=True)
class _Climate:
    """Temperatures by place: true from the first day on, recorded up to `on`, expected after it."""

    true_c: FloatArray
    recorded_c: FloatArray
    expected: DailyClimate


def draw_room(rng: np.random.Generator, shape: RoomShape = _USUAL_SHAPE) -> DrawnRoom:
    """Draw a room from the priors; rooms faster than a record in days can hold are drawn again.

    Whether a room is drawn again follows from what would be on record, so the posterior stays that of the
    priors.
    """
    while True:
        try:
            return _draw(rng, shape)
        except TooFast:
            continue


def _draw(rng: np.random.Generator, shape: RoomShape) -> DrawnRoom:
    """Hyperparameters, climate, effects and histories."""
    theta = hyper_mean() + hyper_sd() * rng.normal(size=hyper_mean().size)
    if shape.true_q10 > 0.0:
        theta[0] = np.log(shape.true_q10)
    hyper = Hyper.of(theta)
    on = _FIRST_DAY + shape.record_days - 1
    climate = _climate(rng, shape, on)
    unread = rng.uniform(size=shape.places) < shape.unread_share
    clock = _clock(rng, climate, unread, hyper.log_q10)
    climate.recorded_c[unread] = np.nan
    climate.expected.temperature_c[unread] = np.nan
    group_of = _groups(rng, shape)
    world = _world(rng, shape, hyper, clock, group_of, on)
    old = np.sort(rng.integers(0, shape.taxa, shape.animals))
    taxon_of = np.concatenate([old, np.arange(shape.taxa, shape.taxa + shape.new_taxa)])
    place_of = rng.integers(0, shape.places, taxon_of.size)
    pace = rng.normal(0.0, hyper.spreads.animal, taxon_of.size)
    lives = [
        draw_life(rng, world, int(taxon_of[i]), int(place_of[i]), float(pace[i]), late=i >= shape.animals)
        for i in range(taxon_of.size)
    ]
    data = _data(world, lives, taxon_of, place_of, group_of, climate)
    return _told(world, lives, data, climate, theta, pace)


def _climate(rng: np.random.Generator, shape: RoomShape, on: int) -> _Climate:
    """A season and days about it; what is expected of each place is off by one error that stays."""
    total = shape.record_days + _LATER_DAYS
    day = np.arange(total)
    mean = rng.uniform(20.0, 26.0, shape.places)[:, None]
    swing = rng.uniform(0.5, 4.0, shape.places)[:, None]
    season = swing * np.sin(2.0 * np.pi * (day / 365.25 + rng.uniform()))
    true = mean + season + rng.normal(0.0, 0.6, (shape.places, total))
    expected = true[:, shape.record_days :].copy()
    true[:, shape.record_days :] += shape.expectation_spread_c * rng.normal(size=(shape.places, 1))
    recorded = true[:, : shape.record_days].copy()
    gone = int(shape.missing_share * shape.record_days)
    for place in range(shape.places if gone else 0):
        at = int(rng.integers(0, shape.record_days - gone))
        recorded[place, at : at + gone] = np.nan
    spread = np.full(expected.shape, shape.expectation_spread_c)
    return _Climate(true, recorded, DailyClimate(on + 1, expected, spread))


def _clock(
    rng: np.random.Generator, climate: _Climate, unread: np.ndarray[tuple[int], np.dtype[np.bool_]], q: float
) -> FloatArray:
    """Warmth by place before each day [P, T + 1]: every place a little off, unread ones about 23 C."""
    rate = relative_rate(climate.true_c, q)
    rate[unread] = relative_rate(np.array([UNREAD_PLACE_C]), q)[0]
    off = rng.normal(0.0, np.where(unread, UNREAD_PLACE.sd, READ_PLACE.sd))
    rate = rate * np.exp(off)[:, None]
    return np.concatenate([np.zeros((rate.shape[0], 1)), np.cumsum(rate, axis=1)], axis=1)


def _groups(rng: np.random.Generator, shape: RoomShape) -> IntArray:
    """Group of each taxon; every group has one where there are taxa enough."""
    group_of = rng.integers(0, shape.groups, shape.taxa + shape.new_taxa)
    first = min(shape.groups, shape.taxa)
    group_of[:first] = np.arange(first)
    return np.asarray(group_of)


def _world(
    rng: np.random.Generator,
    shape: RoomShape,
    hyper: Hyper,
    clock: FloatArray,
    group_of: IntArray,
    on: int,
) -> World:
    """Coefficients and effects of taxa."""
    fixed = np.array([rng.normal(prior.mean, prior.sd) for prior in FIXED.values()])
    covariate = np.array([rng.normal(prior.mean, prior.sd) for prior in COVARIATES.values()])
    taxa, spreads = group_of.size, hyper.spreads
    effect = rng.normal(0.0, spreads.taxon, taxa) + rng.normal(0.0, spreads.group, shape.groups)[group_of]
    slope = rng.normal(0.0, spreads.slope, taxa)
    size = rng.normal(0.0, 0.5, taxa)
    return World(shape, hyper, fixed, covariate, effect, slope, size, clock, _FIRST_DAY, on)


def _intervals(world: World, lives: list[Life], taxon_of: IntArray) -> Intervals:
    pairs = [(animal, row) for animal, life in enumerate(lives) for row in life.rows]
    rows = [row for _, row in pairs]
    animal = np.array([animal for animal, _ in pairs])
    windows = np.array([[*row.start, *row.end, row.looked, row.watched] for row in rows])
    size = REFERENCE_LOG_SIZE + world.taxon_size[taxon_of[animal]] + np.array([row.size for row in rows])
    covariates = np.array([row.covariates for row in rows]).reshape(-1, len(COVARIATE_NAMES))
    first, last, end_first, end_last, looked, watched = windows.T
    return Intervals(
        animal, first, last, end_first, end_last, looked, watched, size, np.zeros(animal.size), covariates
    )


def _data(
    world: World,
    lives: list[Life],
    taxon_of: IntArray,
    place_of: IntArray,
    group_of: IntArray,
    climate: _Climate,
) -> ClockData:
    """The room as the clock is given it."""
    animals = taxon_of.size
    stays = Stays(np.arange(animals), place_of, np.full(animals, world.begin))
    nothing = np.zeros(animals)
    return ClockData(
        taxon_of,
        group_of,
        np.zeros(group_of.size),
        nothing,
        nothing,
        DailyClimate(world.begin, climate.recorded_c),
        stays,
        _intervals(world, lives, taxon_of),
    )


def _told(
    world: World, lives: list[Life], data: ClockData, climate: _Climate, theta: FloatArray, pace: FloatArray
) -> DrawnRoom:
    """The room with its truth; levels of taxa stand at the mean size of their rows, as the clock has them."""
    rows = data.intervals
    taxon = data.animal_taxon[rows.animal]
    seen = np.bincount(taxon, minlength=data.taxa)
    total = np.bincount(taxon, weights=rows.log_size - REFERENCE_LOG_SIZE, minlength=data.taxa)
    shift = np.where(seen > 0, total / np.maximum(seen, 1) - world.taxon_size, 0.0)
    slope = world.fixed[1] + world.taxon_slope
    level = world.fixed[0] + world.taxon_effect + world.fixed[2] * world.taxon_size + slope * shift
    asked = np.array([animal for animal, life in enumerate(lives) if life.rows[-1].end[1] == NO_DAY])
    return DrawnRoom(
        data,
        world.on,
        climate.expected,
        theta,
        np.concatenate([world.fixed, world.covariate]),
        level,
        slope,
        pace,
        asked,
        np.array([lives[animal].next_moult - world.shape.record_days for animal in asked]),
        np.array([lives[animal].closed for animal in asked]),
    )
