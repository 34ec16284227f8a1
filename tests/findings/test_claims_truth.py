"""Verdicts against the simulator's truth, reduced and seeded; the whole is benchmarks/claims_truth.py.

The claims are true of, or false for, the simulator's own lives: nothing of it is asked of other programs.
"""

import numpy as np
import pytest

from benchmarks import claims_truth as bench
from nightround.simulate.life import Biology, Breaks
from nightround.simulate.taxa import TAXA


def kind(name, seed):
    """A taxon's number, and its biology under a seed."""
    taxon = next(at for at, each in enumerate(TAXA) if each.name == name)
    rng = np.random.default_rng(seed)
    return rng, Biology(rng, TAXA, Breaks()), taxon


@pytest.mark.parametrize("name", ["Cupiennius salei", "Aglaoctenus lagotis"])
def test_true_life_spans_stand_and_halved_ones_fall(name):
    """Twenty rooms: one true range at most is ever contradicted, nine in ten halved ones are, as asked."""
    rng, biology, taxon = kind(name, 5)
    whole = [bench.grown(biology, taxon).died for _ in range(600)]
    low, high = np.quantile(whole, [0.05, 0.95])
    rooms = [bench.make_ages(rng, biology, taxon, low) for _ in range(20)]
    assert sum(bench.ever(room, low, high) for room in rooms) <= 1
    short = [bench.make_ages(rng, biology, taxon, low / 2) for _ in range(20)]
    assert sum(bench.found_when_asked(room, low / 2, high / 2, newcomers=False) for room in short) >= 18


def test_true_largest_spans_stand_and_small_ones_fall():
    """Six rooms of short-lived taxa: no true maximum is contradicted, and 30 % less is, once measured."""
    told = []
    for seed in range(6):
        rng, biology, taxon = kind(("Cupiennius salei", "Aglaoctenus lagotis")[seed % 2], 100 + seed)
        told.append(bench.judge_size_room(rng, biology, taxon))
    assert 0 == sum(wrong for wrong, _, _ in told)
    assert 6 == sum(asked for _, _, asked in told)
