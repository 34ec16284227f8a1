"""Turnbull's estimate: deaths between two looks, late entry, no assumed law (Turnbull 1976, JRSS B 38:290).

The likelihood of a life is P(left < T <= right) / P(T >= entry), or P(T > left) / P(T >= entry) if not known
dead. It tells only how much chance of death lies in each *cell*: a stretch which begins at somebody's last
sign of life and ends, with no other beginning or end within, at somebody's first day known dead or just
before somebody's entry (the latter: Frydman 1994, JRSS B 56:71; from memory). Where in a cell is not known,
so the curve is given twice: as if all died at once (lowest) and as late as possible (highest).

With hazards h_j of the cells and S_j = prod of (1 - h_i) over i < j, expectation-maximisation is

    d_j = sum over lives of P(death in j | its interval)         expected deaths
    n_j = sum over lives of P(alive and watched at j | ...)      expected at risk
    h_j = d_j / n_j

the product limit itself, and reached in one step, where all deaths are dated. Steps are stretched by SQUAREM
(Varadhan & Roland 2008, Scand. J. Stat. 35:335; from memory) where that raises the likelihood. In the log
survivals at the ends of cells the log-likelihood is concave (log(e^a - e^b) is, and entry is linear), so what
it climbs to is the highest there is. Without late entry the masses are unique: each cell ends at the right
end of some interval, which makes the table of cells by lives triangular. With late entry they need not be;
`unique` tells for the cells that hold deaths.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.survival.cells import Cells, cells_of
from nightround.science.survival.data import FEWEST, Booleans, Floats, Lives, need_enough

SLACK: Final = 1e-7
MOST_STEPS: Final = 20_000
_NEARLY_ALL: Final = 1.0 - 1e-10
# Cells with fewer expected deaths than this are on their way to none.
_FEWEST_DEATHS: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Turnbull:
    """The estimate; survival is that of lives that reached `from_days`. Cells (m,) hold deaths.

    after, upto    each cell's ends in days, death in (after, upto]; equal: on that day. upto may be the day
                   before which somebody came: then death lies before it
    mass           chance of death in the cell
    survival       after each cell
    log_likelihood of all lives, the condition of entry taken off
    unique         the masses are the only ones of this likelihood
    converged      no score is further than `slack` from its best; see `steps` taken
    """

    n: int
    deaths: int
    from_days: float
    to_days: float
    after: Floats
    upto: Floats
    mass: Floats
    survival: Floats
    log_likelihood: float
    unique: bool
    converged: bool
    slack: float
    steps: int

    def at(self, days: Floats) -> tuple[Floats, Floats]:
        """Lowest and highest survival (k,) right after given days that the estimate leaves open.

        They differ inside cells only. NaN before `from_days` and past the last day anybody was seen.
        """
        asked = np.asarray(days, dtype=np.float64)
        levels = np.concatenate(([1.0], self.survival))
        dated = self.after == self.upto
        begun = np.searchsorted(np.where(dated, self.after, np.nextafter(self.after, np.inf)), asked, "right")
        ended = np.searchsorted(self.upto, asked, side="right")
        known = (asked >= self.from_days) & ((asked <= self.to_days) | (levels[ended] <= 0.0))
        hide = np.where(known, 1.0, np.nan)
        return levels[begun] * hide, levels[ended] * hide


def turnbull(lives: Lives, *, slack: float = SLACK, most_steps: int = MOST_STEPS) -> Turnbull:
    """Estimate survival of at least three lives, of which one died."""
    need_enough(lives, "Turnbull's estimate")
    if not lives.died.any():
        raise Refusal("a death for Turnbull's estimate", got="none", todo="Say how old the oldest alive is")
    cells = cells_of(lives)
    hazard, log_likelihood, worst, steps = _climb(cells, slack, most_steps)
    return _told(lives, cells, hazard, log_likelihood, worst, steps, slack)


def log_likelihood_of(
    lives: Lives, survival_left: Floats, survival_right: Floats, survival_entry: Floats
) -> float:
    """Log-likelihood of any curve: its survival right after left and right days, and right before entry.

    Of a death dated to the day `survival_left` is the survival right before that day.
    """
    kept = np.where(lives.died, survival_left - survival_right, survival_left)
    with np.errstate(divide="ignore"):
        return float(np.sum(np.log(kept) - np.log(survival_entry)))


def _expected(cells: Cells, hazard: Floats) -> tuple[Floats, Floats, float]:
    """Expected deaths and numbers at risk (m,) under these hazards, and their log-likelihood."""
    s = np.maximum(np.concatenate(([1.0], np.cumprod(1.0 - hazard))), 1e-300)
    if hazard[-1] >= 1.0:
        s[-1] = 0.0
    first, after = cells.first, cells.last + 1
    chance = np.maximum(s[first] - s[after], 1e-300)
    m = len(hazard)
    share = np.bincount(first, 1.0 / chance, m + 1) - np.bincount(after, 1.0 / chance, m + 1)
    beyond = np.bincount(first, s[after] / chance, m + 1) - np.bincount(after, s[after] / chance, m + 1)
    w, v = np.cumsum(share)[:m], np.cumsum(beyond)[:m]
    value = float(np.sum(np.log(chance)) + np.sum(np.log(s[cells.seen])) - np.sum(np.log(s[cells.entry])))
    return s[:m] * hazard * w, cells.certain + np.maximum(s[:m] * w - v, 0.0), value


def _updated(deaths: Floats, at_risk: Floats, closed: bool) -> Floats:
    """Hazards of these expectations; 1, in the last cell alone, if nobody came later."""
    hazard = np.divide(deaths, at_risk, out=np.zeros_like(deaths), where=at_risk > 0)
    last = float(hazard[-1])
    hazard = np.clip(hazard, 0.0, _NEARLY_ALL)
    if closed:
        hazard[-1] = 1.0 if last > 1.0 - 1e-12 else last
    return hazard


def _worst(deaths: Floats, at_risk: Floats, hazard: Floats) -> float:
    """Largest score still off: expected deaths of a cell less those its hazard gives."""
    return float(np.max(np.abs(deaths - at_risk * hazard)))


def _climb(cells: Cells, slack: float, most_steps: int) -> tuple[Floats, float, float, int]:
    hazard = _updated(*_start(cells), cells.closed)
    deaths, at_risk, value = _expected(cells, hazard)
    steps = 1
    while (worst := _worst(deaths, at_risk, hazard)) > slack and steps < most_steps:
        one = _updated(deaths, at_risk, cells.closed)
        two = _updated(*_expected(cells, one)[:2], cells.closed)
        first, bend = one - hazard, two - 2.0 * one + hazard
        length = np.linalg.norm(first) / max(float(np.linalg.norm(bend)), 1e-300)
        tried = two
        if length > 1.0:
            far = hazard + 2.0 * length * first + length**2 * bend
            tried = np.where((far > 0.0) & (far < _NEARLY_ALL), far, two)
            tried[-1] = two[-1]
        found = _expected(cells, tried)
        if not found[2] >= value:
            tried = two
            found = _expected(cells, tried)
        hazard, (deaths, at_risk, value) = tried, found
        steps += 3
    return hazard, value, worst, steps


def _start(cells: Cells) -> tuple[Floats, Floats]:
    """Every interval's death spread evenly over its cells."""
    m = len(cells.certain)
    width = 1.0 / (cells.last + 1 - cells.first)
    share = np.bincount(cells.first, width, m + 1) - np.bincount(cells.last + 1, width, m + 1)
    deaths = np.maximum(np.cumsum(share)[:m], 1e-12)
    inside = np.cumsum(
        np.bincount(cells.first, minlength=m + 1) - np.bincount(cells.last + 1, minlength=m + 1)
    )
    return deaths, cells.certain + np.maximum(inside[:m], deaths)


def _told(
    lives: Lives, cells: Cells, hazard: Floats, value: float, worst: float, steps: int, slack: float
) -> Turnbull:
    """Keep the cells that hold deaths, from the first day that the lives tell of."""
    start = _start_days(lives, cells, hazard)
    deaths = _expected(cells, hazard)[0]
    holding = deaths > _FEWEST_DEATHS
    held = holding & np.where(cells.after == cells.upto, cells.after >= start, cells.upto > start)
    kept = hazard[held]
    before = np.concatenate(([1.0], np.cumprod(1.0 - kept)))
    survival = np.where(before[1:] < 1e-9, 0.0, before[1:])
    return Turnbull(
        len(lives),
        int(lives.died.sum()),
        start,
        float(lives.left_days.max()),
        cells.after[held],
        cells.upto[held],
        before[:-1] * kept,
        survival,
        value,
        _unique(cells, hazard, holding),
        worst <= slack,
        worst,
        steps,
    )


def _start_days(lives: Lives, cells: Cells, hazard: Floats) -> float:
    """First day with three lives watched, after the last cell in which all at risk died and others came."""
    opening = np.sort(lives.entry_days)
    gone = np.sort(lives.left_days)
    later = int(cells.entry.max())
    emptied = np.flatnonzero((hazard >= _NEARLY_ALL) & (np.arange(1, len(hazard) + 1) <= later))
    if len(emptied):
        opening = opening[opening >= cells.upto[emptied[-1]]]
    watched = np.searchsorted(np.sort(lives.entry_days), opening, "right") - np.searchsorted(gone, opening)
    busy = opening[watched >= FEWEST]
    return float(busy[0] if len(busy) else opening[0])


def _unique(cells: Cells, hazard: Floats, held: Booleans) -> bool:
    """Whether the masses of the cells that hold deaths are the only ones of this likelihood.

    Each death tells the sum of the log hazards over its cells, that is, the difference of two ends of cells;
    so the masses are unique if these differences link all ends into one piece. Cells that all at risk died
    in are known, and deaths whose interval spans one tell nothing more.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    number = np.concatenate(([0], np.cumsum(held)))
    full = np.flatnonzero(held & (hazard >= _NEARLY_ALL))
    fulls = np.concatenate(([0], np.cumsum(held & (hazard >= _NEARLY_ALL))))
    tells = fulls[cells.last + 1] == fulls[cells.first]
    one = np.concatenate([number[cells.first[tells]], number[full]])
    other = np.concatenate([number[cells.last[tells] + 1], number[full + 1]])
    ends = int(number[-1]) + 1
    links = coo_array((np.ones(len(one)), (one, other)), shape=(ends, ends))
    return int(connected_components(links, directed=False)[0]) == 1
