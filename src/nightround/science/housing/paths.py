"""Best courses of single animals through the homes, at given prices of using each kind in each period.

Shortest paths, one per animal, all at once: a course is worked out from its end. A price of a kind and period
is paid by whoever lives in such a home then, and by whoever left one to be cleaned.
"""

from __future__ import annotations

import numpy as np

from nightround.science.housing.problem import OWN, Floats, HousingProblem, Integers


def priced(problem: HousingProblem, prices: Floats) -> tuple[Floats, Floats]:
    """Prices (K, T) as those of ways (V, T) and of the homes the animals have (n, T)."""
    padded = np.concatenate([prices, np.zeros((1, problem.periods))])
    own = np.where(problem.own_kind < 0, problem.kinds, problem.own_kind)
    return padded[problem.kind], padded[own]


def best_paths(problem: HousingProblem, prices: Floats) -> tuple[Floats, Integers]:
    """Return the least cost (n,) of each animal with prices (K, T) and the course (n, T) that has it."""
    n, ways, periods = problem.stay.shape
    of_way, of_own = priced(problem, prices)
    if ways == 0:
        return (problem.own + of_own).sum(axis=1), np.full((n, periods), OWN, dtype=np.int64)
    ahead, ahead_own = np.zeros((n, ways)), np.zeros(n)
    leave = np.zeros((periods, n, ways + 1), dtype=np.bool_)
    target = np.zeros((periods, n), dtype=np.int64)
    for period in range(periods - 1, -1, -1):
        staying = problem.stay[:, :, period] + of_way[None, :, period] + ahead
        entering = staying + problem.enter[:, :, period]
        target[period] = entering.argmin(axis=1)
        best = entering[np.arange(n), target[period]]
        leaving = best[:, None] + of_way[None, :, period]
        staying_own = problem.own[:, period] + of_own[:, period] + ahead_own
        leaving_own = best + of_own[:, period]
        leave[period, :, :ways], leave[period, :, ways] = leaving < staying, leaving_own < staying_own
        ahead = np.minimum(staying, leaving)
        ahead_own = np.minimum(staying_own, leaving_own)
    return ahead_own, _traced(leave, target, ways)


def _traced(leave: np.ndarray, target: Integers, ways: int) -> Integers:
    periods, n = target.shape
    way = np.empty((n, periods), dtype=np.int64)
    now = np.full(n, ways, dtype=np.int64)
    rows = np.arange(n)
    for period in range(periods):
        now = np.where(leave[period, rows, now], target[period], now)
        way[:, period] = np.where(now == ways, OWN, now)
    return way


def with_moves(problem: HousingProblem, prices: Floats, most_moves: int) -> tuple[Floats, Integers]:
    """Best courses with at most 0 … `most_moves` moves: costs (n, M + 1) and courses (n, M + 1, T)."""
    n, ways, periods = problem.stay.shape
    of_way, of_own = priced(problem, prices)
    counts = most_moves + 1
    ahead = np.zeros((counts, n, ways + 1))
    leave = np.zeros((periods, counts, n, ways + 1), dtype=np.bool_)
    target = np.zeros((periods, counts, n), dtype=np.int64)
    inside = np.concatenate([problem.stay + of_way[None], (problem.own + of_own)[:, None]], axis=1)
    used = np.concatenate([np.broadcast_to(of_way, (n, ways, periods)), of_own[:, None]], axis=1)
    for period in range(periods - 1, -1, -1):
        staying = inside[None, :, :, period] + ahead
        best = np.full((counts, n), np.inf)
        if ways:
            entering = staying[:-1, :, :ways] + problem.enter[None, :, :, period]
            target[period, 1:] = entering.argmin(axis=2)
            best[1:] = entering.min(axis=2)
        leaving = best[:, :, None] + used[None, :, :, period]
        leave[period] = leaving < staying
        ahead = np.minimum(staying, leaving)
    return ahead[:, :, ways].T.copy(), _traced_moves(leave, target, ways)


def _traced_moves(leave: np.ndarray, target: Integers, ways: int) -> Integers:
    periods, counts, n = target.shape
    way = np.empty((n, counts, periods), dtype=np.int64)
    rows = np.arange(n)
    for count in range(counts):
        now, left = np.full(n, ways, dtype=np.int64), np.full(n, count, dtype=np.int64)
        for period in range(periods):
            goes = leave[period, left, rows, now]
            now = np.where(goes, target[period, left, rows], now)
            left = left - goes
            way[:, count, period] = np.where(now == ways, OWN, now)
    return way


def through(problem: HousingProblem, prices: Floats) -> Floats:
    """Least cost (n, V, T) with prices of any course that is housed so in that period."""
    n, ways, periods = problem.stay.shape
    of_way, of_own = priced(problem, prices)
    after = _after(problem, of_way)
    made = np.empty((n, ways, periods))
    here, home = np.full((n, ways), np.inf), np.zeros(n)
    for period in range(periods):
        leaving = np.minimum((here + of_way[None, :, period]).min(axis=1), home + of_own[:, period])
        inside = problem.stay[:, :, period] + of_way[None, :, period]
        here = np.minimum(here, leaving[:, None] + problem.enter[:, :, period]) + inside
        home = home + problem.own[:, period] + of_own[:, period]
        made[:, :, period] = here + after[period]
    return made


def _after(problem: HousingProblem, of_way: Floats) -> list[Floats]:
    """Least cost (n, V) after each period of a course that is housed so in it."""
    n, ways, periods = problem.stay.shape
    ahead = np.zeros((n, ways))
    found = [ahead] * periods
    for period in range(periods - 1, -1, -1):
        found[period] = ahead
        staying = problem.stay[:, :, period] + of_way[None, :, period] + ahead
        best = (staying + problem.enter[:, :, period]).min(axis=1)
        ahead = np.minimum(staying, best[:, None] + of_way[None, :, period])
    return found
