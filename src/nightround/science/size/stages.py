"""Which steps were growth and which came after maturity, told from readings and sizes."""

from __future__ import annotations

import numpy as np

from nightround.science.size.data import Floats, Packed
from nightround.science.size.layout import ANIMAL, FIRST_COEFFICIENT, REFERENCE_LOG_MM, Layout
from nightround.science.size.maturity import Maturity, Steps, after_the_step, before_the_step
from nightround.science.size.sweep import HUBER, Point, Spreads, Swept


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
    furthest = HUBER**2 * variance
    by_growth = -0.5 * np.minimum((step - growing[:, :-1]) ** 2, furthest) / variance
    by_maturity = -0.5 * np.minimum((step - mature) ** 2, furthest) / variance
    return Steps(swept.state[:, :-1], np.where(both, by_growth, 0.0), np.where(both, by_maturity, 0.0))


def mature_steps(
    packed: Packed, layout: Layout, spreads: Spreads, point: Point, swept: Swept, maturity: Maturity
) -> tuple[Floats, Floats, Floats]:
    """Chance (n, K) that a step follows maturity, the own share of its variance, and the chance before it.

    A step that may be either has the variance of the mixture: its own share is what is left for the step's.
    """
    before = before_the_step(maturity, packed, swept.state)
    chance = after_the_step(before, tell_steps(packed, layout, spreads, point, swept))
    growing, mature = laws(packed, layout, swept)
    mixed = chance * (1.0 - chance) * (growing - mature) ** 2
    own: Floats = spreads.step**2 / (spreads.step**2 + mixed)
    return chance, own, before
