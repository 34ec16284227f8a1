"""What the moult clock is given: plain arrays with integer ids, checked on the way in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.clock.priors import COVARIATE_NAMES
from nightround.science.thermal import BoolArray, DailyClimate, FloatArray, IntArray, Stays

NO_DAY: Final = -1


@dataclass(frozen=True)
class Intervals:
    """Moult intervals, one row each, any order. Days are integers; NO_DAY (-1) where there is none.

    animal [N]                    index of the animal
    start_first, start_last [N]   first and last day on which the opening moult may have happened (both in);
                                  NO_DAY when the last moult before arrival is not known
    end_first, end_last [N]       the same for the closing moult; NO_DAY while the interval runs
    looked [N]                    for a running interval: the last day on which it was known not to have
                                  moulted
    watched_from [N]              first day under watch when the interval began before that; NO_DAY when the
                                  opening moult itself was under watch. Needed where the opening is not known
    log_size, log_size_sd [N]     size during the interval, natural log, with its sd; NaN where unknown
    covariates [N, 4]             ration (standardised, of the previous interval), winter (share of the
                                  interval), legs lost (0 or 1), newcomer (1 for an interval that opened
                                  before arrival or at the first moult after it); NaN where unknown
    """

    animal: IntArray
    start_first: IntArray
    start_last: IntArray
    end_first: IntArray
    end_last: IntArray
    looked: IntArray
    watched_from: IntArray
    log_size: FloatArray
    log_size_sd: FloatArray
    covariates: FloatArray

    @property
    def count(self) -> int:
        return int(self.animal.size)

    @property
    def running(self) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        return np.asarray(self.end_last == NO_DAY)

    def only(self, rows: IntArray | BoolArray) -> Intervals:
        """Return these rows, in the order given."""
        return Intervals(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True)
class ClockData:
    """A whole room for the moult clock.

    animal_taxon [A]   taxon of each animal
    taxon_group [J]    pooling group of each taxon
    taxon_size_sd [J]  doubt of the taxon's mean log size (0 where it was measured)
    animal_size_sd [A] doubt of log size shared by all intervals of the animal (its level, not its growth)
    chance_last [A]    chance that the animal's latest moult was its last (0 where nothing speaks for it)
    climate            daily means by place, up to the as-of day at least
    stays              where each animal lived
    intervals          at most one running interval an animal
    """

    animal_taxon: IntArray
    taxon_group: IntArray
    taxon_size_sd: FloatArray
    animal_size_sd: FloatArray
    chance_last: FloatArray
    climate: DailyClimate
    stays: Stays
    intervals: Intervals

    @property
    def animals(self) -> int:
        return int(self.animal_taxon.size)

    @property
    def taxa(self) -> int:
        return int(self.taxon_group.size)

    @property
    def groups(self) -> int:
        return int(self.taxon_group.max()) + 1 if self.taxon_group.size else 0

    def __post_init__(self) -> None:
        _check_shapes(self)
        _check_days(self.intervals)
        _check_running(self)


def _check_shapes(data: ClockData) -> None:
    rows = data.intervals
    for name, values in vars(rows).items():
        wanted = (rows.count, len(COVARIATE_NAMES)) if name == "covariates" else (rows.count,)
        if values.shape != wanted:
            raise Refusal(f"interval column {name} needs shape {wanted}", got=f"{values.shape}")
    for name in ("animal_size_sd", "chance_last"):
        if getattr(data, name).shape != data.animal_taxon.shape:
            raise Refusal(f"one {name} an animal was wanted", got=f"{getattr(data, name).shape}")
    if data.taxon_size_sd.shape != data.taxon_group.shape or not np.all(data.taxon_size_sd >= 0.0):
        raise Refusal("one sd of the mean log size a taxon was wanted", got=f"{data.taxon_size_sd.shape}")
    bounds = (
        ("animal", rows.animal, data.animals),
        ("taxon", data.animal_taxon, data.taxa),
        ("stay's animal", data.stays.animal, data.animals),
        ("stay's place", data.stays.place, data.climate.places),
    )
    for name, index, size in bounds:
        if index.size and (index.min() < 0 or index.max() >= size):
            raise Refusal(
                f"every {name} index must lie in 0..{size - 1}", got=f"{index.min()}..{index.max()}"
            )
    if np.any((data.chance_last < 0.0) | (data.chance_last >= 1.0)):
        raise Refusal("chances of a last moult must lie in 0..1, below 1")
    if np.any(rows.log_size_sd < 0.0) or not np.all(data.animal_size_sd >= 0.0):
        raise Refusal("the sd of a log size cannot be negative")


def _refuse_rows(wrong: np.ndarray[tuple[int], np.dtype[np.bool_]], what: str) -> None:
    if np.any(wrong):
        raise Refusal(what, got=f"otherwise in interval row {int(np.argmax(wrong))}")


def _check_days(rows: Intervals) -> None:
    known = rows.start_last != NO_DAY
    ended = ~rows.running
    _refuse_rows(
        known & (rows.start_first > rows.start_last), "a moult's first possible day must not follow its last"
    )
    _refuse_rows(
        ended & (rows.end_first > rows.end_last), "a moult's first possible day must not follow its last"
    )
    _refuse_rows(known & ended & (rows.end_last <= rows.start_first), "an interval must end after it began")
    _refuse_rows(
        ~known & (rows.watched_from == NO_DAY), "without a known last moult the first day of watch is needed"
    )
    _refuse_rows(rows.running & (rows.looked == NO_DAY), "a running interval needs the day of the last look")
    begun = np.where(known, rows.start_first, rows.watched_from)
    _refuse_rows(rows.running & (rows.looked < begun), "the last look must not precede the interval")
    _refuse_rows(
        ~known & ended & (rows.end_last < rows.watched_from), "a seen moult must not precede the watch"
    )


def _check_running(data: ClockData) -> None:
    rows = data.intervals
    runs = np.bincount(rows.animal[rows.running], minlength=data.animals)
    if np.any(runs > 1):
        raise Refusal(
            "at most one running interval an animal", got=f"{runs.max()} for animal {int(runs.argmax())}"
        )
