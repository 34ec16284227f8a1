"""Odds for the next moult of each animal, in calendar days from the as-of day.

For animal i the time T to its next moult after the close of day `on` follows from the interval's length D
(days at 25 C), which is log-normal with a small outlier share given the hyperparameters, cut off at what has
already passed:

    P(T <= t) = (1 - p) (F(d0 + w(t)) - F(d0)) / (p + (1 - p) (1 - F(d0)))

d0 is the warmth since the last moult up to the close of `on`, w(t) the warmth expected in the next t days,
p the chance that the last moult was the final one. The hyperparameters and the cells of a last moult found
late are averaged over. An animal whose last moult is not known is in the middle of an interval of unknown
age: F is then the distribution of a renewal process's remaining wait.

Everything reported as `next moult` is conditional on no moult up to and including `on`; the chance that
one has happened unseen since the last look is reported beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.clock import sites
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.design import CELLS, Design, Kind, log_length
from nightround.science.clock.fit import ClockFit, hyper_at
from nightround.science.clock.waiting import (
    DurationEvidence,
    Shares,
    WatchedLater,
    gone_with_evidence,
    plain_shares,
    shares_of,
    survival,
    watched_later,
)
from nightround.science.thermal import (
    BoolArray,
    DailyClimate,
    FloatArray,
    IntArray,
    Moments,
    Warmth,
    clock_at,
    extended,
    locate,
    prepare_warmth,
    thermal_table,
)

WITHIN_DAYS: Final = (1, 2, 3, 5, 7, 10, 14, 21, 30, 45, 60, 90, 120, 180, 365)
QUANTILES: Final = tuple(round(0.05 * step, 2) for step in range(1, 20))
# Fine near today, then ever coarser, to about ten years.
_GRID: Final = np.unique(
    np.concatenate([np.arange(0.0, 22.0), np.round(np.geomspace(22.0, 3650.0, 75)), WITHIN_DAYS])
)
# Logs of lengths beyond this stand for no length that could be.
_LONGEST_LOG: Final = 300.0
_NODES: Final = ((-float(np.sqrt(3.0)), 1.0 / 6.0), (0.0, 2.0 / 3.0), (float(np.sqrt(3.0)), 1.0 / 6.0))


@dataclass(frozen=True)
class ClockForecast:
    """Odds for the animals asked about; rows in the order asked.

    within [A', 15]           P(moulted by the end of day on + n), n in WITHIN_DAYS
    quantile_days [A', 19]    days from the close of `on`; NaN where not reachable
    unseen [A']               P(moulted after the last look, up to the close of `on`)
    elapsed_level [A']        chance, judged at the last moult, that it would have moulted again by `on`;
                              NaN if unknown
    usual_share [A']          warmth passed since the last moult over the median length; NaN if it is not
                              known
    grid_days [H], cumulative [A', H]   the whole distribution, for figures and scores
    median_log_duration [A']  log of the interval's median length before anything about its own course is
    known
    """

    on: int
    animals: IntArray
    within: FloatArray
    quantile_days: FloatArray
    unseen: FloatArray
    elapsed_level: FloatArray
    usual_share: FloatArray
    grid_days: FloatArray
    cumulative: FloatArray
    median_log_duration: FloatArray


@dataclass(frozen=True)
class _Asked:
    """The running intervals of the animals asked about: sorted rows, starts, day of the last look."""

    rows: IntArray
    known: BoolArray
    node: IntArray
    starts: FloatArray
    looked: FloatArray
    place: IntArray
    chance: FloatArray


def _asked(design: Design, animals: IntArray) -> _Asked:
    data = design.data
    rows = data.intervals
    row_of = np.full(data.animals, -1)
    running = rows.running[design.order]
    row_of[design.animal[running]] = np.flatnonzero(running)
    at = row_of[animals]
    if np.any(at < 0):
        raise Refusal(
            "a running interval was wanted for every animal asked about", got=f"none for {animals[at < 0][0]}"
        )
    source = design.order[at]
    known = rows.start_last[source] != NO_DAY
    node = np.full(design.count, -1)
    for family in design.families:
        node[family.rows] = family.start_node
    node = node[at]
    first = np.where(known, rows.start_first[source], rows.watched_from[source]).astype(np.float64)
    last = np.where(known, rows.start_last[source], rows.watched_from[source]).astype(np.float64)
    share = (np.arange(CELLS) + 0.5) / CELLS
    starts = first[:, None] + (last + 1.0 - first)[:, None] * share
    narrow = node < 0
    starts[narrow] = (first + np.where(known, 0.5, 0.0))[narrow, None]
    last_stay = np.concatenate([design.paths.first_row[1:], [design.paths.place.size]]) - 1
    return _Asked(
        at,
        known,
        node,
        starts,
        rows.looked[source] + 1.0,
        design.paths.place[last_stay[animals]],
        data.chance_last[animals],
    )


@dataclass(frozen=True)
class _Task:
    """Everything of one forecast that does not change with the hyperparameters."""

    asked: _Asked
    closed: Moments
    looked: Moments
    starts: tuple[Moments, ...]
    late: IntArray
    watched: IntArray
    entry: Moments
    expected: Warmth
    evidence: DurationEvidence | None
    shares: Shares


def _make_task(
    design: Design,
    animals: IntArray,
    on: int,
    expected: DailyClimate,
    evidence: DurationEvidence | None,
    shares: Shares,
) -> _Task:
    asked = _asked(design, animals)
    first_day, columns = design.warmth.first_day, design.warmth.exponent.shape[1] + 1
    late = np.flatnonzero(asked.node >= 0)
    of_kind = [family.rows for family in design.families if family.kind is Kind.LATE]
    watched = np.flatnonzero(np.isin(asked.rows, np.concatenate([np.zeros(0, dtype=np.int64), *of_kind])))
    began = design.data.intervals.watched_from[design.order[asked.rows[watched]]].astype(np.float64)

    def at(who: IntArray, days: FloatArray) -> Moments:
        return locate(design.paths, who, days, first_day, columns)

    starts = [at(animals, asked.starts[:, 0])]
    starts += [at(animals[late], asked.starts[late, cell]) for cell in range(1, CELLS if late.size else 1)]
    return _Task(
        asked,
        at(animals, np.full(animals.size, on + 1.0)),
        at(animals, np.minimum(asked.looked, on + 1.0)),
        tuple(starts),
        late,
        watched,
        at(animals[watched], began),
        prepare_warmth(expected),
        evidence,
        shares,
    )


def _expected_warmth(expected: Warmth, log_q10: float) -> tuple[FloatArray, FloatArray]:
    """Cumulative warmth over the grid and the sd of its log, by place [P, H]; the last year goes on."""
    table = thermal_table(expected, log_q10)
    total, doubt = (extended(values, _GRID) for values in (table.elapsed, table.doubtful))
    return total, doubt / np.maximum(total, 1e-9)


@dataclass
class _Sums:
    """Running averages over the hyperparameters' points."""

    cumulative: FloatArray
    unseen: FloatArray
    median: FloatArray
    passed: FloatArray
    level: FloatArray


@dataclass
class _Alive:
    """Unconditional survival, by climate node over the grid.

    look, after_look   to the last look, and to the close of `on` as judged at that look
    plain_look, judged_early   to the last look and to the close of `on`, as judged at the last moult
    now, then          to the close of `on` and over the grid, as judged at the close of `on`
    """

    look: FloatArray
    after_look: FloatArray
    plain_look: FloatArray
    judged_early: FloatArray
    now: FloatArray
    then: list[FloatArray]
    log_then: FloatArray


@dataclass(frozen=True)
class _Point:
    """One setting of the hyperparameters as the forecast needs it."""

    weight: float
    noise: sites.Noise
    mean: FloatArray
    variance: FloatArray
    forward: FloatArray
    closed: FloatArray
    looked: FloatArray
    starts: list[FloatArray]
    to_come: FloatArray
    doubt: FloatArray
    watched: WatchedLater

    def nodes(self) -> tuple[tuple[float, float], ...]:
        """Offsets of the expected climate's shared error, with weights."""
        return _NODES if self.doubt.max(initial=0.0) > 1e-6 else ((0.0, 1.0),)


def _point(fitted: ClockFit, index: int, task: _Task) -> _Point:
    design, point, asked = fitted.design, fitted.points[index], task.asked
    hyper = hyper_at(fitted, index)
    table = thermal_table(design.warmth, hyper.log_q10)

    def at(moments: Moments) -> FloatArray:
        return clock_at(design.paths, table.elapsed, table.first_day, moments)

    to_come, doubt = _expected_warmth(task.expected, hyper.log_q10)
    starts, who = [at(moments) for moments in task.starts], task.watched
    rows = asked.rows[who]
    watched = watched_later(
        who,
        log_length(at(task.entry) - starts[0][who]),
        point.cavity_mean[rows],
        point.cavity_variance[rows],
        point.extra[rows],
        hyper.noise,
    )
    return _Point(
        float(fitted.weight[index]),
        hyper.noise,
        point.cavity_mean[asked.rows],
        point.cavity_variance[asked.rows] + point.extra[asked.rows],
        point.messages.forward[asked.node[task.late]],
        at(task.closed),
        at(task.looked),
        starts,
        to_come[asked.place],
        doubt[asked.place],
        watched,
    )


@dataclass(frozen=True)
class _Longer:
    """Survival of some rows' intervals; of those watched later, as the watch's beginning leaves it."""

    mean: FloatArray
    variance: FloatArray
    noise: sites.Noise
    known: BoolArray
    watched: WatchedLater | None

    def __call__(self, log_wait: FloatArray, shares: FloatArray) -> FloatArray:
        out = survival(log_wait, self.mean, self.variance, self.noise, self.known, shares)
        if self.watched is not None and self.watched.rows.size:
            at = self.watched.rows
            out[at] = self.watched.survival(log_wait[at], self.noise, shares[:, at])
        return out


def _alive(point: _Point, task: _Task) -> tuple[_Alive, FloatArray]:
    """Survival averaged over the cells of a last moult found late, and warmth passed since the moult [A']."""
    size = point.mean.size
    everyone = np.arange(size)
    then = [np.zeros_like(point.to_come) for _ in point.nodes()]
    nothing = np.zeros((5, size))
    alive = _Alive(nothing[0], nothing[1], nothing[2], nothing[3], nothing[4], then, point.to_come)
    passed_mean = np.zeros(size)
    for cell, begun in enumerate(point.starts):
        rows = everyone if cell == 0 else task.late
        share = np.ones(rows.size)
        share[task.late if cell == 0 else slice(None)] = point.forward[:, cell]
        moments = point.mean[rows], point.variance[rows], point.noise, task.asked.known[rows]
        passed = np.maximum(point.closed[rows] - begun, 0.0)
        passed_mean[rows] += share * passed
        log_looked, log_passed = log_length(point.looked[rows] - begun), log_length(passed)
        at_look, today = task.shares(log_looked, *moments[:3]), task.shares(log_passed, *moments[:3])
        plain = plain_shares(log_passed, *moments[:3])

        longer = _Longer(*moments, point.watched if cell == 0 else None)
        alive.look[rows] += share * longer(log_looked, at_look)
        alive.after_look[rows] += share * longer(log_passed, at_look)
        alive.plain_look[rows] += share * longer(log_looked, plain)
        alive.judged_early[rows] += share * longer(log_passed, plain)
        now = longer(log_passed, today)
        alive.now[rows] += share * now
        for number, (node, _) in enumerate(point.nodes()):
            log_then = log_length(passed[:, None] + point.to_come[rows] * np.exp(node * point.doubt[rows]))
            later = np.minimum(longer(log_then, today), now[:, None])
            alive.then[number][rows] += share[:, None] * later
            if cell == 0:
                alive.log_then = log_then
    return alive, passed_mean


def _add_point(fitted: ClockFit, index: int, task: _Task, sums: _Sums) -> None:
    """Average one setting of the hyperparameters into the sums."""
    point = _point(fitted, index, task)
    alive, passed = _alive(point, task)
    # The chance that there is no further moult, raised by every day without one.
    prior = task.asked.chance
    never_now = prior / np.maximum(prior + (1.0 - prior) * alive.judged_early, 1e-200)
    for (_, node_weight), then in zip(point.nodes(), alive.then, strict=True):
        if task.evidence is None:
            running = np.maximum(alive.now, 1e-200)[:, None]
            gone = (1.0 - never_now[:, None]) * (alive.now[:, None] - then) / running
        else:
            gone = gone_with_evidence(alive.now, then, alive.log_then, never_now, task.evidence)
        sums.cumulative += point.weight * node_weight * gone
    never_look = prior / np.maximum(prior + (1.0 - prior) * alive.plain_look, 1e-200)
    unseen = (alive.look - alive.after_look) / np.maximum(alive.look, 1e-200)
    sums.unseen += point.weight * (1.0 - never_look) * unseen
    sums.level += point.weight * (1.0 - prior) * (1.0 - alive.judged_early)
    sums.median += point.weight * point.mean
    sums.passed += point.weight * passed * np.exp(-np.maximum(point.mean, -_LONGEST_LOG))


def _quantiles(cumulative: FloatArray) -> FloatArray:
    """Days at which each level is reached, linear between grid days; NaN where it never is [A', 19]."""
    out = np.full((cumulative.shape[0], len(QUANTILES)), np.nan)
    for row, values in enumerate(cumulative):
        rising = np.maximum.accumulate(values)
        reached = np.asarray(QUANTILES) <= rising[-1]
        strictly = rising + np.arange(rising.size) * 1e-13
        out[row, reached] = np.interp(np.asarray(QUANTILES)[reached], strictly, _GRID)
    return out


def forecast(
    fitted: ClockFit,
    animals: IntArray,
    on: int,
    expected: DailyClimate,
    *,
    evidence: DurationEvidence | None = None,
    shares: Shares = shares_of,
) -> ClockForecast:
    """Odds for the next moult of each of the animals, given everything in the fit and no moult up to `on`.

    animals    indices of animals with a running interval [A']
    on         the as-of day (day number); the odds count from its close
    expected   expected daily means from day on + 1, with their spread; its last year goes on for ever after
    evidence   multiplies each animal's distribution of the interval's length
    shares     rule for odd intervals among those still running; `plain_shares` compares with plain Bayes
    Errors: Refusal when an animal has no running interval or `expected` does not begin the day after `on`.
    """
    if expected.first_day != on + 1:
        raise Refusal(
            "expected climate must begin the day after the as-of day", got=str(expected.first_day - on)
        )
    task = _make_task(fitted.design, animals, on, expected, evidence, shares)
    size = animals.size
    sums = _Sums(np.zeros((size, _GRID.size)), *(np.zeros(size) for _ in range(4)))
    for index in range(len(fitted.points)):
        _add_point(fitted, index, task, sums)
    cumulative = np.clip(np.maximum.accumulate(sums.cumulative, axis=1), 0.0, 1.0)
    at = np.searchsorted(_GRID, WITHIN_DAYS)
    return ClockForecast(
        on,
        animals,
        cumulative[:, at],
        _quantiles(cumulative),
        np.clip(sums.unseen, 0.0, 1.0),
        np.where(task.asked.known, sums.level, np.nan),
        np.where(task.asked.known, sums.passed, np.nan),
        _GRID,
        cumulative,
        sums.median,
    )
