"""Every prior of appetite, in one place, each with its reason.

The chance that an offer is taken is a product: base chance (logit scale) x ready after the last moult x what
is left of it while fasting x what is left of it in premoult. Figures named C are keepers' pages.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.thermal import FloatArray


@dataclass(frozen=True)
class NormalPrior:
    """A normal prior on the stated scale, with the reason for its centre and width."""

    mean: float
    sd: float
    reason: str


def _logit(share: float) -> float:
    return math.log(share / (1.0 - share))


PARAMETER_NAMES: Final = (
    "base",
    "warmth",
    "hunger",
    "fasting_left",
    "premoult_left",
    "onset",
    "log_onset_spread",
    "log_fasts_begin",
    "log_fasts_last",
    "log_hardening",
)

PARAMETERS: Final[dict[str, NormalPrior]] = {
    "base": NormalPrior(
        _logit(0.88), 0.8, "most offers are taken at 23 C a week after a meal (common practice, no source)"
    ),
    "warmth": NormalPrior(
        0.15, 0.15, "per degree: animals eat less in a cool room (common practice, no source)"
    ),
    "hunger": NormalPrior(
        0.2, 0.3, "per log of weeks since the last meal: hungrier, or slower to come round; weakly known"
    ),
    "fasting_left": NormalPrior(
        _logit(0.08), 0.8, "share of the appetite left while fasting: little, else it would not be noticed"
    ),
    "premoult_left": NormalPrior(
        _logit(0.15), 1.5, "share left in premoult: 'refuses' (B), but some eat to the last week; wide"
    ),
    "onset": NormalPrior(
        0.84, 0.06, "phase at which premoult begins: weeks to two months of a year's interval (C)"
    ),
    "log_onset_spread": NormalPrior(
        math.log(0.045), 0.4, "logistic spread of that phase among intervals (common practice, no source)"
    ),
    "log_fasts_begin": NormalPrior(
        math.log(1 / 200.0), 0.8, "fasts without a moult begin once or twice a year (common practice)"
    ),
    "log_fasts_last": NormalPrior(
        math.log(25.0), 0.6, "mean days of a fast: weeks; one of five months is on record (C)"
    ),
    "log_hardening": NormalPrior(
        0.0, 0.3, "factor on the hardening days given for the animal's size (D, disputed by half to double)"
    ),
}

TAXON: Final = NormalPrior(
    0.0, 0.6, "taxa differ in appetite: odds of taking an offer half to double (common practice, no source)"
)

SIGN_NAMES: Final = ("fat_abdomen", "dark_patch", "sealed", "moult_mat", "on_its_back")
# log of: how much more often a sign is first noted at a look in premoult than at one before it.
SIGNS: Final[dict[str, NormalPrior]] = {
    "fat_abdomen": NormalPrior(math.log(2.0), 0.7, "fat before a moult (B), and after any good month"),
    "dark_patch": NormalPrior(math.log(10.0), 0.7, "the bald patch darkens over the new hairs (B)"),
    "sealed": NormalPrior(math.log(4.0), 0.7, "seals the burrow (B), for winter, sacs and drought as well"),
    "moult_mat": NormalPrior(math.log(15.0), 0.7, "spins a mat to moult on (B)"),
    "on_its_back": NormalPrior(math.log(60.0), 0.7, "lies on its back to moult (B): hours before it"),
}

# Chance, before anything is known, that a keeper never writes signs down; how many intervals of its own taxon
# all those of other taxa count as; days that the room's rate of stray signs counts as (working values).
NEVER_NOTES: Final = 0.5
OTHERS_COUNT_AS: Final = 6.0
OUTSIDE_DAYS: Final = 300.0

# Chance, before anything is known, that in this room refusals have nothing to do with moulting: keepers feed
# sparsely, or stop offering when they see it coming (a working value, chosen with scores of invented rooms of
# one and two months in view), and the share of the appetite left in premoult that stands for it, as a logit.
UNSHOWN: Final = 0.3
NO_PREMOULT: Final = 5.0

# A temperature or a last meal that is not known is integrated over, never read as zero.
REFERENCE_C: Final = 23.0
UNKNOWN_TEMPERATURE_SD_C: Final = 2.7
COLDEST_C, WARMEST_C = 12.0, 28.0
UNKNOWN_LOG_WEEKS_SD: Final = 0.7
SHORTEST_GAP_DAYS, LONGEST_GAP_DAYS = 1.0, 60.0

# An offer during hardening is taken now and then; nothing is ever certain to be taken.
TAKEN_WHILE_HARDENING: Final = 0.05
HARDENING_EDGE: Final = 0.15
SURELY: Final = 0.995
# Warmth (days at 25 C) that an animal lies on its back at most before the skin is off.
LYING_DAYS: Final = 2.0
UNKNOWN_HARDENING_DAYS: Final = 8.0


def parameter_mean() -> FloatArray:
    """Prior means in the order of PARAMETER_NAMES [10]."""
    return np.array([PARAMETERS[name].mean for name in PARAMETER_NAMES])


def parameter_sd() -> FloatArray:
    """Prior standard deviations in the order of PARAMETER_NAMES [10]."""
    return np.array([PARAMETERS[name].sd for name in PARAMETER_NAMES])


def sign_mean() -> FloatArray:
    """Prior means of the signs' log ratios in the order of SIGN_NAMES [5]."""
    return np.array([SIGNS[name].mean for name in SIGN_NAMES])
