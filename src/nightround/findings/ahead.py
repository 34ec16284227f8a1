"""What lies ahead of one animal, for its page: growth to come, its course for the figure, and a what-if."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.growth import RoomFutures, animal_futures
from nightround.findings.moult import ClockOdds
from nightround.findings.size import fit_room
from nightround.findings.what_if import what_if
from nightround.record.model import Record
from nightround.reports.ahead import AheadReport, FanDay

# Asked for where nobody asks for a day or a span of their own.
DAYS_AHEAD: Final = (182, 365, 730)
SPANS_MM: Final = (5, 10, 15, 20, 30, 40, 50, 60, 80, 100, 120, 140, 160, 180, 200, 240, 280)
SPANS_SHOWN: Final = 3
_FAN_DAYS: Final = 56
_FAN_SHORTEST, _FAN_LONGEST = 120, 1096
_FAN_MOULTS: Final = 3


def ahead(
    record: Record,
    odds: ClockOdds | None,
    code: str,
    *,
    days: Sequence[date] = (),
    spans_mm: Sequence[float] = (),
) -> AheadReport:
    """Return what can be said of one animal's future.

    odds           of the same record (`findings.moult.clock_odds`); None in a room without animals
    days, spans_mm asked for; without them half a year, one and two years ahead, and the next round spans
    Errors: Refusal for a code that the record does not have, or a day before the record's.
    """
    nothing = AheadReport(code, record.on, None, (), 0, 0, None)
    if odds is None or code not in {animal.code for animal in record.living()}:
        return nothing
    futures = animal_futures(record, odds, code)
    own, of_taxon = _readings(record, code)
    warmer = what_if(record, odds, code)
    if own == 0:
        return AheadReport(code, record.on, None, (), 0, of_taxon, warmer)
    spans = tuple(spans_mm) or _next_spans(futures, code, record.on)
    on_days = tuple(days) or tuple(record.on + timedelta(days=ahead) for ahead in DAYS_AHEAD)
    growth = futures.report(code, days=on_days, spans_mm=spans)
    return AheadReport(code, record.on, growth, _fan(futures, code, record.on), own, of_taxon, warmer)


def _readings(record: Record, code: str) -> tuple[int, int]:
    """Believed readings of an animal, and of its taxon."""
    room = fit_room(record)
    row = next(row for row, history in enumerate(room.histories) if history.animal == code)
    return int(room.n_readings[row]), int(room.fit.n_readings[room.fit.data.taxon_of_animal[row]])


def _next_spans(futures: RoomFutures, code: str, on: date) -> tuple[float, ...]:
    """The next few round leg spans that it has most probably not reached."""
    now = futures.size_on(code, on)
    if now is None:
        return ()
    return tuple(float(mm) for mm in SPANS_MM if mm > now.quantiles["0.50"])[:SPANS_SHOWN]


def _fan(futures: RoomFutures, code: str, on: date) -> tuple[FanDay, ...]:
    """The course of the carapace until about the third moult to come, a third of a year to three years."""
    moults = futures.moult_days(code, 0.5)[:_FAN_MOULTS]
    reached = [day for day in moults if np.isfinite(day)]
    last = float(np.clip(1.15 * max(reached, default=0.0), _FAN_SHORTEST, _FAN_LONGEST))
    days = [on + timedelta(days=int(at)) for at in np.unique(np.round(np.linspace(0.0, last, _FAN_DAYS)))]
    return tuple(
        FanDay(day, size.quantiles["0.10"], size.quantiles["0.50"], size.quantiles["0.90"])
        for day, size in zip(days, futures.course(code, days), strict=True)
    )
