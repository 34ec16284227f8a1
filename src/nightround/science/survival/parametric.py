"""Weibull and Gompertz laws of life: late entry, deaths dated or between two looks, weak priors if wanted.

    weibull    S(t) = exp(-(t / scale)^shape)
    gompertz   S(t) = exp(-rate (exp(ageing t) - 1) / ageing);   ageing below 0: some never die of age

Log-likelihood of a life, H = -log S, h = H': dated log h(left) - H(left), between looks
log(S(left) - S(right)), not known dead -H(left); and + H(entry) for each. A prior is a pair of independent
normal laws on the two working numbers and is added to it.

Intervals are profile-likelihood ones: the range of a quantity over all pairs of numbers whose log-likelihood
is within limit/2 of the best, `limit` the quantile of chi-squared. With few deaths that is too narrow; so,
without a prior and unless told otherwise, the limit is d log(1 + t^2 / (d - 1)), d deaths, t Student's
quantile of d - 1 degrees: exact for the mean of d normal numbers, for these laws measured (docs/survival.md).
The region is traced ray by ray from the best, about which it must be star-shaped, as with laws of two numbers
it is unless next to nothing is known. An end that no ray reaches is told as `bounded` False.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from nightround.foundation.refusal import Refusal
from nightround.science.survival.data import FEWEST, Booleans, Floats, Lives, need_enough

FEWEST_RAYS: Final = 60
MOST_RAYS: Final = 960
POINTS: Final = 1920
FURTHEST: Final = 60.0
_FLAT: Final = 1e-3
_STEP: Final = 1e-3
_ROUGH: Final = 1e-7
LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True)
class Law:
    """A law of two working numbers u (2, G); days (n, 1) give (n, G).

    names          of the two numbers a keeper is told, made from the working ones by `told`
    straight, bent to and from coordinates in which the likelihood's regions are nearly ellipses, by a scale
                   of days
    """

    name: str
    names: tuple[str, str]
    cumulative: Callable[[Floats, Floats], Floats]
    log_hazard: Callable[[Floats, Floats], Floats]
    told: Callable[[Floats], Floats]
    day_of: Callable[[Floats, float], Floats]
    straight: Callable[[Floats, float], Floats]
    bent: Callable[[Floats, float], Floats]
    starts: Callable[[float], Floats]


def _weibull_cumulative(u: Floats, days: Floats) -> Floats:
    with np.errstate(divide="ignore", over="ignore"):
        return np.asarray(np.exp(np.exp(u[1]) * (np.log(days) - u[0])), dtype=np.float64)


def _weibull_log_hazard(u: Floats, days: Floats) -> Floats:
    shape = np.exp(u[1])
    return np.asarray(u[1] - u[0] + (shape - 1.0) * (np.log(days) - u[0]), dtype=np.float64)


def _weibull_day(u: Floats, survival: float) -> Floats:
    with np.errstate(over="ignore"):
        return np.asarray(np.exp(u[0] + np.log(-np.log(survival)) / np.exp(u[1])), dtype=np.float64)


def _weibull_straight(u: Floats, days: float) -> Floats:
    shape = np.exp(u[1])
    return np.stack([shape * (np.log(days) - u[0]), shape])


def _weibull_bent(v: Floats, days: float) -> Floats:
    """NaN where the shape is not above 0."""
    shape = np.where(v[1] > 0.0, v[1], np.nan)
    return np.stack([np.log(days) - v[0] / shape, np.log(shape)])


def _weibull_starts(longest: float) -> Floats:
    scale, shape = np.meshgrid(np.log(longest) + np.linspace(-2.0, 2.0, 17), np.linspace(-1.5, 3.0, 19))
    return np.stack([scale.ravel(), shape.ravel()])


def _gompertz_cumulative(u: Floats, days: Floats) -> Floats:
    flat = np.abs(u[1]) < 1e-12
    ageing = np.where(flat, 1.0, u[1])
    with np.errstate(over="ignore"):
        grown = np.where(flat, days, np.expm1(np.clip(u[1] * days, None, 700.0)) / ageing)
        return np.asarray(np.exp(u[0]) * grown, dtype=np.float64)


def _gompertz_log_hazard(u: Floats, days: Floats) -> Floats:
    return np.asarray(u[0] + u[1] * days, dtype=np.float64)


def _gompertz_day(u: Floats, survival: float) -> Floats:
    wanted = -np.log(survival) * np.exp(-u[0])
    flat = np.abs(u[1]) < 1e-12
    ageing = np.where(flat, 1.0, u[1])
    inside = 1.0 + ageing * wanted
    with np.errstate(invalid="ignore", divide="ignore"):
        aged = np.where(inside > 0.0, np.log(inside) / ageing, np.inf)
    return np.asarray(np.where(flat, wanted, aged), dtype=np.float64)


def _gompertz_straight(u: Floats, days: float) -> Floats:
    return np.stack([u[0] + u[1] * days, u[1] * days])


def _gompertz_bent(v: Floats, days: float) -> Floats:
    return np.stack([v[0] - v[1], v[1] / days])


def _gompertz_starts(longest: float) -> Floats:
    rate, ageing = np.meshgrid(np.linspace(-9.0, 2.0, 23), np.linspace(-3.0, 12.0, 31))
    return np.stack([rate.ravel() - np.log(longest), ageing.ravel() / longest])


def _weibull_told(u: Floats) -> Floats:
    return np.asarray(np.exp(u), dtype=np.float64)


def _gompertz_told(u: Floats) -> Floats:
    return np.stack([np.exp(u[0]), u[1]])


LAWS: Final = {
    "weibull": Law(
        "weibull", ("scale_days", "shape"), _weibull_cumulative, _weibull_log_hazard, _weibull_told,
        _weibull_day, _weibull_straight, _weibull_bent, _weibull_starts,
    ),
    "gompertz": Law(
        "gompertz", ("rate_per_day", "ageing_per_day"), _gompertz_cumulative, _gompertz_log_hazard,
        _gompertz_told, _gompertz_day, _gompertz_straight, _gompertz_bent, _gompertz_starts,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Prior:
    """Independent normal priors on the working numbers.

    weibull: log of the scale in days, log of the shape; gompertz: log of the rate a day at age 0, and the
    ageing a day.
    """

    mean: tuple[float, float]
    sd: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Told:
    """A quantity with its profile-likelihood interval. bounded False: the record lets it run on."""

    value: float
    low: float
    high: float
    bounded: bool


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted law.

    best (2,)      working numbers; edge (2, k): where the region of `level` ends, in order round it
    reached (k,)   the edge was found; else the ray was followed as far as `FURTHEST` standard deviations
    log_likelihood of the lives alone at `best`; log_posterior with the prior, the same without one
    """

    law: Law
    n: int
    deaths: int
    best: Floats
    edge: Floats
    reached: Booleans
    log_likelihood: float
    log_posterior: float
    level: float

    def parameters(self) -> dict[str, Told]:
        """The law's two numbers by name."""
        best, edge = self.law.told(self.best[:, None])[:, 0], self.law.told(self.edge)
        return {name: self._told(float(best[k]), edge[k]) for k, name in enumerate(self.law.names)}

    def survival(self, days: Floats, from_days: float = 0.0) -> list[Told]:
        """Chance to live past each of the days for a life that reached `from_days`."""
        first = np.array([[from_days]])
        told = []
        for day in np.maximum(np.asarray(days, dtype=np.float64), from_days):
            value, edge = (
                np.exp(self.law.cumulative(u, first) - self.law.cumulative(u, np.array([[day]])))[0]
                for u in (self.best[:, None], self.edge)
            )
            told.append(self._told(float(value[0]), edge))
        return told

    def day_of(self, survival: float) -> Told:
        """Day past which a share `survival` of lives lives; 0.5 gives the median."""
        if not 0.0 < survival < 1.0:
            raise Refusal("a share of lives between 0 and 1", got=f"{survival:g}")
        best = float(self.law.day_of(self.best[:, None], survival)[0])
        return self._told(best, self.law.day_of(self.edge, survival))

    def _told(self, value: float, edge: Floats) -> Told:
        low, high = _peak(-edge), _peak(edge)
        bounded = bool(self.reached[int(np.argmin(edge))] and self.reached[int(np.argmax(edge))])
        return Told(value, min(-low, value), max(high, value), bounded)


def _peak(values: Floats) -> float:
    """Largest value round a closed ring, by a parabola through the top three."""
    k = int(np.argmax(values))
    before, top, after = values[k - 1], values[k], values[(k + 1) % len(values)]
    bend = before - 2.0 * top + after
    if not np.isfinite(bend) or bend >= 0.0:
        return float(top)
    return float(top - (after - before) ** 2 / (8.0 * bend))


def log_likelihood(law: Law, lives: Lives, u: Floats) -> Floats:
    """Log-likelihood (G,) of the lives at working numbers u (2, G)."""
    left, right = lives.left_days[:, None], lives.right_days[:, None]
    dated = lives.died & (lives.left_days == lives.right_days)
    between = lives.died & ~dated
    at_left = law.cumulative(u, left)
    value = np.sum(law.cumulative(u, lives.entry_days[:, None]) - at_left, axis=0)
    value += np.sum(law.log_hazard(u, left[dated]), axis=0)
    more = law.cumulative(u, right[between]) - at_left[between]
    with np.errstate(divide="ignore"):
        value += np.sum(np.log(-np.expm1(-more)), axis=0)
    return np.where(np.isfinite(value), value, -np.inf)


def fit(
    lives: Lives,
    law: str = "weibull",
    *,
    prior: Prior | None = None,
    level: float = LEVEL,
    for_few_deaths: bool = True,
) -> Fit:
    """Fit a law to at least three lives; `for_few_deaths` widens intervals as the module says.

    Without a prior at least three deaths are needed, and a best pair of numbers must exist: where the
    likelihood grows without end (all deaths on one day, say) the fit is refused.
    """
    if law not in LAWS:
        raise Refusal(f"a law out of {', '.join(LAWS)}", got=law)
    need_enough(lives, f"a {law} fit")
    deaths = int(lives.died.sum())
    if prior is None and deaths < FEWEST:
        raise Refusal(f"{FEWEST} deaths or a prior for a fitted law", got=f"{deaths} deaths")
    if np.any(lives.died & (lives.right_days <= 0.0)):
        raise Refusal("deaths after day 0", got="some on day 0", todo="Take `whole_days()`")
    limit = _limit(level, deaths if for_few_deaths and prior is None else None)
    return _fitted(LAWS[law], lives, prior, level, limit)


def _limit(level: float, deaths: int | None) -> float:
    """Twice the log-likelihood that may be lost."""
    from scipy.special import chdtri, stdtrit

    if deaths is None:
        return float(chdtri(1, 1.0 - level))
    t = float(stdtrit(deaths - 1, 0.5 + level / 2))
    return float(deaths * np.log1p(t * t / (deaths - 1)))


def _fitted(law: Law, lives: Lives, prior: Prior | None, level: float, limit: float) -> Fit:
    longest = float(max(lives.left_days.max(), lives.right_days[lives.died].max(initial=1.0)))

    def target(v: Floats) -> Floats:
        u = law.bent(v, longest)
        value = log_likelihood(law, lives, u) + _log_prior(prior, u)
        return np.where(np.isfinite(value), value, -np.inf)

    best, spread = _best(target, law.straight(law.starts(longest), longest))
    top = float(target(best[:, None])[0])
    edge, reached = _edge(target, best, spread, top, limit)
    told = law.bent(best[:, None], longest)
    alone = float(log_likelihood(law, lives, told)[0])
    return Fit(
        law,
        len(lives),
        int(lives.died.sum()),
        told[:, 0],
        law.bent(edge, longest),
        reached,
        alone,
        top,
        level,
    )


def _log_prior(prior: Prior | None, u: Floats) -> Floats | float:
    if prior is None:
        return 0.0
    mean, sd = np.array(prior.mean)[:, None], np.array(prior.sd)[:, None]
    return np.asarray(-0.5 * np.sum(((u - mean) / sd) ** 2, axis=0), dtype=np.float64)


def _best(target: Callable[[Floats], Floats], starts: Floats) -> tuple[Floats, Floats]:
    """Best numbers (2,), and a square root (2, 2) of the inverse curvature there."""
    from scipy.optimize import minimize

    def short(u: Floats) -> float:
        return -float(target(u[:, None])[0])

    first = starts[:, int(np.argmax(target(starts)))]
    corners = np.stack([first, first + [0.3, 0.0], first + [0.0, 0.3]])
    options: Any = {"initial_simplex": corners, "xatol": 1e-9, "fatol": 1e-11, "maxfev": 4000}
    found = minimize(short, first, method="Nelder-Mead", options=options)
    best = np.asarray(found.x, dtype=np.float64)
    curvature = _curvature(target, best)
    bends = np.zeros(2)
    if np.all(np.isfinite(curvature)):
        bends = np.linalg.eigvalsh(curvature).astype(np.float64)
    if not found.success or bends[0] <= _FLAT:
        raise Refusal(
            "a best fit within sight",
            got="a likelihood that grows without end or stays flat",
            todo="Wait for more deaths, or give a prior",
        )
    best = best + np.linalg.solve(curvature, _slope(target, best))
    return best, np.linalg.inv(np.linalg.cholesky(curvature)).T


def _slope(target: Callable[[Floats], Floats], at: Floats) -> Floats:
    """First derivatives (2,), by central differences of fourth order."""
    moves = np.array([[1, 0], [-1, 0], [2, 0], [-2, 0], [0, 1], [0, -1], [0, 2], [0, -2]]).T
    v = target(at[:, None] + moves * _STEP)
    return np.array([8 * (v[0] - v[1]) - (v[2] - v[3]), 8 * (v[4] - v[5]) - (v[6] - v[7])]) / (12 * _STEP)


def _curvature(target: Callable[[Floats], Floats], at: Floats) -> Floats:
    """Second derivatives (2, 2) of minus the target, by central differences."""
    moves = np.array([[1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [-1, -1], [1, -1], [-1, 1], [0, 0]]).T
    v = -target(at[:, None] + moves * _STEP) / _STEP**2
    cross = (v[4] + v[5] - v[6] - v[7]) / 4
    return np.array([[v[0] + v[1] - 2 * v[8], cross], [cross, v[2] + v[3] - 2 * v[8]]])


def _edge(
    target: Callable[[Floats], Floats], best: Floats, spread: Floats, top: float, limit: float
) -> tuple[Floats, Booleans]:
    """Points (2, k) where twice the lost log-likelihood reaches the limit, and where it was reached.

    The distance is smooth in the angle, so a Fourier series through the rays gives it in between; rays are
    doubled until its highest terms are nothing.
    """
    rays = FEWEST_RAYS
    while True:
        ray = spread @ _circle(rays)
        at = _distance(target, best, ray, top, float(np.sqrt(limit)))
        reached = at < FURTHEST * 0.999
        terms = np.abs(np.fft.rfft(at))
        smooth = bool(terms[-rays // 12 :].max() < _ROUGH * terms[0])
        if (smooth and reached.all()) or rays >= MOST_RAYS:
            break
        rays *= 2
    if reached.all():
        at = np.fft.irfft(np.fft.rfft(at), POINTS) * (POINTS / rays)
        ray = spread @ _circle(POINTS)
    return best[:, None] + ray * at, np.resize(reached, len(at))


def _circle(points: int) -> Floats:
    angle = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    return np.stack([np.cos(angle), np.sin(angle)])


def _distance(
    target: Callable[[Floats], Floats], best: Floats, ray: Floats, top: float, wanted: float
) -> Floats:
    """Distance (k,) along each ray to where the root of twice the lost log-likelihood is `wanted`."""
    near, far = np.zeros(ray.shape[1]), np.full(ray.shape[1], FURTHEST)
    at = np.full(ray.shape[1], wanted)
    for _ in range(60):
        lost = np.sqrt(np.maximum(2.0 * (top - target(best[:, None] + ray * at)), 0.0))
        if np.all((np.abs(lost - wanted) < 1e-10) | (near >= FURTHEST * (1 - 1e-9))):
            break
        near, far = np.where(lost <= wanted, at, near), np.where(lost <= wanted, far, at)
        with np.errstate(divide="ignore", invalid="ignore"):
            guess = at * wanted / lost
        sound = np.isfinite(guess) & (guess > near) & (guess < far)
        at = np.where(sound, guess, (near + far) / 2)
    return at
