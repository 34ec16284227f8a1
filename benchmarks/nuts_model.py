"""The moult clock's own model and likelihood, written for NUTS (numpyro): the reference for its fit.

Nothing is approximated but the integral itself. Every animal's pace, every taxon's intercept and slope, every
coefficient and hyperparameter is drawn; moults found late are summed over their cells along the animal's chain
of intervals; what a doubtful size or an unknown covariate adds to the spread comes from the drawn coefficient.
Windows, cells, watches and the warmth between moments are those of `science.clock.design`; log lengths
are smooth in log Q10 and stand here as Chebyshev series, good to 1e-9.

Needs the extra `reference` (numpyro, jax).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from jax.scipy.special import ndtr

from nightround.science.clock.blocks import make_layout
from nightround.science.clock.data import ClockData
from nightround.science.clock.design import CELLS, Design, Kind, make_design, time_families
from nightround.science.clock.priors import (
    MISSED_EXTRA_SD,
    MISSED_SHIFT,
    WRONG_DATE_SD,
    WRONG_DATE_SHARE,
    hyper_mean,
    hyper_sd,
)
from nightround.science.clock.propagate import LEAST_LOG_Q10
from nightround.science.thermal import LOG_RATE_SD_FLOOR, FloatArray, clock_at, thermal_table

jax.config.update("jax_enable_x64", True)
numpyro.enable_x64()

MOST_LOG_Q10: Final = 3.2
DEGREE: Final = 24
_FAR: Final = 1e3
_Z_LIMIT: Final = 30.0
_TINY: Final = 1e-280
Array = Any


# --- log lengths as series in log Q10 --------------------------------------------------------------


def chebyshev(values_at: Callable[[float], FloatArray]) -> FloatArray:
    """Coefficients [..., DEGREE + 1] of the series through the values at the Chebyshev points."""
    points = np.cos(np.pi * (np.arange(DEGREE + 1) + 0.5) / (DEGREE + 1))
    centre, half = (MOST_LOG_Q10 + LEAST_LOG_Q10) / 2.0, (MOST_LOG_Q10 - LEAST_LOG_Q10) / 2.0
    values = np.stack([values_at(float(centre + half * point)) for point in points], axis=-1)
    weights = 2.0 * np.polynomial.chebyshev.chebvander(points, DEGREE) / (DEGREE + 1)
    weights[:, 0] /= 2.0
    return np.asarray(values @ weights)


def basis_at(log_q10: Array) -> Array:
    """Chebyshev polynomials at a (held) log Q10 [DEGREE + 1]."""
    held = jnp.clip(log_q10, LEAST_LOG_Q10, MOST_LOG_Q10)
    place = (2.0 * held - MOST_LOG_Q10 - LEAST_LOG_Q10) / (MOST_LOG_Q10 - LEAST_LOG_Q10)
    values = [jnp.ones_like(place), place]
    for _ in range(DEGREE - 1):
        values.append(2.0 * place * values[-1] - values[-2])
    return jnp.stack(values)


# --- the room, made ready ---------------------------------------------------------------------------


@dataclass(frozen=True)
class FamilySeries:
    """One family's log lengths as series: low, high [n, g, h, D], entry [n, g, D].

    own [n, g, h]   False for cells that the row does not have: where a day is known only the first counts
    """

    kind: Kind
    rows: FloatArray
    running: FloatArray
    own: FloatArray
    low: FloatArray
    high: FloatArray
    entry: FloatArray


@dataclass(frozen=True)
class Chains:
    """Runs of intervals linked by moults found late.

    plain [N']     rows that share no moult: their likelihood is a number
    row [C, L]     rows of each run in order; count (one past the last) where the run is over
    open [C]       the run begins with a moult found late that closes no recorded interval
    """

    plain: FloatArray
    row: FloatArray
    open: FloatArray


@dataclass(frozen=True)
class Room:
    """A room ready for the reference: build with `make_room`."""

    design: Design
    families: tuple[FamilySeries, ...]
    chains: Chains
    missing: FloatArray
    map: FloatArray
    prior_mean: FloatArray
    prior_sd: FloatArray
    group: FloatArray


def make_room(data: ClockData) -> Room:
    """Series of log lengths, chains of shared moults, priors of the coefficients."""
    design = make_design(data)
    layout = make_layout(design)
    families = tuple(_family_series(design, index) for index in range(len(design.families)))
    return Room(
        design,
        families,
        _chains(design),
        _missing_share(design),
        layout.map,
        layout.prior_mean,
        layout.prior_precision**-0.5,
        np.asarray(layout.group),
    )


def _family_series(design: Design, index: int) -> FamilySeries:
    family = design.families[index]
    low = chebyshev(lambda q: time_families(design, q)[0][index].log_low)
    high = chebyshev(
        lambda q: np.nan_to_num(time_families(design, q)[0][index].log_high, posinf=_FAR)
    )
    entry = chebyshev(lambda q: time_families(design, q)[0][index].log_entry)
    if family.kind is Kind.LATE and family.cells[0] > 1:
        raise ValueError("the reference wants a known day for a last moult before the watch began")
    starts = (family.start_node >= 0)[:, None] | (np.arange(family.cells[0]) == 0)
    ends = (family.end_node >= 0)[:, None] | (np.arange(family.cells[1]) == 0)
    own = starts[:, :, None] & ends[:, None, :]
    return FamilySeries(family.kind, family.rows, family.running, own, low, high, entry)


def _missing_share(design: Design) -> FloatArray:
    """Share of each row's warmth that stands on missing days, by place, as series [P, N, D]."""
    warmth, paths = design.warmth, design.paths

    def at(log_q10: float) -> FloatArray:
        table = thermal_table(warmth, log_q10)
        daily = np.diff(table.elapsed, axis=1) * warmth.missing
        begin, end = (clock_at(paths, table.elapsed, table.first_day, span) for span in design.span)
        out = []
        for place in range(warmth.missing.shape[0]):
            own = np.zeros_like(table.elapsed)
            own[place, 1:] = np.cumsum(daily[place])
            gone = [clock_at(paths, own, table.first_day, span) for span in design.span]
            out.append((gone[1] - gone[0]) / np.maximum(end - begin, 1e-9))
        return np.stack(out)

    return chebyshev(at)


def _chains(design: Design) -> Chains:
    start_node, end_node = (np.full(design.count, -1) for _ in range(2))
    for family in design.families:
        start_node[family.rows], end_node[family.rows] = family.start_node, family.end_node
    future = np.where(end_node >= 0, design.node_future[end_node], -1) if design.nodes else end_node
    past = np.where(start_node >= 0, design.node_past[start_node], -1) if design.nodes else start_node
    linked = (start_node >= 0) | (end_node >= 0)
    runs = []
    for first in np.flatnonzero(linked & (past < 0)):
        run = [int(first)]
        while future[run[-1]] >= 0:
            run.append(int(future[run[-1]]))
        runs.append(run)
    longest = max((len(run) for run in runs), default=1)
    rows = np.full((len(runs), longest), design.count)
    for index, run in enumerate(runs):
        rows[index, : len(run)] = run
    opened = np.array([start_node[run[0]] >= 0 for run in runs], dtype=bool)
    return Chains(np.flatnonzero(~linked), rows, opened)


# --- the likelihood of one row, given its linear predictor ------------------------------------------


@dataclass(frozen=True)
class Parts:
    """The mixture of e for every row: weight, shift [3], variance [3, N] with what is in doubt about it."""

    weight: Array
    shift: Array
    variance: Array

    def of(self, rows: FloatArray, dimensions: int) -> tuple[Array, Array, Array]:
        """Shaped for arrays [n, ...] of so many dimensions."""
        last = (1,) * dimensions
        variance = self.variance[:, rows]
        return (
            self.weight.reshape(3, *last),
            self.shift.reshape(3, *last),
            variance.reshape(3, -1, *last[1:]),
        )


def noise_parts(sigma: Array, missed: Array, extra: Array) -> Parts:
    """As sites.Noise.of, with each row's further variance [N] added."""
    weight = jnp.stack([1.0 - missed - WRONG_DATE_SHARE, missed, WRONG_DATE_SHARE + 0.0 * missed])
    own = jnp.stack([sigma**2, sigma**2 / 2.0 + MISSED_EXTRA_SD**2, sigma**2 + WRONG_DATE_SD**2])
    return Parts(weight, jnp.array([0.0, MISSED_SHIFT, 0.0]), own[:, None] + extra[None, :])


def _between(low: Array, high: Array) -> Array:
    flip = low > 0.0
    return ndtr(jnp.where(flip, -low, high)) - ndtr(jnp.where(flip, -high, low))


def window(low: Array, high: Array, eta: Array, parts: tuple[Array, Array, Array]) -> Array:
    """P(low < D <= high | eta)."""
    weight, shift, variance = parts
    spread = jnp.sqrt(variance)
    z_low = jnp.clip((low - eta - shift) / spread, -_Z_LIMIT, _Z_LIMIT)
    z_high = jnp.clip((high - eta - shift) / spread, -_Z_LIMIT, _Z_LIMIT)
    return (weight * _between(z_low, z_high)).sum(axis=0)


def running(low: Array, eta: Array, parts: tuple[Array, Array, Array]) -> Array:
    """P(D > low | eta)."""
    weight, shift, variance = parts
    z = jnp.clip((low - eta - shift) / jnp.sqrt(variance), -_Z_LIMIT, _Z_LIMIT)
    return (weight * ndtr(-z)).sum(axis=0)


def renewal_tail(low: Array, eta: Array, parts: tuple[Array, Array, Array], extra: Array) -> Array:
    """E[(D - a)+] / E[D] of a watch that began inside an interval, averaged over the row's doubt `extra`."""
    weight, shift, variance = parts
    own = variance - extra
    swell = weight * jnp.exp(shift + own / 2.0)
    total = swell.sum(axis=0)
    exponent = low - eta + extra / 2.0
    scale = weight * jnp.where(exponent > 40.0, 0.0, jnp.exp(jnp.clip(exponent, -700.0, 40.0))) / total
    spread = jnp.sqrt(variance)
    near = jnp.clip((eta + shift + own - low) / spread, -_Z_LIMIT, _Z_LIMIT)
    far = jnp.clip((eta - extra + shift - low) / spread, -_Z_LIMIT, _Z_LIMIT)
    return (swell / total * ndtr(near) - scale * ndtr(far)).sum(axis=0)


def cells_of(family: FamilySeries, poly: Array, eta: Array, parts: Parts, extra: Array) -> Array:
    """Likelihood of the family's rows by the cells of their two ends [n, g, h]."""
    low, high = family.low @ poly, family.high @ poly
    mine, doubt = eta[family.rows][:, None, None], extra[family.rows][:, None, None]
    shaped = parts.of(family.rows, 3)
    runs = jnp.asarray(family.running)[:, None, None]
    if family.kind is Kind.RENEWAL:
        tail = renewal_tail(low, mine, shaped, doubt)
        until = jnp.where(runs, 0.0, renewal_tail(jnp.where(runs, low, high), mine, shaped, doubt))
        return jnp.maximum(tail - until, 0.0) + 1e-12
    if family.running.all():
        value = running(low, mine, shaped)
    else:
        value = window(low, high, mine, shaped)
    if family.kind is Kind.LATE:
        entry = (family.entry @ poly)[:, :, None]
        value = value / jnp.maximum(running(entry, mine, shaped), 1e-6)
    return value


# --- everything together -------------------------------------------------------------------------


@dataclass(frozen=True)
class Drawn:
    """One draw's derived quantities: hyperparameters, coefficients, each row's predictor and doubt."""

    theta: Array
    gamma: Array
    kappa: Array
    eta: Array
    extra: Array
    parts: Parts
    poly: Array


def row_state(room: Room, theta: Array, gamma: Array, kappa: Array, pace: Array) -> Drawn:
    """Linear predictors and spreads of all rows."""
    design = room.design
    log_q10 = jnp.maximum(theta[0], LEAST_LOG_Q10)
    poly = basis_at(log_q10)
    coefficient = kappa[design.taxon]
    eta = pace[design.animal] + (design.basis * coefficient).sum(axis=1)
    gap = jnp.maximum(log_q10 / 10.0 * design.warmth.gap_spread_c, LOG_RATE_SD_FLOOR)
    doubt = jnp.minimum((gap[:, None] * (room.missing @ poly)).sum(axis=0), 1.0)
    extra = doubt**2 + (design.basis_doubt**2 * coefficient**2).sum(axis=1)
    missed = 1.0 / (1.0 + jnp.exp(-theta[6]))
    return Drawn(theta, gamma, kappa, eta, extra, noise_parts(jnp.exp(theta[1]), missed, extra), poly)


def by_cell(room: Room, drawn: Drawn) -> Array:
    """Likelihood of every row by the cells of its ends [N + 1, 5, 5]; the last stands for none."""
    out = jnp.zeros((room.design.count + 1, CELLS, CELLS)).at[-1].set(jnp.eye(CELLS))
    for family in room.families:
        value = cells_of(family, drawn.poly, drawn.eta, drawn.parts, drawn.extra)
        kept = jnp.where(family.own, value, 0.0)
        out = out.at[family.rows, : value.shape[1], : value.shape[2]].set(kept)
    return out


def run_chains(room: Room, cells: Array) -> tuple[Array, Array]:
    """Log likelihood of the linked rows, and the weights over the start cells of each row [C, L, 5]."""
    first = jnp.eye(CELLS)[0]
    state = jnp.where(room.chains.open[:, None], jnp.full(CELLS, 1.0 / CELLS), first)
    total, before = jnp.zeros(()), []
    for place in range(room.chains.row.shape[1]):
        before.append(state)
        state = (state[:, :, None] * cells[room.chains.row[:, place]]).sum(axis=1)
        size = jnp.maximum(state.sum(axis=1), _TINY)
        total, state = total + jnp.log(size).sum(), state / size[:, None]
    return total, jnp.stack(before, axis=1)


def log_likelihood(room: Room, drawn: Drawn) -> Array:
    """log p(records | everything drawn)."""
    cells = by_cell(room, drawn)
    linked, _ = run_chains(room, cells)
    return linked + jnp.log(jnp.maximum(cells[room.chains.plain, 0, 0], _TINY)).sum()


def model(room: Room) -> None:
    """The hierarchical model; standard normals stand for hyperparameters, coefficients and paces."""
    data = room.design.data
    unit = numpyro.sample("unit_theta", dist.Normal().expand([7]).to_event(1))
    theta = hyper_mean() + hyper_sd() * unit
    sigma = jnp.exp(theta)
    spread = jnp.where(room.group, sigma[5], room.prior_sd)
    unit_gamma = numpyro.sample("unit_gamma", dist.Normal().expand([room.group.size]).to_event(1))
    gamma = room.prior_mean + spread * unit_gamma
    above = room.map @ gamma
    between = jnp.sqrt(sigma[3] ** 2 + (gamma[2] * room.design.taxon_size_sd) ** 2)
    centre = numpyro.sample("centre", dist.Normal(above[:, 0], between).to_event(1))
    slope = numpyro.sample("slope", dist.Normal(above[:, 1], sigma[4]).to_event(1))
    kappa = above.at[:, 0].set(centre).at[:, 1].set(slope)
    own_slope = slope[data.animal_taxon]
    wide = jnp.sqrt(sigma[2] ** 2 + (own_slope * data.animal_size_sd) ** 2)
    unit_pace = numpyro.sample("unit_pace", dist.Normal().expand([data.animals]).to_event(1))
    drawn = row_state(room, theta, gamma, kappa, wide * unit_pace)
    numpyro.factor("records", log_likelihood(room, drawn))
    numpyro.deterministic("theta", theta)
    numpyro.deterministic("gamma", gamma)
    numpyro.deterministic("pace", wide * unit_pace)
