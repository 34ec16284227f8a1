"""The moult clock's fit against full sampling of the same model by NUTS (numpyro), on three recorded rooms.

The numbers in clock_reference/*.json came from

    python benchmarks/nuts_agreement.py --from-record tests/science/clock_reference \
        --record tests/science/clock_reference

with the versions, seed and health written in each file. Wanted everywhere: 95 % of means within 0.05
posterior sd and of sds within 5 %, all within 0.15 and 12 %, odds within 0.01. Where the fit does not meet
that, MET says what it does meet, and docs/calibration/2026-11-25-clock-reference.md says why.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass, replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from benchmarks.nuts_rooms import Moments, gaps_of, load_reference, load_room, of_fit, quantity_names
from nightround.science.clock.design import make_design
from nightround.science.clock.fit import fit

FOLDER = Path(__file__).parent / "clock_reference"
ROOMS = ("usual", "few", "doubtful")


@dataclass(frozen=True)
class Met:
    """Worst mean in posterior sd and its share within 0.05, worst sd and its share within 5 %, worst odds."""

    mean: float
    mean_share: float
    sd: float
    sd_share: float
    odds: float
    odds_share: float


WANTED = Met(0.15, 0.95, 0.12, 0.95, 0.01, 1.0)
MET = {
    "usual": WANTED,
    # One animal, alone of its taxon and watched from late in its only interval: its sd is 26 % too small.
    "few": replace(WANTED, sd=0.28, odds=0.014, odds_share=0.99),
    "doubtful": WANTED,
}
# Of 24,000 and 38,000 draws; none was wanted.
DIVERGED = {"usual": 10, "few": 1, "doubtful": 0}


@cache
def both(name: str) -> tuple[Moments, Moments]:
    """The fit's moments and the reference's."""
    room = load_room(FOLDER / f"{name}.npz")
    return of_fit(fit(room.data), room), load_reference(FOLDER / f"{name}.json")[0]


@pytest.mark.parametrize("name", ROOMS)
def test_the_reference_is_sound(name: str) -> None:
    """Worst effective size 5,000, R-hat under 1.005, divergences as told; one number for every quantity."""
    moments, facts = load_reference(FOLDER / f"{name}.json")
    assert facts["worst_effective_size"] >= 5000
    assert facts["worst_r_hat"] < 1.005
    assert facts["divergences"] == DIVERGED[name]
    room = load_room(FOLDER / f"{name}.npz")
    assert len(quantity_names(make_design(room.data))) == moments.mean.size == moments.sd.size


@pytest.mark.parametrize("name", ROOMS)
def test_means_agree(name: str) -> None:
    """Posterior means of hyperparameters, coefficients, taxa and animals, in posterior sd."""
    gap, met = np.abs(gaps_of(*both(name)).mean), MET[name]
    assert gap.max() <= met.mean
    assert np.mean(gap <= 0.05) >= met.mean_share


@pytest.mark.parametrize("name", ROOMS)
def test_spreads_agree(name: str) -> None:
    """Posterior sds of the same quantities."""
    gap, met = np.abs(gaps_of(*both(name)).sd), MET[name]
    assert gap.max() <= met.sd
    assert np.mean(gap <= 0.05) >= met.sd_share


@pytest.mark.parametrize("name", ROOMS)
def test_odds_agree(name: str) -> None:
    """Odds within 7, 14, 30, 60 and 90 days of every running interval, by plain Bayes on both sides."""
    ours, reference = both(name)
    gap, met = np.abs(ours.odds - reference.odds), MET[name]
    assert gap.max() <= met.odds
    assert np.mean(gap <= 0.01) >= met.odds_share


@pytest.mark.long
def test_sampling_again_gives_the_recorded_numbers(tmp_path: Path, project: Path) -> None:
    """Another seed and fewer draws: means and sds within 5 standard errors, odds within 0.01."""
    if find_spec("numpyro") is None:
        pytest.skip("numpyro comes with requirements-reference.lock: python3 bootstrap.py test --long")
    command = [sys.executable, str(project / "benchmarks" / "nuts_agreement.py"), "--rooms", "usual"]
    command += ["--from-record", str(FOLDER), "--record", str(tmp_path), "--seed", "2", "--accept", "0.8"]
    command += ["--chains", "2", "--draws", "1500"]
    subprocess.run(command, cwd=project, check=True, capture_output=True, timeout=3000)
    recorded, _ = load_reference(FOLDER / "usual.json")
    again, facts = load_reference(tmp_path / "usual.json")
    error = 1.0 / np.sqrt(facts["worst_effective_size"])
    assert facts["worst_effective_size"] >= 200, json.dumps(facts["worst_quantity"])
    gaps = gaps_of(again, recorded)
    assert np.abs(gaps.mean).max() <= 5.0 * error
    assert np.abs(gaps.sd).max() <= 5.0 * error
    assert np.abs(again.odds - recorded.odds).max() <= 0.01
