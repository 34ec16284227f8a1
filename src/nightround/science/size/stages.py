"""Which steps were growth and which came after maturity, told from readings and sizes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.size.data import Floats, Integers, Packed
from nightround.science.size.layout import ANIMAL, FIRST_COEFFICIENT, REFERENCE_LOG_MM, Layout
from nightround.science.size.maturity import (
    Courses,
    Maturity,
    Stages,
    Steps,
    follow,
    learn,
    prior_maturity,
    tell,
)
from nightround.science.size.maturity_priors import MaturityPrior
from nightround.science.size.sweep import HUBER, Point, Spreads, Swept


@dataclass(frozen=True, slots=True)
class Judged:
    """What the courses of all animals say of sizes of maturity, and what those say of each animal."""

    maturity: Maturity
    courses: Courses
    stages: Stages


def laws(packed: Packed, layout: Layout, swept: Swept) -> tuple[Floats, Floats]:
    """Expected step from each instar while growing up (n, K), and after maturity (n, 1)."""

    def of(name: str) -> Floats:
        return swept.u_mean[:, layout.must(name) - ANIMAL, None]

    away = swept.state - packed.centre[packed.taxon][:, None]
    growing: Floats = swept.u_mean[:, :1] + of("step") - of("decline") * away
    return growing, of("mature_step")


def read_sizes(
    packed: Packed, layout: Layout, spreads: Spreads, point: Point, swept: Swept
) -> tuple[Floats, Floats]:
    """Log carapace length by the readings of an instar alone (n, K), and its precision (0: unread)."""
    coefficients = swept.pooled.mean[packed.taxon]

    def of(column: int | None, otherwise: float) -> Floats:
        if column is None:
            return np.full((len(packed.taxon), 1), otherwise)
        return coefficients[:, column - FIRST_COEFFICIENT, None]

    total, precision = np.zeros(packed.active.shape), np.zeros(packed.active.shape)
    for position, channel in enumerate(layout.channels):
        slope = of(channel.slope, 1.0)
        offset = of(channel.offset, REFERENCE_LOG_MM) + of(channel.bias, 0.0)
        implied = REFERENCE_LOG_MM + (packed.log_reading[position] - offset) / slope
        trust = packed.weight[position] * point.reading_trust[position]
        own = trust * (slope / spreads.channels[position]) ** 2
        total += own * implied
        precision += own
    return total / np.maximum(precision, 1e-12), precision


def tell_steps(packed: Packed, layout: Layout, spreads: Spreads, point: Point, swept: Swept) -> Steps:
    """Log likelihoods of the steps between instars that were both read, by their readings alone.

    Smoothed sizes would not do: they lean to what the step was taken for already.
    """
    growing, mature = laws(packed, layout, swept)
    x, precision = read_sizes(packed, layout, spreads, point, swept)
    both = (precision[:, :-1] > 0) & (precision[:, 1:] > 0)
    error = 1.0 / np.maximum(precision[:, :-1], 1e-12) + 1.0 / np.maximum(precision[:, 1:], 1e-12)
    variance = spreads.step**2 + np.where(both, error, 0.0)
    step = np.diff(x, axis=1)
    at = layout.must("female_last") - ANIMAL
    extra, doubt = swept.u_mean[:, at, None], swept.u_covariance[:, at, at, None]
    # Were it free, the mature law could take the place of growth in a room of large juveniles.
    small = layout.coefficients[layout.must("mature_step") - FIRST_COEFFICIENT]
    mature = np.minimum(mature, small.mean + 2.0 * small.total_variance**0.5)

    def log_likelihood(expected: Floats, more: Floats) -> Floats:
        spread = variance + more
        away = np.minimum((step - expected) ** 2, HUBER**2 * spread) / spread
        return np.where(both, -0.5 * (away + np.log(spread)), 0.0)

    none = np.zeros_like(doubt)
    return Steps(
        log_likelihood(growing[:, :-1], none),
        log_likelihood(growing[:, :-1] + extra, doubt),
        log_likelihood(mature, none),
    )


def decided_at(packed: Packed, layout: Layout, point: Point, swept: Swept) -> Floats:
    """Log size (n, K) by which each instar's moult was decided: without the extra of a maturing moult."""
    x = swept.state.copy()
    x[:, 1:] -= point.extra[:, :-1]
    for name, share in (("male_last", packed.male_last), ("female_last", packed.female_last)):
        extra = swept.u_mean[:, layout.must(name) - ANIMAL, None]
        x[:, 1:] -= share[:, :-1] * extra
    return x


def judge(
    prior: MaturityPrior,
    packed: Packed,
    layout: Layout,
    spreads: Spreads,
    point: Point,
    swept: Swept,
    group_of_taxon: Integers,
) -> Judged:
    """Learn sizes of maturity from all courses, then tell each animal's sex and stages by them."""
    told = tell_steps(packed, layout, spreads, point, swept)
    courses = follow(prior, packed, decided_at(packed, layout, point, swept), swept.state_variance, told)
    read = np.zeros(len(packed.taxon), dtype=np.bool_)
    for weight in packed.weight:
        read |= np.asarray(weight.any(axis=1), dtype=np.bool_)
    maturity = learn(prior, packed, group_of_taxon, courses, read)
    last = packed.active.sum(axis=1) - 1
    return Judged(maturity, courses, tell(maturity, packed, courses, last))


def first_stages(
    prior: MaturityPrior,
    packed: Packed,
    layout: Layout,
    errors: Floats,
    state: Floats,
    group_of_taxon: Integers,
) -> Stages:
    """Guess the stages before any fit: by size, sex and what was noted, and by steps against the prior laws.

    errors   prior error of each channel with readings. A start in which all steps were of one stage would
             confirm itself: either law can take the other's place.
    """
    of = {c.name: c for c in layout.coefficients}
    precision = np.zeros_like(state)
    for position, channel in enumerate(layout.channels):
        slope = 1.0 if channel.slope is None else layout.coefficients[channel.slope - FIRST_COEFFICIENT].mean
        precision += packed.weight[position] * (slope / errors[position]) ** 2
    both = (precision[:, :-1] > 0) & (precision[:, 1:] > 0)
    error = 1.0 / np.maximum(precision[:, :-1], 1e-12) + 1.0 / np.maximum(precision[:, 1:], 1e-12)
    step = np.diff(state, axis=1)

    def log_likelihood(*names: str) -> Floats:
        mean = sum(of[name].mean for name in names)
        variance = np.where(both, error, 0.0) + sum(of[name].total_variance for name in names)
        away = np.minimum((step - mean) ** 2, HUBER**2 * variance) / variance
        return np.where(both, -0.5 * (away + np.log(variance)), 0.0)

    told = Steps(log_likelihood("step"), log_likelihood("step", "female_last"), log_likelihood("mature_step"))
    courses = follow(prior, packed, state, np.zeros_like(state), told)
    last = packed.active.sum(axis=1) - 1
    return tell(prior_maturity(prior, group_of_taxon), packed, courses, last)


def own_share(packed: Packed, layout: Layout, spreads: Spreads, swept: Swept, stages: Stages) -> Floats:
    """Own share (n, K) of a step's variance: one that may be of several stages has the mixture's variance."""
    growing, adult = laws(packed, layout, swept)
    extra = swept.u_mean[:, layout.must("female_last") - ANIMAL, None]
    mature, maturing = stages.after, stages.maturing
    mean = mature * (adult - growing) + maturing * extra
    mixed = mature * (adult - growing) ** 2 + maturing * extra**2 - mean**2
    result: Floats = spreads.step**2 / (spreads.step**2 + np.maximum(mixed, 0.0))
    return result
