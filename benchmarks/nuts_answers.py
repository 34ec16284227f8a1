"""What NUTS says about the quantities of `nuts_rooms`: moments of draws, and odds by plain Bayes.

For one draw, S(d) is the chance that an animal's running interval is longer than d. Draws know of no moult
up to the last look; the odds asked about know of none up to the close of `on`. With averages E over draws

    P(moult within t days) = E[(S(d0) - S(d0 + w(t))) / S(look)] / E[S(d0) / S(look)]

which is exact; the expected climate's shared error is averaged by 7-point quadrature, and moults found late
keep the weights over their cells that each draw gives them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import jax
import jax.numpy as jnp
import numpy as np

from benchmarks.nuts_model import (
    Drawn,
    Room,
    by_cell,
    chebyshev,
    renewal_tail,
    row_state,
    run_chains,
    running,
)
from benchmarks.nuts_rooms import HORIZONS, ReferenceRoom, last_rows
from nightround.science.clock.data import NO_DAY
from nightround.science.clock.design import CELLS, log_length
from nightround.science.thermal import FloatArray, IntArray, clock_at, locate, prepare_warmth, thermal_table

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
NODES: Final = _NODES
NODE_WEIGHTS: Final = _WEIGHTS / _WEIGHTS.sum()
BATCH: Final = 100
# Neighbouring draws say much the same: every other one gives the odds to 0.002.
THIN: Final = 2
Array = Any


@dataclass(frozen=True)
class Asked:
    """Running intervals and the warmth behind and before them, as series in log Q10.

    row [A']                      sorted row of each animal's running interval
    known [A']                    whether its last moult is known
    chain, place [A']             where the row stands in `Chains` (-1 where it is not linked)
    looked, closed [A', 5, D]     log of what had passed at the last look and at the close of `on`, by cell
    ahead [A', H, nodes, 5, D]    log of what will have passed after so many days
    """

    row: IntArray
    known: FloatArray
    chain: IntArray
    place: IntArray
    looked: FloatArray
    closed: FloatArray
    ahead: FloatArray


def make_asked(room: Room, reference: ReferenceRoom) -> Asked:
    """Find the running rows and tabulate their warmth."""
    design = room.design
    animals = reference.asked
    row = last_rows(design)[animals]
    rows = design.data.intervals
    source = design.order[row]
    known = rows.start_last[source] != NO_DAY
    first = np.where(known, rows.start_first[source], rows.watched_from[source]).astype(np.float64)
    last = np.where(known, rows.start_last[source], rows.watched_from[source]).astype(np.float64)
    middle = first[:, None] + (last + 1.0 - first)[:, None] * (np.arange(CELLS) + 0.5) / CELLS
    one_day = first + np.where(known, 0.5, 0.0)
    starts = np.where((last > first)[:, None], middle, one_day[:, None])
    chain, place = np.full(animals.size, -1), np.zeros(animals.size, dtype=np.int64)
    for index, found in enumerate(row):
        where = np.argwhere(room.chains.row == found)
        if where.size:
            chain[index], place[index] = where[0]
    last_stay = np.concatenate([design.paths.first_row[1:], [design.paths.place.size]]) - 1
    home = design.paths.place[last_stay[animals]]
    expected = prepare_warmth(reference.expected)
    columns = design.warmth.exponent.shape[1] + 1

    def warmth(log_q10: float) -> tuple[FloatArray, FloatArray]:
        table = thermal_table(design.warmth, log_q10)

        def at(days: FloatArray) -> FloatArray:
            who = np.repeat(animals, days.shape[1])
            moments = locate(design.paths, who, days.ravel(), table.first_day, columns)
            return clock_at(design.paths, table.elapsed, table.first_day, moments).reshape(days.shape)

        begun = at(starts)
        looked = np.minimum(rows.looked[source] + 1.0, reference.on + 1.0)
        passed = np.maximum(at(np.full((animals.size, 1), reference.on + 1.0)) - begun, 0.0)
        return at(looked[:, None]) - begun, passed

    def ahead(log_q10: float) -> FloatArray:
        passed = warmth(log_q10)[1]
        table = thermal_table(expected, log_q10)
        total = table.elapsed[home][:, list(HORIZONS)]
        doubt = table.doubtful[home][:, list(HORIZONS)] / total
        to_come = total[:, :, None] * np.exp(doubt[:, :, None] * NODES)
        return log_length(passed[:, None, None, :] + to_come[..., None])

    return Asked(
        row,
        known,
        chain,
        place,
        chebyshev(lambda q: log_length(warmth(q)[0])),
        chebyshev(lambda q: log_length(warmth(q)[1])),
        chebyshev(ahead),
    )


def _survival(asked: Asked, drawn: Drawn, log_wait: Array) -> Array:
    """P(longer than the wait) of each running interval; log_wait [A', ...]."""
    size = log_wait.shape
    rows = np.repeat(asked.row, int(np.prod(size[1:])))
    flat, eta, parts, extra = log_wait.reshape(-1), drawn.eta[rows], drawn.parts.of(rows), drawn.extra[rows]
    known = running(flat, eta, parts).reshape(size)
    other = renewal_tail(flat, eta, parts, extra).reshape(size)
    return jnp.where(asked.known.reshape(-1, *(1,) * (len(size) - 1)), known, other)


def _drawn(room: Room, theta: Array, gamma: Array, kappa: Array, pace: Array) -> Drawn:
    return row_state(room, theta, gamma, (room.map @ gamma).at[:, :2].set(kappa), pace)


def terms(room: Room, asked: Asked, drawn: Drawn) -> tuple[Array, Array]:
    """Numerators [A', H] and denominators [A'] of the odds for one draw."""
    before = run_chains(room, by_cell(room, drawn))[1]
    first = jnp.eye(CELLS)[0]
    share = jnp.where((asked.chain >= 0)[:, None], before[asked.chain, asked.place], first)
    look = (share * _survival(asked, drawn, asked.looked @ drawn.poly)).sum(axis=1)
    now = (share * _survival(asked, drawn, asked.closed @ drawn.poly)).sum(axis=1)
    then = jnp.einsum("ahkg,k->ahg", _survival(asked, drawn, asked.ahead @ drawn.poly), NODE_WEIGHTS)
    later = (share[:, None, :] * then).sum(axis=2)
    return (now[:, None] - later) / look[:, None], now / look


def answers(room: Room, reference: ReferenceRoom, draws: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Mean and sd of every quantity of `nuts_rooms.quantity_names`, its draws, and the odds [A', H].

    draws   theta, gamma, kappa, pace, each [chains, draws, ...]
    """
    asked = make_asked(room, reference)
    shape = draws["theta"].shape[:2]
    flat = {
        name: draws[name].reshape(-1, *draws[name].shape[2:]) for name in ("theta", "gamma", "kappa", "pace")
    }
    predictors = jax.jit(jax.vmap(lambda *one: _drawn(room, *one).eta[last_rows(room.design)]))
    each = jax.jit(jax.vmap(lambda *one: terms(room, asked, _drawn(room, *one))))
    starts = range(0, flat["theta"].shape[0], BATCH)
    eta = [
        np.asarray(predictors(*(values[begin : begin + BATCH] for values in flat.values())))
        for begin in starts
    ]
    thinned = [values[::THIN] for values in flat.values()]
    above, below = 0.0, 0.0
    for begin in range(0, thinned[0].shape[0], BATCH):
        part = each(*(values[begin : begin + BATCH] for values in thinned))
        above, below = above + np.asarray(part[0]).sum(axis=0), below + np.asarray(part[1]).sum(axis=0)
    taxa = flat["kappa"].transpose(0, 2, 1).reshape(flat["kappa"].shape[0], -1)
    values = np.concatenate([flat["theta"], flat["gamma"], taxa, np.concatenate(eta)], axis=1)
    return {
        "draws": values.reshape(*shape, -1),
        "mean": values.mean(axis=0),
        "sd": values.std(axis=0),
        "odds": np.asarray(above) / np.asarray(below)[:, None],
    }
