"""Appetite and signs of a room's record weighed into each animal's moult forecast.

What is read from the record stands in `appetite_record`, arrays in `appetite_data`, words in
`appetite_words`; what it all means in `science/appetite`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.appetite_data import Running, View, completed, running
from nightround.findings.appetite_words import note_of
from nightround.findings.distribution import with_distribution
from nightround.findings.size import ClockSize
from nightround.record.model import Record
from nightround.reports.forecast import AppetiteNote
from nightround.science.appetite.evidence import Evidence, evidence
from nightround.science.appetite.fit import AppetiteFit, fit_appetite
from nightround.science.appetite.tilt import middles, tilted
from nightround.science.clock.fit import ClockFit
from nightround.science.clock.forecast import QUANTILES, ClockForecast
from nightround.science.thermal import BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    from nightround.findings.moult import ClockRoom

# Where between the last look and the close of the day a moult unseen is taken to have been.
_UNSEEN_SHARES: Final = np.array([1.0, 3.0, 5.0]) / 6.0


@dataclass(frozen=True)
class Weighed:
    """A forecast with appetite and signs weighed in.

    result   as the clock's, its odds and quantiles multiplied by the evidence
    moved    [A'] whether the evidence said anything; where it did not every digit is the clock's
    fit      of the room's appetite, to be used again
    notes    by code, for every animal asked about
    """

    result: ClockForecast
    moved: BoolArray
    fit: AppetiteFit
    notes: Mapping[str, AppetiteNote]


def weigh(
    record: Record,
    room: ClockRoom,
    fitted: ClockFit,
    plain: ClockForecast,
    sizes: Mapping[str, ClockSize],
    *,
    fit: AppetiteFit | None = None,
) -> Weighed:
    """Weigh what each animal ate and showed since its last moult into the clock's forecast.

    plain   the clock's own forecast of every animal asked about; sizes as given to the clock, for hardening
    fit     an earlier fit of the same room's appetite, to be used again; else it is fitted to the record
    """
    view = View.of(room, fitted, middles(plain.grid_days))
    if fit is None:
        fit = fit_appetite(completed(record, room, view, sizes))
    nothing = Weighed(plain, np.zeros(room.asked.size, dtype=bool), fit, {})
    return _weighed(record, room, view, plain, sizes, nothing, np.arange(room.asked.size))


def weigh_again(
    record: Record,
    room: ClockRoom,
    fitted: ClockFit,
    plain: ClockForecast,
    sizes: Mapping[str, ClockSize],
    before: Weighed,
    at: IntArray,
) -> Weighed:
    """Weigh the animals in rows `at` [B] of the forecast anew, all others as they were before.

    record, room   as they are now; the fits are the earlier ones. The same as `weigh` with `fit=before.fit`.
    """
    view = View.of(room, fitted, middles(plain.grid_days))
    return _weighed(record, room, view, plain, sizes, before, at)


def _weighed(
    record: Record,
    room: ClockRoom,
    view: View,
    plain: ClockForecast,
    sizes: Mapping[str, ClockSize],
    before: Weighed,
    at: IntArray,
) -> Weighed:
    now = running(record, room, view, sizes, plain, at)
    to_come = now.passed[:, None] + view.to_come(room.asked[at])
    says = evidence(before.fit, now.now, np.concatenate([_unseen_lengths(now), to_come], axis=1))
    early = _UNSEEN_SHARES.size
    cumulative = tilted(plain.cumulative[at], says.log_likelihood[:, early:])
    moved = np.any(cumulative != plain.cumulative[at], axis=1)
    unseen = np.where(moved, _unseen(plain.unseen[at], plain.cumulative[at], says), plain.unseen[at])
    result = _with(plain, before.result, at, moved, cumulative, unseen)
    chances = _average(cumulative, says.in_premoult[:, early:], says.unexplained[:, early:])
    notes = dict(before.notes)
    for place, row in enumerate(now.row):
        median = float(result.quantile_days[at[place], QUANTILES.index(0.5)])
        note = note_of(room.histories[row.animal], row, now.moments[place], room.on, median)
        notes[note.animal] = replace(
            note, in_premoult=float(chances[0][place]), unexplained=float(chances[1][place])
        )
    everyone = before.moved.copy()
    everyone[at] = moved
    return Weighed(result, everyone, before.fit, notes)


def _unseen_lengths(now: Running) -> FloatArray:
    """Lengths of intervals that ended between the last look and the close of the day [B, 3]."""
    return np.asarray(now.seen[:, None] + (now.passed - now.seen)[:, None] * _UNSEEN_SHARES)


def _steps(cumulative: FloatArray) -> FloatArray:
    """Mass of every step of the distribution, the last one later or never [B, H]."""
    steps = np.concatenate([np.diff(cumulative, axis=1), 1.0 - cumulative[:, -1:]], axis=1)
    return np.asarray(np.maximum(steps, 0.0))


def _unseen(unseen: FloatArray, cumulative: FloatArray, says: Evidence) -> FloatArray:
    """Chance that it has moulted since the last look, once the evidence counts there too [B].

    Whatever was seen came before the last look, so both cases are judged by the same moments.
    """
    early = _UNSEEN_SHARES.size
    top = says.log_likelihood.max(axis=1, keepdims=True)
    likelihood = np.exp(says.log_likelihood - top)
    gone = unseen * likelihood[:, :early].mean(axis=1)
    still = (1.0 - unseen) * (_steps(cumulative) * likelihood[:, early:]).sum(axis=1)
    return np.asarray(np.where(gone + still > 0.0, gone / np.maximum(gone + still, 1e-300), unseen))


def _with(
    plain: ClockForecast,
    before: ClockForecast,
    at: IntArray,
    moved: BoolArray,
    cumulative: FloatArray,
    unseen: FloatArray,
) -> ClockForecast:
    """The forecast before with rows `at` put anew; those that evidence did not move are the clock's own."""
    within, days = before.within.copy(), before.quantile_days.copy()
    whole, chance = before.cumulative.copy(), before.unseen.copy()
    within[at], days[at], whole[at] = plain.within[at], plain.quantile_days[at], plain.cumulative[at]
    chance[at] = unseen
    anew = replace(before, within=within, quantile_days=days, cumulative=whole, unseen=chance)
    return with_distribution(anew, at[moved], cumulative[moved])


def _average(
    cumulative: FloatArray, in_premoult: FloatArray, unexplained: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Chances of premoult and of an unexplained fast, over the lengths that count now [B], [B]."""
    steps = _steps(cumulative)
    return (steps * in_premoult).sum(axis=1), (steps * unexplained).sum(axis=1)
