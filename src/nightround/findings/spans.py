"""Drawn leg spans and carapaces of every living animal on days to come, and the moults between.

What plans that choose homes and prey by size build on: whole draws, so that a chance of several things
at once (too small for the home, not in premoult) can be counted. The draws are those of the size staircase,
with waits from the moult clock (`findings.growth`), and its assumptions: no death, no lost legs, no moults
but those on record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.growth import waits_of
from nightround.findings.moult import ClockOdds
from nightround.findings.size import fit_room
from nightround.foundation.refusal import Refusal
from nightround.record.model import Record
from nightround.science.size.forward import NEVER, Futures, simulate_forward

Floats32 = NDArray[np.float32]
Floats = NDArray[np.float64]

DRAWS: Final = 200
_SEED: Final = 1


@dataclass(frozen=True)
class RoomSpans:
    """Drawn sizes of a room's living animals: S draws, n animals, T days, M moults to come.

    on, codes    the record's day; the living animals by code, in the order of the arrays
    days         the days asked for; `ahead` are the same as days from `on`
    readings     (n,) how many readings of each are believed; 0: never measured, its sizes are NaN
    span_mm      (S, n, T) leg span at the end of each day
    carapace_mm  (S, n, T) carapace length at the end of each day
    moult_day    (M, S, n) day of each moult to come from `on`; inf: not drawn by the last day
    mature_day   (S, n) day of the maturing moult from `on`; 0 mature already, inf not by the last day
    female       (S, n) sex drawn
    """

    on: date
    codes: tuple[str, ...]
    days: tuple[date, ...]
    readings: NDArray[np.int64]
    span_mm: Floats32
    carapace_mm: Floats32
    moult_day: Floats32
    mature_day: Floats32
    female: NDArray[np.bool_]

    @property
    def ahead(self) -> Floats:
        """Days (T,) from the record's day."""
        return np.array([(day - self.on).days for day in self.days], dtype=np.float64)

    def row(self, code: str) -> int:
        """Return the animal's place in the arrays. Raises Refusal for a code that is not among the living."""
        if code not in self.codes:
            raise Refusal("a living animal of the room", got=code)
        return self.codes.index(code)

    def measured(self, code: str) -> bool:
        """Whether any reading of the animal is believed, so that its sizes mean something."""
        return bool(self.readings[self.row(code)] > 0)

    def reached(self, code: str, span_mm: float) -> Floats:
        """Days (S,) from `on` until the animal first spans so much; inf: not by the last day asked for."""
        row = self.row(code)
        large = self.span_mm[:, row] >= span_mm
        found = np.where(large.any(axis=1), self.ahead[large.argmax(axis=1)], np.inf)
        return np.asarray(found, dtype=np.float64)


def room_spans(
    record: Record, odds: ClockOdds | None, days: Sequence[date], draws: int = DRAWS, *, seed: int = _SEED
) -> RoomSpans:
    """Draw sizes of every living animal on days to come, the same for the same record, days and seed.

    odds   the moult clock's fit and forecast of the same record (`findings.moult.clock_odds`, `desk.odds`);
           None only in a room without animals
    days   rising, none before the record's day
    Errors: Refusal for days that do not rise or lie in the past.
    """
    wanted = tuple(days)
    if not wanted or wanted[0] < record.on or any(a >= b for a, b in zip(wanted, wanted[1:], strict=False)):
        raise Refusal(
            f"rising days from {record.on.isoformat()} on", got=str([d.isoformat() for d in wanted])
        )
    codes = tuple(animal.code for animal in record.living())
    if not codes or odds is None:
        return _nobody(record.on, wanted, draws)
    room = fit_room(record)
    at = {history.animal: row for row, history in enumerate(room.histories)}
    rows = np.array([at[code] for code in codes], dtype=np.int64)
    rng = np.random.default_rng([seed, record.on.toordinal()])
    horizon = float((wanted[-1] - record.on).days)
    futures = simulate_forward(
        room.fit, waits_of(room, odds), rng, draws=draws, horizon_days=horizon, animals=rows
    )
    readings = np.asarray(room.n_readings, dtype=np.int64)[rows]
    return _from_futures(record.on, codes, wanted, readings, futures)


def _from_futures(
    on: date, codes: tuple[str, ...], days: tuple[date, ...], readings: NDArray[np.int64], futures: Futures
) -> RoomSpans:
    ahead = [float((day - on).days) for day in days]
    unmeasured = readings == 0
    sizes = []
    for part in ("leg_span", "carapace_length"):
        of_part = _sizes(futures, part, ahead)
        of_part[:, unmeasured] = np.nan
        sizes.append(of_part)
    mature = np.full(futures.mature_at.shape, np.inf, dtype=np.float32)
    for moult in range(len(futures.day)):
        mature = np.where(futures.mature_at == moult, futures.day[moult], mature)
    mature[futures.mature_at == NEVER] = np.inf
    moults = futures.day[1:].astype(np.float32)
    return RoomSpans(
        on, codes, days, readings, sizes[0], sizes[1], moults, mature.astype(np.float32), futures.female
    )


def _sizes(futures: Futures, part: str, ahead: Sequence[float]) -> Floats32:
    """Sizes (S, n, T): that after the last moult by each day."""
    made = np.empty((*futures.female.shape, len(ahead)), dtype=np.float32)
    after = [np.exp(futures.log_part(part, moult)).astype(np.float32) for moult in range(len(futures.day))]
    for column, day in enumerate(ahead):
        value = after[0]
        for moult in range(1, len(after)):
            value = np.where(futures.day[moult] <= day, after[moult], value)
        made[:, :, column] = value
    return made


def _nobody(on: date, days: tuple[date, ...], draws: int) -> RoomSpans:
    none = np.empty((draws, 0), dtype=np.float32)
    sizes = np.empty((draws, 0, len(days)), dtype=np.float32)
    readings = np.empty(0, dtype=np.int64)
    return RoomSpans(on, (), days, readings, sizes, sizes, none[None], none, none.astype(np.bool_))
