"""Invented rooms for trials of appetite: phases, fasts, offers; the clock's forecast is the known log-normal.

Warmth is steady at 25 C, so days and days at 25 C are the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from nightround.science.appetite.data import (
    NO_OFFER,
    AppetiteData,
    AppetiteNow,
    Courses,
    once,
)
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.thermal import FloatArray, IntArray

LOOK_BACK_DAYS = 730


@dataclass(frozen=True)
class Scene:
    """How the invented animals eat.

    premoult       'stage': from a phase of its own an animal keeps `premoult_left` of its appetite;
                   'smooth': the chance falls with the phase alone, 0.95 / (1 + exp((phase - 0.86) / 0.05));
                   'none': refusals have nothing to do with moulting
    fast_share     share of time spent in fasts that have nothing to do with moulting; fast_days their mean
    offer_days     days between offers; signs  chance that a look in premoult notes a dark patch
    pickiness      sd of the animals' own appetite (logit), which the model does not have
    sd             sd of log intervals, the centre of the clock's prior: the forecast knows it
    middle_days, middle_sd   median interval and sd of its log: a month for the young, a year for adults (C)
    """

    animals: int = 300
    taxa: int = 6
    premoult: Literal["stage", "smooth", "none"] = "stage"
    premoult_left: float = 0.1
    onset: float = 0.86
    onset_spread: float = 0.04
    fast_share: float = 0.0
    fast_days: float = 30.0
    fasting_left: float = 0.1
    base: float = 0.92
    taxon_sd: float = 0.4
    offer_days: float = 7.0
    signs: float = 0.0
    pickiness: float = 0.0
    sd: float = 0.27
    middle_days: float = 100.0
    middle_sd: float = 0.6
    history_days: int = LOOK_BACK_DAYS


@dataclass(frozen=True)
class AppetiteRoom:
    """One invented room on one day.

    past, now           as the room's record would give them
    log_middle [A]      log of each animal's usual interval, which the forecast knows
    remaining_days [A]  true days to the next moult
    refused_run [A]     offers not taken in a row, the latest first
    fasting_now [A]     whether it fasts for a reason of its own
    """

    scene: Scene
    past: AppetiteData
    now: AppetiteNow
    log_middle: FloatArray
    remaining_days: FloatArray
    refused_run: IntArray
    fasting_now: np.ndarray[tuple[int], np.dtype[np.bool_]]

    def cumulative(self, grid_days: FloatArray) -> FloatArray:
        """P(moulted within each of the grid's days | not yet), the known log-normal [A, H]."""
        from scipy.special import ndtr

        passed = self.now.elapsed_now[:, None]
        middle, sd = self.log_middle[:, None], self.scene.sd

        def alive(length: FloatArray) -> FloatArray:
            with np.errstate(divide="ignore"):
                return np.asarray(ndtr((middle - np.log(length)) / sd))

        return np.asarray(1.0 - alive(passed + grid_days) / alive(passed))


def appetite_room(rng: np.random.Generator, scene: Scene) -> AppetiteRoom:
    """Draw one room: every animal's moults over the years, offers, fasts, and where it stands today."""
    middle = np.log(scene.middle_days) + scene.middle_sd * rng.normal(size=scene.animals)
    taxon = rng.integers(0, scene.taxa, scene.animals)
    taste = np.log(scene.base / (1 - scene.base)) + scene.taxon_sd * rng.normal(size=scene.taxa)[taxon]
    taste = taste + scene.pickiness * rng.normal(size=scene.animals)
    lives = [_life(rng, scene, float(middle[a]), float(taste[a])) for a in range(scene.animals)]
    past = [(animal, interval) for animal, life in enumerate(lives) for interval in life.intervals[:-1]]
    data = AppetiteData(
        _courses(taxon[[animal for animal, _ in past]], [interval for _, interval in past]),
        np.array([interval.length for _, interval in past]),
        scene.taxa,
    )
    running = [life.intervals[-1] for life in lives]
    passed = np.array([life.passed for life in lives])
    now = AppetiteNow(_courses(taxon, running), passed, np.zeros(scene.animals))
    return AppetiteRoom(
        scene,
        data,
        now,
        middle,
        np.array([interval.length for interval in running]) - passed,
        np.array([_run(interval) for interval in running]),
        np.array([life.fasting for life in lives]),
    )


@dataclass
class _Interval:
    """One interval: its length and the moments (day, elapsed, taken, days since a meal, dark patch noted)."""

    length: float
    moments: list[tuple[float, float, bool, float, bool]]


@dataclass
class _Life:
    intervals: list[_Interval]
    passed: float
    fasting: bool


def _life(rng: np.random.Generator, scene: Scene, middle: float, taste: float) -> _Life:
    """Intervals from some time before the record to today; offers only inside the record."""
    begun = -float(rng.uniform(0.0, 2.0)) * scene.middle_days - 200.0
    fasting_days = _fasts(rng, scene)
    intervals: list[_Interval] = []
    offers = _offer_days(rng, scene)
    at, meal = 0, np.nan
    while True:
        length = float(np.exp(middle + scene.sd * rng.normal()))
        end = begun + length
        interval = _Interval(length, [])
        onset = scene.onset + scene.onset_spread * float(rng.logistic())
        while at < offers.size and offers[at] < end:
            day = float(offers[at])
            at += 1
            if day <= begun:
                continue
            phase = (day - begun) / length
            fasting = _is_fasting(fasting_days, day)
            taken = bool(rng.random() < _chance(scene, taste, phase, day - begun, phase >= onset, fasting))
            patch = bool(phase >= onset and rng.random() < scene.signs)
            patch = patch or bool(scene.signs and rng.random() < scene.signs / 20)
            interval.moments.append((day, day - begun, taken, day - meal, patch))
            meal = day if taken else meal
        running = end > scene.history_days
        if begun > 0.0 or running:  # the length of one that began before the record is not known
            intervals.append(interval)
        if running:
            return _Life(intervals, scene.history_days - begun, _is_fasting(fasting_days, scene.history_days))
        begun = end


def _offer_days(rng: np.random.Generator, scene: Scene) -> FloatArray:
    count = int(scene.history_days / scene.offer_days)
    days = (np.arange(count) + rng.random()) * scene.offer_days + rng.uniform(-1, 1, count)
    return np.sort(days[(days > 0) & (days < scene.history_days)])


def _fasts(rng: np.random.Generator, scene: Scene) -> FloatArray:
    """Begin and end of each fast [n, 2]; the chain is in equilibrium at the start."""
    if scene.fast_share <= 0.0:
        return np.zeros((0, 2))
    between = scene.fast_days * (1.0 - scene.fast_share) / scene.fast_share
    day, fasts = 0.0, []
    hungry = rng.random() >= scene.fast_share
    while day < scene.history_days:
        if hungry:
            day += float(rng.exponential(between))
        first, day = day, day + float(rng.exponential(scene.fast_days))
        fasts.append((first, day))
        hungry = True
    return np.array(fasts)


def _is_fasting(fasts: FloatArray, day: float) -> bool:
    return bool(np.any((fasts[:, 0] <= day) & (day < fasts[:, 1])))


def _chance(scene: Scene, taste: float, phase: float, elapsed: float, begun: bool, fasting: bool) -> float:
    """True chance that an offer is taken."""
    if elapsed < 8.0:
        return 0.04
    chance = 1.0 / (1.0 + np.exp(-taste))
    if scene.premoult == "stage" and begun:
        chance *= scene.premoult_left
    if scene.premoult == "smooth":
        chance *= 0.95 / (1.0 + np.exp((phase - 0.86) / 0.05))
    return float(chance * (scene.fasting_left if fasting else 1.0))


def _courses(taxon: IntArray, intervals: list[_Interval]) -> Courses:
    rows = [index for index, interval in enumerate(intervals) for _ in interval.moments]
    flat = [moment for interval in intervals for moment in interval.moments]
    table = np.array(flat, dtype=np.float64).reshape(-1, 5)
    row = np.array(rows, dtype=np.int64)
    signs = np.zeros((row.size, len(SIGN_NAMES)), dtype=bool)
    signs[:, SIGN_NAMES.index("dark_patch")] = table[:, 4] > 0
    outcome = np.where(np.isnan(table[:, 2]), NO_OFFER, table[:, 2]).astype(np.int64)
    return Courses(
        np.asarray(taxon, dtype=np.int64), np.full(len(intervals), 8.0), row, table[:, 0], table[:, 1],
        outcome, np.full(row.size, 25.0), table[:, 3], once(row, signs),
    )  # fmt: skip


def _run(interval: _Interval) -> int:
    run = 0
    for moment in reversed(interval.moments):
        if moment[2]:
            break
        run += 1
    return run
