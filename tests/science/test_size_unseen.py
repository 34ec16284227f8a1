"""Moults that nobody recorded: what they do to sizes to come."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nightround.science.size.data import SizeData
from nightround.science.size.fit import fit_size
from nightround.science.size.forecast import next_size
from nightround.science.size.simulate import simulate_room


def without_some_moults(rng: np.random.Generator, data: SizeData, share: float) -> SizeData:
    """Leave that share of the moults out of the record: readings of both instars then stand in one."""
    recorded = rng.random((data.n_animals, int(data.n_instars.max()))) >= share
    recorded[:, 0] = False
    instar = np.cumsum(recorded, axis=1)
    return replace(
        data,
        n_instars=instar[np.arange(data.n_animals), data.n_instars - 1] + 1,
        reading_instar=instar[data.reading_animal, data.reading_instar],
    )


def coverage(share: float, rooms: int = 80) -> tuple[float, float]:
    """Share of next carapaces inside their 80 % windows, and the median fitted spread of steps."""
    inside, steps = [], []
    for seed in range(rooms):
        room = simulate_room(
            np.random.default_rng(9000 + seed), n_taxa=4, animals_per_taxon=8,
            reading_rates={"carapace_length_shed": 0.9, "leg_span": 0.5},
        )  # fmt: skip
        fit = fit_size(without_some_moults(np.random.default_rng(seed), room.data, share))
        low, high = np.log(next_size(fit, "carapace_length").quantiles((0.1, 0.9))).T
        truth = room.log_size[np.arange(len(low)), room.data.n_instars]
        inside.append((truth >= low) & (truth <= high))
        steps.append(fit.spreads.step)
    return float(np.mean(np.concatenate(inside))), float(np.median(steps))


def test_a_tenth_of_the_moults_unrecorded_leaves_windows_right() -> None:
    """With one moult in ten missing, 80 % windows of the next carapace hold 76-84 %, as with none missing.

    The spread of steps is learned larger for it: it takes the double steps in, up to a half.
    """
    whole, step = coverage(0.0)
    gappy, wider_step = coverage(0.1)
    assert 0.76 < whole < 0.84
    assert 0.76 < gappy < 0.84
    assert step < wider_step < 1.5 * step
