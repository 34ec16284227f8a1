"""The moult clock's own model and likelihood, written for NUTS (numpyro): the reference for its fit.

Nothing is approximated but the integral itself. Every animal's pace, every taxon's intercept and slope,
every coefficient and hyperparameter is drawn; moults found late are summed over their cells along the
animal's chain of intervals; what a doubtful size or an unknown covariate adds to the spread comes from the
drawn coefficient. Windows, cells, watches and the warmth between moments are those of `science.clock.design`;
log lengths are smooth in log Q10 and stand here as Chebyshev series, good to 1e-12.

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
    place = (2.0 * log_q10 - MOST_LOG_Q10 - LEAST_LOG_Q10) / (MOST_LOG_Q10 - LEAST_LOG_Q10)
    held = jnp.clip(place, -1.0 + 1e-12, 1.0 - 1e-12)
    return jnp.cos(jnp.arange(DEGREE + 1) * jnp.arccos(held))


# --- the room, made ready ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Cells:
    """Every pair of cells of the ends of a row, one after another; days that are known have one cell.

    row, start, end [K]   sorted row, cell of its opening and of its closing moult
    low, high [K, D]      log lengths as series; high is far away for a running interval
    """

    row: FloatArray
    start: FloatArray
    end: FloatArray
    low: FloatArray
    high: FloatArray


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


# Compared by identity, so that a second chain finds what was compiled for the first.
@dataclass(frozen=True, eq=False)
class Room:
    """A room ready for the reference: build with `make_room`.

    seen, renewal       rows whose last moult is known, and arrivals whose last moult is not
    late [n], entry [n, D]   rows watched from later on, and the log of what had passed by then as series
    missing [P, N, D]   share of each row's warmth on missing days, by place, as series
    centring [A]        how far each animal's pace is drawn on its own scale (1) or in units of its spread
                        (0): no matter for the result, only for how fast the sampler gets about
    """

    design: Design
    seen: Cells
    renewal: Cells
    late: FloatArray
    entry: FloatArray
    chains: Chains
    missing: FloatArray
    centring: FloatArray
    map: FloatArray
    prior_mean: FloatArray
    prior_sd: FloatArray
    group: FloatArray


def make_room(data: ClockData, ratio: float = 2.0) -> Room:
    """Series of log lengths, chains of shared moults, priors of the coefficients.

    ratio   a guess at the spread of intervals over that of animals, for `centring`
    """
    design = make_design(data)
    ended = np.bincount(data.intervals.animal[~data.intervals.running], minlength=data.animals)
    layout = make_layout(design)
    renewal = [family.kind is Kind.RENEWAL for family in design.families]
    late, entry = _late(design)
    return Room(
        design,
        _cells(design, [index for index, is_renewal in enumerate(renewal) if not is_renewal]),
        _cells(design, [index for index, is_renewal in enumerate(renewal) if is_renewal]),
        late,
        entry,
        _chains(design),
        _missing_share(design),
        (ended + 0.3) / (ended + 0.3 + ratio**2),
        layout.map,
        layout.prior_mean,
        layout.prior_precision**-0.5,
        np.asarray(layout.group),
    )


def _cells(design: Design, chosen: list[int]) -> Cells:
    """Cells of the chosen families, without those that a known day does not have."""
    width = DEGREE + 1
    rows, starts, ends = ([np.zeros(0, dtype=np.int64)] for _ in range(3))
    lows, highs = ([np.zeros((0, width))] for _ in range(2))
    for index in chosen:
        family = design.families[index]
        has_start = (family.start_node >= 0)[:, None] | (np.arange(family.cells[0]) == 0)
        has_end = (family.end_node >= 0)[:, None] | (np.arange(family.cells[1]) == 0)
        row, start, end = np.nonzero(has_start[:, :, None] & has_end[:, None, :])
        rows.append(family.rows[row])
        starts.append(start)
        ends.append(end)
        for name, series in (("log_low", lows), ("log_high", highs)):
            series.append(_series_of(design, index, name)[row, start, end])
    return Cells(*(np.concatenate(part) for part in (rows, starts, ends, lows, highs)))


def _series_of(design: Design, index: int, name: str) -> FloatArray:
    """A family's log lengths as series."""
    return chebyshev(
        lambda log_q10: np.nan_to_num(getattr(time_families(design, log_q10)[0][index], name), posinf=_FAR)
    )


def _late(design: Design) -> tuple[FloatArray, FloatArray]:
    for index, family in enumerate(design.families):
        if family.kind is Kind.LATE:
            if family.cells[0] > 1:
                raise ValueError("the reference wants a known day for a last moult before the watch")
            return family.rows, _series_of(design, index, "log_entry")[:, 0]
    return np.zeros(0, dtype=np.int64), np.zeros((0, DEGREE + 1))


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

    def of(self, rows: FloatArray) -> tuple[Array, Array, Array]:
        """Shaped for an array over rows [n]."""
        return self.weight[:, None], self.shift[:, None], self.variance[:, rows]


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
    """Likelihood of every row by the cells of its ends [N + 1, 5, 5]; the last stands for none.

    What late watches divide by is left out: see `log_entered`.
    """
    out = jnp.zeros((room.design.count + 1, CELLS, CELLS)).at[-1].set(jnp.eye(CELLS))
    poly = drawn.poly
    seen, other = room.seen, room.renewal
    value = window(seen.low @ poly, seen.high @ poly, drawn.eta[seen.row], drawn.parts.of(seen.row))
    out = out.at[seen.row, seen.start, seen.end].set(value)
    if not other.row.size:
        return out
    eta, parts, extra = drawn.eta[other.row], drawn.parts.of(other.row), drawn.extra[other.row]
    tail = renewal_tail(other.low @ poly, eta, parts, extra)
    until = renewal_tail(other.high @ poly, eta, parts, extra)
    return out.at[other.row, other.start, other.end].set(jnp.maximum(tail - until, 0.0) + 1e-12)


def log_entered(room: Room, drawn: Drawn) -> Array:
    """Log of the chance that rows watched from later on had run until then, summed."""
    value = running(room.entry @ drawn.poly, drawn.eta[room.late], drawn.parts.of(room.late))
    return jnp.log(jnp.maximum(value, 1e-6)).sum()


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
    plain = jnp.log(jnp.maximum(cells[room.chains.plain, 0, 0], _TINY)).sum()
    return linked + plain - log_entered(room, drawn)


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
    unit_slope = numpyro.sample("unit_slope", dist.Normal().expand([data.taxa]).to_event(1))
    slope = above[:, 1] + sigma[4] * unit_slope
    kappa = above.at[:, 0].set(centre).at[:, 1].set(slope)
    own_slope = slope[data.animal_taxon]
    wide = jnp.sqrt(sigma[2] ** 2 + (own_slope * data.animal_size_sd) ** 2)
    part = wide**room.centring
    pace = wide / part * numpyro.sample("part_pace", dist.Normal(0.0, part).to_event(1))
    drawn = row_state(room, theta, gamma, kappa, pace)
    numpyro.factor("records", log_likelihood(room, drawn))
    numpyro.deterministic("theta", theta)
    numpyro.deterministic("gamma", gamma)
    numpyro.deterministic("kappa", kappa[:, :2])
    numpyro.deterministic("pace", pace)


def spread_ratio(theta: FloatArray) -> float:
    """Spread of intervals over that of animals, for `make_room`."""
    return float(np.exp(theta[1] - theta[2]))
