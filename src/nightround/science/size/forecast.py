"""How big an animal is now and after its next moult, in any measured part, with its doubt.

All answers are about the true size of the part (legs stretched), not about a reading of it, unless a channel
is named. The doubt counts state, coefficients, animal, step and the uncertainty of the spreads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.size.data import MALE, Floats
from nightround.science.size.fit import SizeFit
from nightround.science.size.layout import ANIMAL, FIRST_COEFFICIENT
from nightround.science.size.maturity import FEMALE_GRID, MALE_GRID, female_share, hazard, wider
from nightround.science.size.maturity_priors import MATURE_MALE_UNNOTICED
from nightround.science.size.priors import REFERENCE_LOG_MM, CoefficientPrior

LEVELS: Final = tuple(round(0.05 * step, 2) for step in range(1, 20))
# Gauss-Hermite nodes and weights for an integral over a standard normal, five points.
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, slots=True)
class Outlook:
    """Log sizes of one part of n animals: a mixture of c normals whose spreads are themselves in doubt.

    weights, means, sds   (c, n) on the log scale of `unit`; nan where the animal will not moult again.
                          After a moult c is 3: growing on, maturing then, and mature already
    spread_log_sd         (n,) each sd is sd·exp(spread_log_sd·ξ), ξ standard normal
    measured              (n,) whether any reading of that animal stands behind the answer
    """

    part: str
    unit: str
    weights: Floats
    means: Floats
    sds: Floats
    spread_log_sd: Floats
    measured: NDArray[np.bool_]

    @property
    def mean(self) -> Floats:
        """Mean of the log size (n,)."""
        return np.asarray((self.weights * self.means).sum(axis=0), dtype=np.float64)

    @property
    def sd(self) -> Floats:
        """Standard deviation of the log size (n,), at the best guess of the spreads."""
        square = (self.weights * (self.sds**2 + (self.means - self.mean) ** 2)).sum(axis=0)
        return np.asarray(np.sqrt(square), dtype=np.float64)

    def median(self) -> Floats:
        """Return (n,) medians [unit]."""
        result: Floats = self.quantiles((0.5,))[:, 0]
        return result

    def quantiles(self, levels: tuple[float, ...] = LEVELS) -> Floats:
        """Return (n, levels) quantiles [unit], by bisection on the mixture's distribution."""
        from scipy.special import ndtri

        furthest = np.abs(ndtri(np.array(levels))).max() * np.exp(3.0 * self.spread_log_sd) + 0.1
        low = np.broadcast_to(
            (self.means - self.sds * furthest).min(axis=0)[:, None], (len(furthest), len(levels))
        )
        high = np.broadcast_to((self.means + self.sds * furthest).max(axis=0)[:, None], low.shape)
        for _ in range(26):
            middle = 0.5 * (low + high)
            below = self._below(middle) < np.array(levels)
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        result: Floats = np.exp(0.5 * (low + high))
        result[np.isnan(self.mean)] = np.nan
        return result

    def exceeds(self, size: float) -> Floats:
        """Return (n,) the probability that the true size is above `size` [unit]."""
        result: Floats = 1.0 - self._below(np.full((len(self.spread_log_sd), 1), np.log(size)))[:, 0]
        return result

    def _below(self, x: Floats) -> Floats:
        """P(log size < x) for x (n, q)."""
        from scipy.special import ndtr

        total = np.zeros_like(x)
        for weight, mean, sd in zip(self.weights, self.means, self.sds, strict=True):
            z = (x - mean[:, None]) / sd[:, None]
            for node, share in zip(_NODES, _WEIGHTS, strict=True):
                total += weight[:, None] * share * ndtr(z / np.exp(node * self.spread_log_sd)[:, None])
        return total


def _mix(first: Outlook, second: Outlook, chance: Floats) -> Outlook:
    """The first with 1 − chance, the second with chance (n,)."""
    return Outlook(
        first.part,
        first.unit,
        np.concatenate([(1.0 - chance) * first.weights, chance * second.weights]),
        np.concatenate([first.means, second.means]),
        np.concatenate([first.sds, second.sds]),
        first.spread_log_sd,
        first.measured,
    )


@dataclass(frozen=True, slots=True)
class _State:
    """A log carapace length of every packed animal: mean, what is free given u, dependence on u, own step."""

    mean: Floats
    free: Floats
    on_u: Floats
    steps: float
    spread_log_sd: Floats


def size_at(
    fit: SizeFit, part: str, instar: NDArray[np.int64] | None = None, *, channel: str | None = None
) -> Outlook:
    """Size of a part in the given instar of each animal (n,), by default the last one known.

    channel   predict a reading of that channel (its bias and error included) instead of the true size
    """
    packed, swept = fit.inside.packed, fit.inside.swept
    last = (fit.data.n_instars - 1 if instar is None else instar)[packed.order]
    if last.size and (np.any(last < 0) or np.any(last >= fit.data.n_instars[packed.order])):
        raise Refusal(
            "an instar on record for each animal", got="one outside them", todo="Use next_size to look ahead"
        )
    row = np.arange(len(last))
    state = _State(
        swept.state[row, last],
        swept.free_variance[row, last],
        swept.state_on_u[row, last],
        0.0,
        np.zeros(len(last)),
    )
    return _outlook(fit, state, last, part, channel)


def next_size(
    fit: SizeFit, part: str, *, last_moult: float | None = None, channel: str | None = None
) -> Outlook:
    """Size of a part after the next moult of each animal (n,); nan for males known to be mature.

    A mixture of growing on, of maturing at that moult, and of being mature already.

    last_moult   1 when the next moult is known to be the maturing one (None: not known)
    channel      predict a reading of that channel instead of the true size
    """
    inside = fit.inside
    chance = inside.judged.stages.now[inside.place]
    matures = next_moult_matures(fit).chance / np.maximum(1.0 - chance, 1e-12)
    if last_moult is not None:
        matures = np.full(len(chance), last_moult)
    growing = _step_ahead(fit, part, 0.0, channel, mature=0.0)
    youth = _mix(growing, _step_ahead(fit, part, 1.0, channel, mature=0.0), np.clip(matures, 0.0, 1.0))
    return _mix(youth, _step_ahead(fit, part, 0.0, channel, mature=1.0), chance)


def _step_ahead(fit: SizeFit, part: str, last_moult: float, channel: str | None, *, mature: float) -> Outlook:
    """Size after the next moult if it still grows up (mature 0), or if it is mature already (1)."""
    packed, swept, layout, data = fit.inside.packed, fit.inside.swept, fit.inside.layout, fit.data
    last = (data.n_instars - 1)[packed.order]
    row = np.arange(len(last))
    x, sex = swept.state[row, last], data.sex[packed.order]
    growing = 1.0 - mature
    decline = fit.inside.point.decline[packed.taxon] * growing
    male = 1.0 - fit.inside.judged.stages.female
    design = np.zeros_like(swept.u_mean)
    design[:, 0] = growing
    for name, times in (
        ("step", np.full(len(last), growing)),
        ("decline", -(x - packed.centre[packed.taxon]) * growing),
        ("male_last", last_moult * male * growing),
        ("female_last", last_moult * (1.0 - male) * growing),
        ("mature_step", np.full(len(last), mature)),
    ):
        design[:, layout.must(name) - ANIMAL] = times
    mean = x + np.einsum("nq,nq->n", design, swept.u_mean)
    mean[(sex == MALE) & (data.mature_instar[packed.order] >= 0)] = np.nan
    on_u = (1.0 - decline)[:, None] * swept.state_on_u[row, last] + design
    free = (1.0 - decline) ** 2 * swept.free_variance[row, last] + fit.spreads.step**2
    state = _State(mean, free, on_u, 1.0, _log_sd_of_spread(fit, free, on_u))
    return _outlook(fit, state, last, part, channel)


@dataclass(frozen=True, slots=True)
class NextMoultMatures:
    """Chance (n,) that the next moult is the maturing one, with the animal's own sex and if it were of a sex.

    chance          not mature yet, and maturing then
    female, male    the same given the sex; nan where the sex is known to be the other
    is_female       chance that it is a female
    """

    chance: Floats
    female: Floats
    male: Floats
    is_female: Floats


def next_moult_matures(fit: SizeFit) -> NextMoultMatures:
    """Chance that the next moult is the maturing one, sizes of maturity summed over; 0 for mature males."""
    inside, data = fit.inside, fit.data
    packed, judged = inside.packed, inside.judged
    ahead = _step_ahead(fit, "carapace_length", 0.0, None, mature=0.0)
    order, last = packed.order, (data.n_instars - 1)[packed.order]
    width = wider(judged.maturity.prior.width, ahead.sds[0][order] ** 2)
    as_female, as_male = female_share(judged.maturity, packed, judged.courses)
    x = np.nan_to_num(ahead.means[0][order])
    young = 1.0 - judged.courses.stage[np.arange(len(last)), last]
    noted = packed.after[np.arange(len(last)), last] > 0
    she = (as_female * young * hazard(x, FEMALE_GRID, width)).sum(axis=1)
    he = (as_male * hazard(x, MALE_GRID, width)).sum(axis=1)
    she[noted] = he[noted] = 0.0
    female = judged.stages.female
    with np.errstate(divide="ignore", invalid="ignore"):
        by_sex = np.where(female > 0, she / female, np.nan), np.where(female < 1, he / (1.0 - female), np.nan)
    place = inside.place
    return NextMoultMatures((she + he)[place], by_sex[0][place], by_sex[1][place], female[place])


def _log_sd_of_spread(fit: SizeFit, free: Floats, on_u: Floats) -> Floats:
    """How unsure the log of the sd of a next size is, through the step and animal spreads."""
    covariance = fit.inside.swept.u_covariance
    total = free + np.einsum("nq,nqr,nr->n", on_u, covariance, on_u, optimize=True)
    step = fit.spreads.step**2 / total * fit.spread_log_sd[0]
    animal = covariance[:, 0, 0] / total * fit.spread_log_sd[1]
    result: Floats = np.minimum(np.hypot(step, animal), 0.8)
    return result


def _outlook(
    fit: SizeFit, state: _State, instar: NDArray[np.int64], part: str, channel: str | None
) -> Outlook:
    row = fit.data.priors.part(part)
    mean, on_u, free = state.mean.copy(), state.on_u.copy(), state.free.copy()
    if row.offset is not None and row.slope is not None:
        slope, extra = _coefficient(fit, row.slope, state.mean - REFERENCE_LOG_MM, on_u * 0.0)
        base, offset = _coefficient(fit, row.offset, np.ones_like(mean), extra[1])
        on_u, free = slope[:, None] * on_u + offset[1], slope**2 * free + extra[0] + offset[0]
        mean = base + slope * (mean - REFERENCE_LOG_MM)
    mean, on_u, free = _legs_of_males(fit, part, instar + int(state.steps), mean, on_u, free)
    if channel is not None:
        mean, on_u, free = _as_read(fit, channel, mean, on_u, free)
    covariance = fit.inside.swept.u_covariance
    variance = free + np.einsum("nq,nqr,nr->n", on_u, covariance, on_u, optimize=True)
    place = fit.inside.place
    owner = fit.data.reading_animal[fit.inside.packed.kept]
    known = np.bincount(owner, minlength=fit.data.n_animals) > 0
    sd, mean = np.sqrt(variance)[place], mean[place]
    ones = np.ones((1, len(sd)))
    return Outlook(part, row.unit, ones, mean[None], sd[None], state.spread_log_sd[place], known)


def _coefficient(
    fit: SizeFit, prior: CoefficientPrior, times: Floats, on_u: Floats
) -> tuple[Floats, tuple[Floats, Floats]]:
    """Mean (n,) of a coefficient, and what `times` it adds: (own variance (n,), dependence on u (n, q)).

    A coefficient the fit did not need has its prior and is independent of everything else.
    """
    column = fit.inside.layout.column(prior.name)
    if column is None:
        return np.full(len(times), prior.mean), (times**2 * prior.total_variance, on_u)
    dependence = on_u.copy()
    dependence[:, column - ANIMAL] += times
    taxon = fit.inside.packed.taxon
    mean: Floats = fit.inside.swept.pooled.mean[taxon, column - FIRST_COEFFICIENT]
    return mean, (np.zeros(len(times)), dependence)


def _legs_of_males(
    fit: SizeFit, part: str, instar: NDArray[np.int64], mean: Floats, on_u: Floats, free: Floats
) -> tuple[Floats, Floats, Floats]:
    prior = next((c for c in fit.data.priors.coefficients if c.name == "male_legs"), None)
    order = fit.inside.packed.order
    mature_instar = fit.data.mature_instar[order]
    mature_male = (fit.data.sex[order] == MALE) & (mature_instar >= 0) & (instar >= mature_instar)
    if prior is None or part != "leg_span" or not np.any(mature_male):
        return mean, on_u, free
    times = mature_male.astype(float)
    legs, (own, dependence) = _coefficient(fit, prior, times, on_u)
    return mean + legs * times, dependence, free + own


def _as_read(
    fit: SizeFit, channel: str, mean: Floats, on_u: Floats, free: Floats
) -> tuple[Floats, Floats, Floats]:
    index = fit.data.priors.channel_index(channel)
    row = fit.data.priors.channels[index]
    error = row.error
    if index in fit.inside.packed.channels:
        error = float(fit.spreads.channels[fit.inside.packed.channels.index(index)])
    free = free + error**2
    if row.bias is None:
        return mean, on_u, free
    bias, (own, dependence) = _coefficient(fit, row.bias, np.ones_like(mean), on_u)
    return mean + bias, dependence, free + own


def last_moult_unnoticed(fit: SizeFit, unnoticed: float = MATURE_MALE_UNNOTICED) -> Floats:
    """Chance (n,) that an animal's latest moult was its last: a male's maturing one that nobody noticed.

    Only animals that may be males and are not noted as mature; 0 for the others. Bayes, with the chance
    `unnoticed` that such a male would stand in the record as not mature.
    """
    inside = fit.inside
    packed, judged = inside.packed, inside.judged
    row, last = np.arange(len(packed.taxon)), (fit.data.n_instars - 1)[packed.order]
    _, as_male = female_share(judged.maturity, packed, judged.courses)
    x, variance = inside.swept.state[row, last], inside.swept.state_variance[row, last]
    chance = hazard(x, MALE_GRID, wider(judged.maturity.prior.width, variance))
    missed = (as_male * chance / np.maximum(1.0 - chance, 1e-3)).sum(axis=1) * unnoticed
    missed[packed.after[row, last] > 0] = 0.0
    result: Floats = (missed / (1.0 + missed))[inside.place]
    return result
