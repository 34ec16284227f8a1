"""One sweep of the staircase's fit: states eliminated, then animals, taxa, groups; and back down again.

Given spreads and the point where products are linearised (slopes and decline of each taxon, states), all
unknowns are jointly normal. Energy of an animal, with u = (v_i, coefficients of its taxon):

    (x_0 − start)²/s² + Σ (x_{k+1} − φ x_k − z·u − r)²/σ² + Σ (y − h x_k − z·u)² w/σ_c²

x is a chain (`chain`), u is pooled (`pooling`). The products decline·x and slope·x are linearised; the part
of their score that the uncertainty of x adds (errors in variables) is put back exactly, so that slopes are
not drawn to zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.size import chain as chains
from nightround.science.size.data import Floats, Integers, Packed
from nightround.science.size.layout import (
    ANIMAL,
    CONSTANT,
    FIRST_COEFFICIENT,
    REFERENCE_LOG_MM,
    ChannelLayout,
    Layout,
)
from nightround.science.size.pooling import Pooled, pool

Column = tuple[int, Floats]

# Steps and readings further off than so many spreads count less.
HUBER: Final = 3.0


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations on the log scale; `channels` per channel with readings, `taxon`, `group` (p,)."""

    start: float
    step: float
    animal: float
    channels: Floats
    taxon: Floats
    group: Floats


@dataclass(frozen=True, slots=True)
class Point:
    """Where products are linearised: decline, slopes (J,), states (n, K).

    mature      (n, K) chance that the step from this instar follows maturity
    extra       (n, K) expected extra of a step that may be a female's maturing one, unnoted
    step_share  (n, K) share of a step's variance that is its own (1 unless its stage is in doubt)
    *_trust     Huber weights of steps and readings
    """

    decline: Floats
    slopes: dict[str, Floats]
    state: Floats
    mature: Floats
    extra: Floats
    step_share: Floats
    step_trust: Floats
    reading_trust: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class Swept:
    """Posterior of one sweep: states (n, K), u = (animal, coefficients) (n, q), and what the spreads need."""

    state: Floats
    state_variance: Floats
    state_on_u: Floats
    free_variance: Floats
    u_mean: Floats
    u_covariance: Floats
    pooled: Pooled
    step_residual: Floats
    step_variance: Floats
    reading_residual: tuple[Floats, ...]
    reading_variance: tuple[Floats, ...]
    animal_square: Floats
    animal_variance: Floats
    start_square: Floats
    start_variance: Floats
    log_likelihood: float


@dataclass(frozen=True, slots=True)
class _Equations:
    """Linear equations of a sweep: coefficients of x, columns of u, and precisions, all (n, K)."""

    keep: Floats
    step_precision: Floats
    step_columns: list[Column]
    reading_precision: list[Floats]
    reading_on_state: list[Floats]
    reading_columns: list[list[Column]]


def _equations(packed: Packed, layout: Layout, spreads: Spreads, point: Point) -> _Equations:
    taxon = packed.taxon
    growing = 1.0 - point.mature
    decline = point.decline[taxon][:, None] * growing
    away = point.state - packed.centre[taxon][:, None]
    step_columns = [
        (CONSTANT, decline * point.state + point.extra),
        (ANIMAL, growing),
        (layout.must("step"), growing),
        (layout.must("decline"), -away * growing),
    ]
    extras = (
        ("male_last", packed.male_last),
        ("female_last", packed.female_last),
        ("mature_step", point.mature),
    )
    for name, share in extras:
        if np.any(share * packed.has_next):
            step_columns.append((layout.must(name), share))
    precisions, on_state, columns = [], [], []
    for position, channel in enumerate(layout.channels):
        precisions.append(
            packed.weight[position] * point.reading_trust[position] / spreads.channels[position] ** 2
        )
        slope = (
            np.ones((len(taxon), 1)) if channel.slope is None else point.slopes[channel.part][taxon][:, None]
        )
        on_state.append(np.broadcast_to(slope, point.state.shape))
        columns.append(_reading_columns(packed, channel, position, point, slope))
    return _Equations(
        1.0 - decline,
        packed.has_next * point.step_trust * point.step_share / spreads.step**2,
        step_columns,
        precisions,
        on_state,
        columns,
    )


def _reading_columns(
    packed: Packed, channel: ChannelLayout, position: int, point: Point, slope: Floats
) -> list[Column]:
    """Columns of y = h·x + z·u: the constant holds −(effective reading)."""
    reading = packed.log_reading[position]
    ones = np.ones_like(reading)
    columns: list[Column] = []
    if channel.slope is None:
        columns.append((CONSTANT, -reading))
    else:
        columns.append((CONSTANT, -(reading + slope * point.state)))
        columns.append((channel.slope, point.state - REFERENCE_LOG_MM))
    if channel.offset is not None:
        columns.append((channel.offset, ones))
    if channel.bias is not None:
        columns.append((channel.bias, ones))
    if channel.male_legs is not None:
        columns.append((channel.male_legs, packed.mature_male.astype(float)))
    return columns


def _add_square(quadratic: Floats, precision: Floats, columns: list[Column]) -> None:
    for a, (i, first) in enumerate(columns):
        weighted = precision * first
        for j, second in columns[a:]:
            term = np.einsum("nk,nk->n", weighted, second)
            quadratic[:, i, j] += term
            if i != j:
                quadratic[:, j, i] += term


def sweep(packed: Packed, layout: Layout, spreads: Spreads, point: Point, group_of_taxon: Integers) -> Swept:
    """Run one sweep. Cost is linear in animals · instars; see the module's docstring for the equations."""
    equations = _equations(packed, layout, spreads, point)
    chain, right, quadratic = _assemble(packed, layout, spreads, equations)
    solved = chains.solve(chain, right)
    energy = quadratic - np.matmul(np.swapaxes(right, 1, 2), solved)
    free, beside = chains.covariances(chain)
    inside = energy[:, ANIMAL, ANIMAL] + 1.0 / spreads.animal**2
    reduced = energy - energy[:, :, ANIMAL, None] * energy[:, None, ANIMAL, :] / inside[:, None, None]
    own = _errors_in_variables(packed, layout, point, equations, solved, free, beside, 1.0 / inside)
    pooled = _pool_taxa(packed, layout, spreads, reduced, own, group_of_taxon)
    log_likelihood = (
        pooled.log_likelihood
        - 0.5
        * float(
            reduced[:, CONSTANT, CONSTANT].sum()
            + chain.log_determinant.sum()
            + np.log(inside * spreads.animal**2).sum()
        )
        + _log_precisions(packed, spreads, equations)
    )
    u_mean, u_covariance = _animals(packed, energy, inside, pooled)
    return _moments(
        packed, layout, spreads, equations, solved, free, beside, u_mean, u_covariance, pooled, log_likelihood
    )


def _assemble(
    packed: Packed, layout: Layout, spreads: Spreads, eq: _Equations
) -> tuple[chains.Chain, Floats, Floats]:
    n, k = packed.active.shape
    start = layout.must("start")
    diagonal = np.where(packed.active, 0.0, 1.0)
    right = np.zeros((n, k, layout.width))
    quadratic = np.zeros((n, layout.width, layout.width))
    diagonal[:, 0] += 1.0 / spreads.start**2
    right[:, 0, start] += 1.0 / spreads.start**2
    quadratic[:, start, start] += 1.0 / spreads.start**2
    step = eq.step_precision
    diagonal[:, 1:] += step[:, :-1]
    diagonal += eq.keep**2 * step
    for column, values in eq.step_columns:
        weighted = step * values
        right[:, 1:, column] += weighted[:, :-1]
        right[:, :, column] -= eq.keep * weighted
    _add_square(quadratic, step, eq.step_columns)
    for precision, on_state, columns in zip(
        eq.reading_precision, eq.reading_on_state, eq.reading_columns, strict=True
    ):
        diagonal += on_state**2 * precision
        for column, values in columns:
            right[:, :, column] -= on_state * precision * values
        _add_square(quadratic, precision, columns)
    return chains.factor(diagonal, -(eq.keep * step)[:, :-1]), right, quadratic


def _log_precisions(packed: Packed, spreads: Spreads, eq: _Equations) -> float:
    steps = np.log(eq.step_precision[packed.has_next]).sum()
    readings = sum(float(np.log(p[p > 0]).sum()) for p in eq.reading_precision)
    return 0.5 * (float(steps) + readings) - len(packed.taxon) * float(np.log(spreads.start))


def _errors_in_variables(
    packed: Packed,
    layout: Layout,
    point: Point,
    eq: _Equations,
    solved: Floats,
    free: Floats,
    beside: Floats,
    animal_variance: Floats,
) -> Floats:
    """Return (n, p): what Cov(residual, x | coefficients) adds to the score of decline and slopes."""
    extra = np.zeros((len(packed.taxon), len(layout.coefficients)))
    on_animal = solved[:, :, ANIMAL]
    with_animal = on_animal * animal_variance[:, None]
    variance = free + on_animal * with_animal
    across = beside + on_animal[:, 1:] * with_animal[:, :-1]
    step_with_state = across - eq.keep[:, :-1] * variance[:, :-1] - with_animal[:, :-1]
    column = layout.must("decline") - FIRST_COEFFICIENT
    extra[:, column] -= np.einsum(
        "nk,nk->n", step_with_state * (1.0 - point.mature[:, :-1]), eq.step_precision[:, :-1]
    )
    for channel, precision, on_state in zip(
        layout.channels, eq.reading_precision, eq.reading_on_state, strict=True
    ):
        if channel.slope is not None:
            extra[:, channel.slope - FIRST_COEFFICIENT] -= np.einsum(
                "nk,nk->n", on_state * variance, precision
            )
    return extra


def _pool_taxa(
    packed: Packed, layout: Layout, spreads: Spreads, reduced: Floats, own: Floats, group_of_taxon: Integers
) -> Pooled:
    j, p = len(group_of_taxon), len(layout.coefficients)
    information, potential = np.zeros((j, p, p)), np.zeros((j, p))
    if len(packed.taxon):
        of_animals = reduced[:, FIRST_COEFFICIENT:, FIRST_COEFFICIENT:]
        information[packed.present] = np.add.reduceat(of_animals, packed.first, axis=0)
        pull = own - reduced[:, FIRST_COEFFICIENT:, CONSTANT]
        potential[packed.present] = np.add.reduceat(pull, packed.first, axis=0)
    n_groups = int(group_of_taxon.max(initial=0)) + 1
    return pool(
        information,
        potential,
        group_of_taxon,
        n_groups,
        spreads.taxon**2,
        spreads.group**2,
        layout.array("mean"),
        layout.array("sd") ** 2,
    )


def _animals(packed: Packed, energy: Floats, inside: Floats, pooled: Pooled) -> tuple[Floats, Floats]:
    """Mean (n, q) and covariance (n, q, q) of u = (animal, coefficients of its taxon)."""
    coefficients = pooled.mean[packed.taxon]
    covariance = pooled.covariance[packed.taxon]
    gain = -energy[:, ANIMAL, FIRST_COEFFICIENT:] / inside[:, None]
    animal = np.einsum("np,np->n", gain, coefficients) - energy[:, ANIMAL, CONSTANT] / inside
    n, q = len(inside), coefficients.shape[1] + 1
    full = np.empty((n, q, q))
    crossing = np.einsum("npr,nr->np", covariance, gain)
    full[:, 1:, 1:] = covariance
    full[:, 0, 1:] = full[:, 1:, 0] = crossing
    full[:, 0, 0] = 1.0 / inside + np.einsum("np,np->n", gain, crossing)
    return np.concatenate([animal[:, None], coefficients], axis=1), full


def _moments(
    packed: Packed,
    layout: Layout,
    spreads: Spreads,
    eq: _Equations,
    solved: Floats,
    free: Floats,
    beside: Floats,
    u_mean: Floats,
    u_covariance: Floats,
    pooled: Pooled,
    log_likelihood: float,
) -> Swept:
    on_u = solved[:, :, ANIMAL:]
    state = solved[:, :, CONSTANT] + np.einsum("nkq,nq->nk", on_u, u_mean)
    variance = free + _quadratic(on_u, u_covariance)
    residual, on_step = _step_residual(layout, eq, state, on_u, u_mean)
    keep = eq.keep[:, :-1]
    own = free[:, 1:] + keep**2 * free[:, :-1] - 2.0 * keep * beside
    step_variance = np.where(
        packed.has_next[:, :-1], own + _quadratic(on_step, u_covariance), spreads.step**2
    )
    readings = [
        _reading_moments(eq, index, state, free, on_u, u_mean, u_covariance)
        for index in range(len(layout.channels))
    ]
    start = layout.must("start") - ANIMAL
    on_start = on_u[:, 0].copy()
    on_start[:, start] -= 1.0
    away = state[:, 0] - u_mean[:, start]
    start_variance = free[:, 0] + _quadratic(on_start[:, None], u_covariance)[:, 0]
    return Swept(
        state,
        variance,
        on_u,
        free,
        u_mean,
        u_covariance,
        pooled,
        residual,
        step_variance,
        tuple(r for r, _ in readings),
        tuple(v for _, v in readings),
        u_mean[:, 0] ** 2,
        u_covariance[:, 0, 0],
        away**2,
        start_variance,
        log_likelihood,
    )


def _quadratic(rows: Floats, covariance: Floats) -> Floats:
    """Return row' Σ row for rows (n, k, q) and Σ (n, q, q)."""
    result: Floats = np.einsum("nkq,nkq->nk", np.matmul(rows, covariance), rows)
    return result


def _step_residual(
    layout: Layout, eq: _Equations, state: Floats, on_u: Floats, u_mean: Floats
) -> tuple[Floats, Floats]:
    on_step = on_u[:, 1:] - eq.keep[:, :-1, None] * on_u[:, :-1]
    residual = state[:, 1:] - eq.keep[:, :-1] * state[:, :-1]
    for column, values in eq.step_columns:
        if column == CONSTANT:
            residual = residual - values[:, :-1]
        else:
            on_step[:, :, column - ANIMAL] -= values[:, :-1]
            residual = residual - values[:, :-1] * u_mean[:, column - ANIMAL, None]
    return residual, on_step


def _reading_moments(
    eq: _Equations,
    index: int,
    state: Floats,
    free: Floats,
    on_u: Floats,
    u_mean: Floats,
    u_covariance: Floats,
) -> tuple[Floats, Floats]:
    """Residual and its variance at the cells that have a reading (m,), in the order of np.nonzero."""
    animal, instar = np.nonzero(eq.reading_precision[index])
    on_state = eq.reading_on_state[index][animal, instar]
    rows = -on_state[:, None] * on_u[animal, instar]
    residual = -on_state * state[animal, instar]
    for column, values in eq.reading_columns[index]:
        picked = values[animal, instar]
        if column == CONSTANT:
            residual -= picked
        else:
            rows[:, column - ANIMAL] -= picked
            residual -= picked * u_mean[animal, column - ANIMAL]
    spread = np.einsum("mq,mqr,mr->m", rows, u_covariance[animal], rows, optimize=True)
    return residual, on_state**2 * free[animal, instar] + spread
