"""The three rooms on which the moult clock is held against NUTS, and what is compared. Needs no sampler.

Rooms are kept as files beside their reference numbers, rounded to what a record would hold, so that they
stay the same rooms whatever becomes of the code that drew them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from nightround.science.clock import forecast
from nightround.science.clock.data import ClockData, Intervals
from nightround.science.clock.design import Design
from nightround.science.clock.draw import RoomShape, draw_room
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.priors import COVARIATE_NAMES, FIXED_NAMES, HYPER_NAMES
from nightround.science.clock.waiting import plain_shares, shares_of
from nightround.science.thermal import DailyClimate, FloatArray, IntArray, Stays

HORIZONS: Final = (7, 14, 30, 60, 90)
EXPECTED_DAYS: Final = 400


@dataclass(frozen=True)
class ReferenceRoom:
    """A room with the climate to come; `asked` are the animals with a running interval."""

    data: ClockData
    on: int
    expected: DailyClimate

    @property
    def asked(self) -> IntArray:
        rows = self.data.intervals
        return np.asarray(np.unique(rows.animal[rows.running]), dtype=np.int64)


# Seed and shape of each room; the third also loses sizes, rations and origins (see `_doubtful`).
PLANS: Final[dict[str, tuple[int, RoomShape]]] = {
    "usual": (5, RoomShape(groups=3, taxa=8, animals=120)),
    "few": (4, RoomShape(groups=3, taxa=20, animals=120, record_days=250, late_share=0.4)),
    "doubtful": (
        6,
        RoomShape(groups=3, taxa=8, animals=120, unread_share=0.5, missing_share=0.2, unrecorded=0.05),
    ),
}


def drawn(name: str) -> ReferenceRoom:
    """Draw a room anew, rounded as it is kept."""
    seed, shape = PLANS[name]
    rng = np.random.default_rng(seed)
    room = draw_room(rng, shape)
    data = room.data if name != "doubtful" else _doubtful(room.data, rng)
    rows = data.intervals
    rows = replace(
        rows,
        log_size=np.round(rows.log_size, 3),
        log_size_sd=np.round(rows.log_size_sd, 3),
        covariates=np.round(rows.covariates, 3),
    )
    climate = replace(data.climate, temperature_c=np.round(data.climate.temperature_c, 1))
    expected = room.expected
    spread = np.full((expected.temperature_c.shape[0], EXPECTED_DAYS), shape.expectation_spread_c)
    ahead = DailyClimate(expected.first_day, np.round(expected.temperature_c[:, :EXPECTED_DAYS], 1), spread)
    return ReferenceRoom(replace(data, intervals=rows, climate=climate), room.on, ahead)


def _doubtful(data: ClockData, rng: np.random.Generator) -> ClockData:
    """A fifth of the sizes unknown, the rest and half of the animals' levels in doubt; rations missing."""
    rows = data.intervals
    size = np.where(rng.uniform(size=rows.count) < 0.2, np.nan, rows.log_size)
    covariates = rows.covariates.copy()
    covariates[rng.uniform(size=rows.count) < 0.3, 0] = np.nan
    covariates[rng.uniform(size=rows.count) < 0.1, 3] = np.nan
    return replace(
        data,
        animal_size_sd=np.where(rng.uniform(size=data.animals) < 0.5, 0.0, 0.15),
        intervals=replace(rows, log_size=size, log_size_sd=np.full(rows.count, 0.05), covariates=covariates),
    )


_ROWS: Final = ("animal", "start_first", "start_last", "end_first", "end_last", "looked", "watched_from")


def save_room(room: ReferenceRoom, path: Path) -> None:
    """Write a room as one compressed file of arrays."""
    data, rows = room.data, room.data.intervals
    np.savez_compressed(
        path,
        rows=np.stack([getattr(rows, name) for name in _ROWS]),
        log_size=rows.log_size,
        log_size_sd=rows.log_size_sd,
        covariates=rows.covariates,
        animal_taxon=data.animal_taxon,
        taxon_group=data.taxon_group,
        taxon_size_sd=data.taxon_size_sd,
        animal_size_sd=data.animal_size_sd,
        chance_last=data.chance_last,
        stays=np.stack([data.stays.animal, data.stays.place, data.stays.from_day]),
        first_days=np.array([data.climate.first_day, room.expected.first_day, room.on]),
        temperature_c=data.climate.temperature_c,
        expected_c=room.expected.temperature_c,
        expected_spread_c=room.expected.spread_c,
    )


def load_room(path: Path) -> ReferenceRoom:
    """Read a room back."""
    with np.load(path) as held:
        rows = Intervals(*held["rows"], held["log_size"], held["log_size_sd"], held["covariates"])
        first, ahead, on = (int(day) for day in held["first_days"])
        data = ClockData(
            held["animal_taxon"],
            held["taxon_group"],
            held["taxon_size_sd"],
            held["animal_size_sd"],
            held["chance_last"],
            DailyClimate(first, held["temperature_c"]),
            Stays(*held["stays"]),
            rows,
        )
        expected = DailyClimate(ahead, held["expected_c"], held["expected_spread_c"])
    return ReferenceRoom(data, on, expected)


# --- what is compared --------------------------------------------------------------------------------------


def last_rows(design: Design) -> IntArray:
    """Sorted row of each animal's latest interval [A]."""
    out = np.zeros(design.data.animals, dtype=np.int64)
    np.maximum.at(out, design.animal, np.arange(design.count))
    return out


def quantity_names(design: Design) -> list[str]:
    """Hyperparameters, coefficients, intercept and slope of each taxon, latest predictor of each animal."""
    data = design.data
    coefficients = [*FIXED_NAMES, *COVARIATE_NAMES]
    coefficients += [f"place {place}" for place in design.places]
    coefficients += [f"group {group}" for group in range(data.groups)]
    return [
        *HYPER_NAMES,
        *coefficients,
        *(f"centre of taxon {taxon}" for taxon in range(data.taxa)),
        *(f"slope of taxon {taxon}" for taxon in range(data.taxa)),
        *(f"predictor of animal {animal}" for animal in range(data.animals)),
    ]


def classes(design: Design) -> dict[str, slice]:
    """Where each class of quantities stands among the names."""
    data = design.data
    first = len(HYPER_NAMES)
    taxa = first + len(FIXED_NAMES) + len(COVARIATE_NAMES) + design.places.size + data.groups
    animals = taxa + 2 * data.taxa
    return {
        "hyperparameters": slice(0, first),
        "coefficients": slice(first, taxa),
        "taxa": slice(taxa, animals),
        "animals": slice(animals, animals + data.animals),
    }


@dataclass(frozen=True)
class Moments:
    """Posterior mean and sd of every quantity, odds [A', H] within HORIZONS days by plain Bayes."""

    mean: FloatArray
    sd: FloatArray
    odds: FloatArray


def of_fit(fitted: ClockFit, room: ReferenceRoom) -> Moments:
    """The same quantities from the clock's fit: moments of the mixture over its points."""
    design = fitted.design
    rows = last_rows(design)
    means, variances = [], []
    for point in fitted.points:
        solved = point.solved
        taxa = solved.kappa[:, :2].T.ravel()
        spread = np.einsum("jdd->jd", solved.kappa_cov)[:, :2].T.ravel()
        means.append(np.concatenate([point.theta, solved.gamma, taxa, solved.mean[rows]]))
        variances.append(
            np.concatenate([0.0 * point.theta, np.diag(solved.gamma_cov), spread, solved.variance[rows]])
        )
    return Moments(*fitted.mixed(means, variances), odds_of(fitted, room))


def odds_of(fitted: ClockFit, room: ReferenceRoom, *, plain: bool = True) -> FloatArray:
    """Odds of the clock [A', H]; `plain` leaves out the rule that holds the share of odd intervals early on.

    The rule is a choice about what is reported, not an approximation (see `waiting.shares_of`).
    """
    rule = plain_shares if plain else shares_of
    told = forecast.forecast(fitted, room.asked, room.on, room.expected, shares=rule)
    return np.asarray(told.within[:, [forecast.WITHIN_DAYS.index(day) for day in HORIZONS]])


@dataclass(frozen=True)
class Gaps:
    """Means off in posterior sd, sds off as a share, of every quantity."""

    mean: FloatArray
    sd: FloatArray


def gaps_of(ours: Moments, reference: Moments) -> Gaps:
    """How far the fit is off."""
    return Gaps((ours.mean - reference.mean) / reference.sd, ours.sd / reference.sd - 1.0)


def load_reference(path: Path) -> tuple[Moments, dict[str, Any]]:
    """Recorded moments and odds, and all that was recorded with them."""
    held = json.loads(path.read_text(encoding="utf-8"))
    return Moments(*(np.array(held[name]) for name in ("mean", "sd", "odds"))), held
