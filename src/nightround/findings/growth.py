"""How the animals of a room will grow: sizes after moults and on days, maturity by sex, final sizes.

Drawn futures of the size staircase, with waits from the moult clock. Nothing later than the record's day is
used; the futures hold for "not moulted up to and including it".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.moult import ClockOdds
from nightround.findings.size import RoomFit, fit_room
from nightround.foundation.refusal import Refusal
from nightround.record.model import Record
from nightround.reports.size import GrowthReport, MaturityToCome, SizeToCome
from nightround.science.size.forward import MOULTS_PAST_MATURITY, Futures, Waits, simulate_forward
from nightround.science.size.outcomes import (
    THREE,
    MaturityOutlook,
    day_reached,
    final_size,
    maturity_outlook,
    quantiles,
    size_after,
    size_on,
)
from nightround.science.thermal import IntArray, prepare_warmth, thermal_table

METHOD: Final = "size staircase simulated forward, waits from the moult clock"
LEVEL_NAMES: Final = tuple(f"{level:.2f}" for level in THREE)
MOULTS_SHOWN: Final = 3
ASSUMPTIONS: Final = (
    "moults that nobody recorded are not counted",
    "no death, no lost legs",
    f"females: final size is that after {MOULTS_PAST_MATURITY} moults past the maturing one",
)
_LEVELS: Final = np.arange(1, 100) / 100.0
_UNASKED_LOG_WARMTH: Final = float(np.log(90.0))


@dataclass(frozen=True)
class RoomFutures:
    """Drawn futures of a room, or of one animal of it; ask about an animal by its code.

    codes    animals in the order of the futures; readings: how many readings of each are believed
    """

    on: date
    codes: tuple[str, ...]
    readings: IntArray
    futures: Futures
    outlooks: tuple[MaturityOutlook, MaturityOutlook]
    here: frozenset[str]

    def report(self, code: str, *, days: Sequence[date] = (), spans_mm: Sequence[float] = ()) -> GrowthReport:
        """How one animal will grow. `days`: leg span at their ends; `spans_mm`: when they are first reached.

        Errors: Refusal for a code that is not in the room, and for days before the record's.
        """
        row = self._row(code)
        if any(day < self.on for day in days):
            raise Refusal(f"days from {self.on.isoformat()} on", got=min(days).isoformat())
        if code not in self.here or self.readings[row] == 0:
            return GrowthReport(code, self.on, 0, (), (), (), (), None, METHOD, ASSUMPTIONS)
        final = quantiles(final_size(self._one(row), "carapace_length"), THREE)[0]
        return GrowthReport(
            code,
            self.on,
            len(self.futures.female),
            self._after(row),
            tuple((day, self._on_day(row, day)) for day in days),
            tuple((float(mm), self._reached(row, mm)) for mm in spans_mm),
            self._maturity(row),
            SizeToCome("carapace_length", "mm", _table(final), 1.0),
            METHOD,
            ASSUMPTIONS,
        )

    def _row(self, code: str) -> int:
        if code not in self.codes:
            raise Refusal("an animal of the room whose futures were drawn", got=code)
        return self.codes.index(code)

    def _one(self, row: int) -> Futures:
        one, f = slice(row, row + 1), self.futures
        parts = {name: (a[:, one], b[:, one], c[:, one]) for name, (a, b, c) in f.parts.items()}
        return Futures(f.log_size[:, :, one], f.day[:, :, one], f.mature_at[:, one], f.female[:, one], parts)

    def _after(self, row: int) -> tuple[tuple[int, SizeToCome], ...]:
        found = []
        one = self._one(row)
        for moults in range(1, MOULTS_SHOWN + 1):
            for part in ("carapace_length", "leg_span"):
                values, chance = size_after(one, part, moults)
                if chance[0] > 0.0:
                    found.append((moults, SizeToCome(part, "mm", _table(values[0]), float(chance[0]))))
        return tuple(found)

    def size_on(self, code: str, day: date, part: str = "leg_span") -> SizeToCome | None:
        """Size of a part of one animal at the end of a day to come; None where it was never measured."""
        row = self._row(code)
        return None if self.readings[row] == 0 else self._on_day(row, day, part)

    def course(
        self, code: str, days: Sequence[date], part: str = "carapace_length"
    ) -> tuple[SizeToCome, ...]:
        """Size of a part of one animal at the ends of days to come; empty where it was never measured."""
        row = self._row(code)
        return () if self.readings[row] == 0 else tuple(self._on_day(row, day, part) for day in days)

    def moult_days(self, code: str, level: float) -> tuple[float, ...]:
        """Days until each further moult at a level of the futures, inf where it is not reached."""
        row = self._row(code)
        return tuple(float(quantiles(day[:, row : row + 1], (level,))[0, 0]) for day in self.futures.day[1:])

    def _on_day(self, row: int, day: date, part: str = "leg_span") -> SizeToCome:
        values = size_on(self._one(row), part, float((day - self.on).days))
        return SizeToCome(part, "mm", _table(values[0]), 1.0)

    def _reached(self, row: int, mm: float) -> dict[str, float | None]:
        return _days(quantiles(day_reached(self._one(row), "leg_span", mm), THREE)[0])

    def _maturity(self, row: int) -> tuple[MaturityToCome, ...]:
        found = []
        for sex, outlook in zip(("female", "male"), self.outlooks, strict=True):
            if outlook.chance[row] == 0.0:
                continue
            young = not np.isnan(outlook.size[row]).any()
            final = outlook.final[row]
            found.append(
                MaturityToCome(
                    sex,
                    float(outlook.chance[row]),
                    float(outlook.already[row]),
                    float(outlook.next_moult[row]),
                    _days(outlook.day[row]) if young else None,
                    _table(outlook.size[row]) if young and np.isfinite(outlook.size[row]).all() else None,
                    None if np.isnan(final).any() else _table(final),
                )
            )
        return tuple(found)


def _table(values: NDArray[np.float64]) -> dict[str, float]:
    return {name: float(value) for name, value in zip(LEVEL_NAMES, values, strict=True)}


def _days(values: NDArray[np.float64]) -> dict[str, float | None]:
    return {
        name: float(value) if np.isfinite(value) else None
        for name, value in zip(LEVEL_NAMES, values, strict=True)
    }


def room_futures(record: Record, odds: ClockOdds, *, draws: int = 500, seed: int = 1) -> RoomFutures:
    """Draw the futures of every animal of the record. The same record and seed give the same numbers.

    odds   the moult clock's fit and forecast of the same record (`findings.moult.clock_odds`)
    """
    room = fit_room(record)
    rng = np.random.default_rng([seed, record.on.toordinal()])
    return _futures(record, room, simulate_forward(room.fit, waits_of(room, odds), rng, draws=draws), None)


def animal_futures(
    record: Record, odds: ClockOdds, code: str, *, draws: int = 2000, seed: int = 1
) -> RoomFutures:
    """Draw the futures of one animal. The same record, animal and seed give the same numbers.

    Errors: Refusal for a code that the record does not have.
    """
    room = fit_room(record)
    row = next((row for row, history in enumerate(room.histories) if history.animal == code), None)
    if row is None:
        raise Refusal("an animal of the room", got=code)
    rng = np.random.default_rng([seed, record.on.toordinal(), *code.encode()])
    only = np.array([row], dtype=np.int64)
    drawn = simulate_forward(room.fit, waits_of(room, odds), rng, draws=draws, animals=only)
    return _futures(record, room, drawn, row)


def _futures(record: Record, room: RoomFit, drawn: Futures, row: int | None) -> RoomFutures:
    rows = range(len(room.histories)) if row is None else (row,)
    return RoomFutures(
        record.on,
        tuple(room.histories[at].animal for at in rows),
        np.asarray(room.n_readings, dtype=np.int64)[list(rows)],
        drawn,
        (maturity_outlook(drawn, female=True), maturity_outlook(drawn, female=False)),
        frozenset(animal.code for animal in record.living()),
    )


def waits_of(room: RoomFit, odds: ClockOdds) -> Waits:
    """The moult clock's forecast as plain arrays, in the order of the size fit's animals.

    An animal without a running interval does not moult again. The clock's settings are those of its
    heaviest point; single intervals have its residual spread.
    """
    clock, fitted, result = odds.room, odds.fitted, odds.result
    heaviest = int(np.argmax(fitted.weight))
    point, hyper = fitted.points[heaviest], fitted.hyper()[heaviest]
    row_of = {history.animal: row for row, history in enumerate(room.histories)}
    n = len(room.histories)
    first = np.full((n, len(_LEVELS)), np.inf)
    log_warmth, place = np.full(n, _UNASKED_LOG_WARMTH), np.zeros(n, dtype=np.int64)
    per_size, level_sd = np.zeros(n), np.zeros(n)
    variance = _level_variance(odds, point.cavity_variance)
    for at, animal in enumerate(clock.asked):
        row = row_of[clock.codes[animal]]
        first[row] = _inverse(result.cumulative[at], result.grid_days)
        log_warmth[row] = result.median_log_duration[at]
        level_sd[row] = variance[at] ** 0.5
        per_size[row] = point.solved.kappa[clock.data.animal_taxon[animal], 1]
        stays = clock.histories[animal].stays
        place[row] = clock.places.index(stays[-1][0] if stays else "")
    table = thermal_table(prepare_warmth(clock.expected), float(hyper[0])).elapsed
    return Waits(_LEVELS, first, log_warmth, level_sd, per_size, float(np.exp(hyper[1])), table, place)


def _level_variance(odds: ClockOdds, cavity_variance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Variance of the log level of each animal asked about."""
    design = odds.fitted.design
    running = design.data.intervals.running[design.order]
    row_of = np.zeros(design.data.animals, dtype=np.int64)
    row_of[design.animal[running]] = np.flatnonzero(running)
    return np.asarray(cavity_variance[row_of[odds.room.asked]], dtype=np.float64)


def _inverse(cumulative: NDArray[np.float64], days: NDArray[np.float64]) -> NDArray[np.float64]:
    rising = np.maximum.accumulate(cumulative) + 1e-12 * np.arange(len(cumulative))
    found = np.interp(_LEVELS, rising, days)
    found[rising[-1] < _LEVELS] = np.inf
    return np.asarray(found, dtype=np.float64)
