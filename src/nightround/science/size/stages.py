"""Which steps were growth and which came after maturity, told from the smoothed states of a sweep."""

from __future__ import annotations

import numpy as np

from nightround.science.size.data import Floats, Packed
from nightround.science.size.layout import ANIMAL, Layout
from nightround.science.size.maturity import Maturity, Steps, after_the_step, before_the_step
from nightround.science.size.sweep import HUBER, Spreads, Swept


def laws(packed: Packed, layout: Layout, swept: Swept) -> tuple[Floats, Floats]:
    """Expected step from each instar while growing up (n, K), and after maturity (n, 1)."""

    def of(name: str) -> Floats:
        return swept.u_mean[:, layout.must(name) - ANIMAL, None]

    away = swept.state - packed.centre[packed.taxon][:, None]
    growing: Floats = swept.u_mean[:, :1] + of("step") - of("decline") * away
    return growing, of("mature_step")


def tell_steps(packed: Packed, layout: Layout, spreads: Spreads, swept: Swept) -> Steps:
    """Log likelihoods of the smoothed steps, raised to the share of information that readings carry."""
    growing, mature = laws(packed, layout, swept)
    step = np.diff(swept.state, axis=1)
    told = 1.0 - np.clip(swept.step_variance / spreads.step**2, 0.0, 1.0)
    scale = -0.5 * told / spreads.step**2
    furthest = (HUBER * spreads.step) ** 2
    by_growth = scale * np.minimum((step - growing[:, :-1]) ** 2, furthest)
    by_maturity = scale * np.minimum((step - mature) ** 2, furthest)
    return Steps(swept.state[:, :-1], by_growth, by_maturity)


def mature_steps(
    packed: Packed, layout: Layout, spreads: Spreads, swept: Swept, maturity: Maturity
) -> tuple[Floats, Floats, Floats]:
    """Chance (n, K) that a step follows maturity, the own share of its variance, and the chance before it.

    A step that may be either has the variance of the mixture: its own share is what is left for the step's.
    """
    before = before_the_step(maturity, packed, swept.state)
    chance = after_the_step(before, tell_steps(packed, layout, spreads, swept))
    growing, mature = laws(packed, layout, swept)
    mixed = chance * (1.0 - chance) * (growing - mature) ** 2
    own: Floats = spreads.step**2 / (spreads.step**2 + mixed)
    return chance, own, before
