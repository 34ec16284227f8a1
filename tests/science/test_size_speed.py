"""What a fit of the size staircase costs, measured against a yardstick of the same machine and moment."""

from __future__ import annotations

import time

import numpy as np

from nightround.science.size.fit import fit_size
from nightround.science.size.simulate import simulate_room


def test_time_grows_no_faster_than_the_room() -> None:
    """A sweep of 1,000 animals with 10,000 instars takes under six times one of 250 animals with 2,500.

    Both are timed in turn, best of six, so that a busy machine slows both. Linear would be four times.
    """
    small, large = (
        simulate_room(np.random.default_rng(9), n_taxa=taxa, animals_per_taxon=50, most_instars=19).data
        for taxa in (5, 20)
    )
    assert large.n_instars.sum() > 9_500
    assert 3.5 < large.n_instars.sum() / small.n_instars.sum() < 4.5
    best = {"small": np.inf, "large": np.inf}
    for _ in range(6):
        for name, data in (("small", small), ("large", large)):
            begun = time.process_time()
            fitted = fit_size(data)
            best[name] = min(best[name], (time.process_time() - begun) / fitted.sweeps)
    assert best["large"] < 6.0 * best["small"]


def test_a_thousand_animals_cost_no_more_than_so_many_products() -> None:
    """The fit of 1,000 animals with 10,000 instars takes under 24 times a set of fixed dense products.

    The yardstick is NumPy's own work, timed in turn with the fit (processor time, best of six): 14 to 17
    times were measured where the fit took 0.48 to 0.53 s.
    """
    room = simulate_room(np.random.default_rng(9), n_taxa=20, animals_per_taxon=50, most_instars=19)
    yard = np.random.default_rng(1).standard_normal((1000, 40, 12))
    fits, yards = [], []
    for _ in range(6):
        begun = time.process_time()
        for _ in range(5):
            np.einsum("nki,nkj->nij", yard, yard)
        yards.append(time.process_time() - begun)
        begun = time.process_time()
        fit_size(room.data)
        fits.append(time.process_time() - begun)
    assert min(fits) < 24.0 * min(yards)
