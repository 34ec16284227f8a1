"""The whole rehousing problem as one mixed-integer programme, for HiGHS.

x[i, v, t] housed so, o[i, t] still in the home it has, y[i, v, t] moves in, b[k] homes bought:

    least   Σ stay x + own o + enter y + price b
    with    Σ_v x[i, v, t] + o[i, t] = 1
            x[i, v, t] ≤ x[i, v, t - 1] + y[i, v, t],  o[i, t] ≤ o[i, t - 1]
            Σ (x[t - 1] + y[t] of kind k) + Σ (o[t - 1] of kind k) ≤ homes there + b[k] once ready
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from nightround.science.housing.problem import OWN, Floats, HousingPlan, HousingProblem, Integers, cost_of


@dataclass
class _Rows:
    """Rows of a sparse matrix being put together."""

    row: list[Integers]
    column: list[Integers]
    value: list[Floats]
    low: list[Floats]
    high: list[Floats]
    count: int = 0

    def add(self, columns: list[Integers], values: list[float], low: float, high: float) -> None:
        """Add as many rows as each list of columns is long; a column of -1 is left out."""
        many = len(columns[0])
        here = self.count + np.arange(many)
        for column, value in zip(columns, values, strict=True):
            there = column >= 0
            self.row.append(here[there])
            self.column.append(column[there])
            self.value.append(np.full(int(there.sum()), value))
        self.low.append(np.full(many, low))
        self.high.append(np.full(many, high))
        self.count += many


def solve_exactly(
    problem: HousingProblem, seconds: float = 30.0, keep: np.ndarray | None = None
) -> HousingPlan | None:
    """Return the best plan by HiGHS with the bound it proves; None when none was found in time.

    keep   (n, V, T) which ways are worth looking at; without it all of them
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    began = time.perf_counter()
    n, ways, periods = problem.stay.shape
    wanted = np.ones_like(problem.stay, dtype=np.bool_) if keep is None else keep
    x, own, y, size = _columns(problem, wanted)
    bought = size + np.arange(problem.kinds)
    rows = _Rows([], [], [], [], [])
    for period in range(periods):
        _places(rows, x, own, y, period)
    _stock(rows, problem, x, own, y, bought)
    cost, high = _objective(problem, x, own, y, bought)
    matrix = csr_array(
        (np.concatenate(rows.value), (np.concatenate(rows.row), np.concatenate(rows.column))),
        shape=(rows.count, len(cost)),
    )
    whole = np.zeros(len(cost), dtype=np.int64)
    whole[np.concatenate([x[x >= 0], bought, own.ravel()])] = 1
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(0.0, high),
        constraints=LinearConstraint(matrix, np.concatenate(rows.low), np.concatenate(rows.high)),
        options={"time_limit": max(seconds, 0.1), "mip_rel_gap": 1e-9},
    )
    if found.x is None:
        return None
    chosen = np.where(x >= 0, found.x[np.maximum(x, 0)], 0.0)
    way = np.where(found.x[own] > 0.5, OWN, chosen.argmax(axis=1) if ways else OWN)
    value, numbers = cost_of(problem, way)
    bound = value if found.status == 0 else min(value, float(found.mip_dual_bound))
    return HousingPlan(way, numbers, value, bound, "exact", time.perf_counter() - began)


def _columns(problem: HousingProblem, keep: np.ndarray) -> tuple[Integers, Integers, Integers, int]:
    """Number the unknowns; -1 where one is not there."""
    n, _, periods = keep.shape
    x = np.full(keep.shape, -1, dtype=np.int64)
    x[keep] = np.arange(int(keep.sum()))
    size = int(keep.sum())
    own = size + np.arange(n * periods).reshape(n, periods)
    size += n * periods
    enters = keep & np.isfinite(problem.enter)
    y = np.full(keep.shape, -1, dtype=np.int64)
    y[enters] = size + np.arange(int(enters.sum()))
    return x, own, y, size + int(enters.sum())


def _places(rows: _Rows, x: Integers, own: Integers, y: Integers, period: int) -> None:
    """Each animal lives somewhere, and only where it was or moved in."""
    ways = x.shape[1]
    rows.add([*(x[:, way, period] for way in range(ways)), own[:, period]], [1.0] * (ways + 1), 1.0, 1.0)
    if period:
        rows.add([own[:, period], own[:, period - 1]], [1.0, -1.0], -np.inf, 0.0)
    there = x[:, :, period] >= 0
    if there.any():
        earlier = x[:, :, period - 1][there] if period else np.full(int(there.sum()), -1)
        now, enters = x[:, :, period][there], y[:, :, period][there]
        rows.add([now, earlier, enters], [1.0, -1.0, -1.0], -np.inf, 0.0)


def _stock(
    rows: _Rows, problem: HousingProblem, x: Integers, own: Integers, y: Integers, bought: Integers
) -> None:
    there = problem.there.astype(np.float64)
    for kind in range(problem.kinds):
        mine, ways = problem.own_kind == kind, problem.kind == kind
        for period in range(problem.periods):
            parts = [y[:, ways, period].ravel()]
            parts += [x[:, ways, period - 1].ravel(), own[mine, period - 1]] if period else []
            used = np.concatenate(parts)
            limit = there[kind] - (0 if period else int(mine.sum()))
            late = bought[kind] if period >= problem.ready[kind] else -1
            columns = [np.array([column]) for column in (*used[used >= 0], late)]
            if len(columns) > 1:
                rows.add(columns, [1.0] * (len(columns) - 1) + [-1.0], -np.inf, limit)


def _objective(
    problem: HousingProblem, x: Integers, own: Integers, y: Integers, bought: Integers
) -> tuple[Floats, Floats]:
    cost = np.zeros(int(bought[-1]) + 1)
    cost[x[x >= 0]] = problem.stay[x >= 0]
    cost[own] = problem.own
    cost[y[y >= 0]] = problem.enter[y >= 0]
    high = np.ones(len(cost))
    high[bought] = problem.most
    cost[bought] = np.where(problem.most > 0, problem.price, 0.0)
    return cost, high
