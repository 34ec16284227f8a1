"""The product limit (Kaplan & Meier 1958) with late entry, on the rules of the day of `data`.

    S(t) = prod over death days t_j <= t of (1 - d_j / n_j),   n_j = lives with entry <= t_j <= last day

Late entry tells nothing of the days before the first one was watched, so a curve holds *for those that
reached its first day*: `from_days`. Left to itself it starts where at least three lives are watched, and
after the last day on which everybody watched died while others were seen alive later: survival cannot be 0
while an animal lives. Past the last day anybody was watched survival is unknown (NaN), not flat.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import FEWEST, LEFT, Floats, Integers, Lives, need_enough
from nightround.science.survival.limits import METHODS, Steps

SHOWN: Final = "half-beta"
LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True)
class Values:
    """The curve on days asked about; arrays (k,). NaN: not known there."""

    days: Floats
    survival: Floats
    low: Floats
    high: Floats
    at_risk: Floats


@dataclass(frozen=True, slots=True)
class Curve:
    """A product limit; survival is that of lives which reached `from_days`.

    n, unused      lives behind the curve, and those that ended before it starts
    days, deaths, at_risk   days with deaths (k,) and the two counts on each
    survival, low, high     (k,) right after each of these days, with the interval of `level`
    to_days        last day anybody was watched
    entries, exits sorted days of the lives behind it
    method         name of the interval, see `limits.METHODS`
    """

    n: int
    unused: int
    from_days: float
    to_days: float
    days: Floats
    deaths: Floats
    at_risk: Floats
    survival: Floats
    low: Floats
    high: Floats
    entries: Floats
    exits: Floats
    level: float
    method: str

    def at(self, days: Floats) -> Values:
        """Survival with its interval on given days (k,)."""
        asked = np.asarray(days, dtype=np.float64)
        steps = _steps(self.days, self.deaths, self.at_risk, self.entries, self.exits, asked)
        low, high = METHODS[self.method](steps, self.level)
        known = (asked >= self.from_days) & ((asked <= self.to_days) | (steps.survival <= 0.0))
        hide = np.where(known, 1.0, np.nan)
        watched = _watched(self.entries, self.exits, asked)
        return Values(asked, steps.survival * hide, low * hide, high * hide, watched)

    def day_of(self, survival: float) -> tuple[float, float, float]:
        """First day on which the curve, its low end and its high end are at or under `survival`.

        The median is `day_of(0.5)`. Where the record ends before: inf, for "later than all that was watched".
        """
        edges = np.concatenate(([self.from_days], self.days))
        values = self.at(edges)
        found = []
        for line in (values.survival, values.low, values.high):
            under = np.flatnonzero(line <= survival + 1e-12)
            found.append(float(edges[under[0]]) if len(under) else np.inf)
        return found[0], found[1], found[2]


def product_limit(
    lives: Lives, *, from_days: float | None = None, level: float = LEVEL, method: str = SHOWN
) -> Curve:
    """Estimate the curve of at least three lives whose deaths are dated to the day.

    lives          see `Lives`; a death between two looks is refused: `turnbull` is for those
    from_days      first day of the curve; None: chosen as the module says
    """
    need_enough(lives, "a curve")
    if not lives.dated.all():
        raise Refusal(
            "deaths dated to the day for a product limit",
            got=f"{int((~lives.dated).sum())} between two looks",
            todo="Use Turnbull's estimate",
        )
    if method not in METHODS:
        raise Refusal(f"an interval out of {', '.join(METHODS)}", got=method)
    start = _start(lives) if from_days is None else from_days
    behind = lives.only(lives.left_days >= start)
    if not len(behind):
        raise Refusal("a first day on which lives are watched", got=f"day {start:g}")
    entries = np.sort(np.maximum(behind.entry_days, start))
    exits = np.sort(behind.left_days)
    days, counts = np.unique(behind.left_days[behind.died], return_counts=True)
    deaths, at_risk = counts.astype(np.float64), _watched(entries, exits, days)
    steps = _steps(days, deaths, at_risk, entries, exits, days)
    low, high = METHODS[method](steps, level)
    return Curve(
        len(behind), len(lives) - len(behind), float(start), float(exits[-1]), days, deaths, at_risk,
        steps.survival, low, high, entries, exits, level, method,
    )  # fmt: skip


def product_limits(
    lives: Lives, group: Integers, *, level: float = LEVEL, method: str = SHOWN
) -> dict[int, Curve | None]:
    """One curve for each number in `group` (n,), as `product_limit`; None for groups of fewer than three."""
    if group.shape != lives.entry_days.shape:
        raise Refusal("a group for every life", got=f"{group.shape} for {len(lives)} lives")
    curves: dict[int, Curve | None] = {}
    for number in np.unique(group):
        some = lives.only(group == number)
        curves[int(number)] = product_limit(some, level=level, method=method) if len(some) >= FEWEST else None
    return curves


def _watched(entries: Floats, exits: Floats, days: Floats) -> Floats:
    """At risk on each day: entered by then (that day included), and not gone before it."""
    entered = np.searchsorted(entries, days, side="right")
    gone = np.searchsorted(exits, days, side="left")
    return (entered - gone).astype(np.float64)


def _start(lives: Lives) -> float:
    """First day of a curve: three lives watched, and nobody seen after a day on which all died."""
    entries, exits = np.sort(lives.entry_days), np.sort(lives.left_days)
    days, deaths = np.unique(lives.left_days[lives.died], return_counts=True)
    emptied = days[(deaths == _watched(entries, exits, days)) & (days < exits[-1])]
    opening = entries[entries > emptied[-1]] if len(emptied) else entries
    busy = opening[_watched(entries, exits, opening) >= FEWEST]
    return float(busy[0] if len(busy) else opening[0])


def _steps(
    days: Floats, deaths: Floats, at_risk: Floats, entries: Floats, exits: Floats, asked: Floats
) -> Steps:
    """Everything the intervals need, right after each day asked about."""
    upto = np.searchsorted(days, asked, side="right")
    d, n = deaths, at_risk
    with np.errstate(divide="ignore"):
        variance = np.cumsum(d / (n * (n - d)))
    gone = np.searchsorted(exits, asked, side="right")
    remaining = np.searchsorted(entries, asked, side="right") - gone
    first = (n - d + 1) / (n + 1)
    second = first * (n - d + 2) / (n + 2)
    return Steps(
        _behind(np.cumprod(1.0 - d / n), upto, 1.0),
        _behind(variance, upto, 0.0),
        _behind(np.cumprod(first), upto, 1.0),
        _behind(np.cumprod(second), upto, 1.0),
        remaining.astype(np.float64),
        d,
        n,
        upto,
    )


def _behind(sums: NDArray[np.floating], upto: Integers, none: float) -> Floats:
    return np.concatenate(([none], sums))[upto].astype(np.float64)


def with_later_hazard(lives: Lives, curve: Curve, ratio: float) -> Floats:
    """Survival (k,) after each of the curve's days if those sold or given died `ratio` times as fast later.

    Those who left stay in the sum with the chance that they still live: after leaving on day c it falls by
    (1 - h_j)^ratio on each later death day, h_j = d_j / n_j of those watched. A ratio of 1 is the curve
    itself. Nobody knows the ratio: shown with 0.5 and 2 it tells how much the answer hangs on those who left.
    """
    if lives.fate is None:
        raise Refusal("lives whose fates are told", got="none")
    if not (np.isfinite(ratio) and ratio >= 0.0):
        raise Refusal("a ratio of hazards of 0 or more", got=f"{ratio:g}")
    left = np.sort(lives.left_days[(lives.fate == LEFT) & (lives.left_days >= curve.from_days)])
    hazard = curve.deaths / curve.at_risk
    kept = (1.0 - hazard) ** ratio
    since = np.searchsorted(left, curve.days, side="left")
    joined = np.diff(np.concatenate(([0], since))).astype(np.float64)
    survival, out_of_sight, now = np.empty(len(hazard)), 0.0, 1.0
    for j, keep in enumerate(kept):
        out_of_sight += joined[j]
        dying = curve.deaths[j] + out_of_sight * (1.0 - keep)
        now *= 1.0 - dying / (curve.at_risk[j] + out_of_sight)
        out_of_sight *= keep
        survival[j] = now
    return survival
