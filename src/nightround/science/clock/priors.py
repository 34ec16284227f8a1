"""Every prior of the moult clock, in one place, each with its reason.

Scales: log D is the natural log of an interval in days at 25 C; x is log carapace length in millimetres, or
any other log size that is a third of log mass. Spreads are standard deviations of log D.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.parameters import autot
from nightround.science.thermal import UNREAD_LOG_RATE_SD, FloatArray


@dataclass(frozen=True)
class NormalPrior:
    """A normal prior on the stated scale, with the reason for its centre and width."""

    mean: float
    sd: float
    reason: str


HYPER_NAMES: Final = (
    "log_q10",
    "log_sigma_interval",
    "log_sigma_animal",
    "log_sigma_taxon",
    "log_sigma_slope",
    "log_sigma_group",
    "logit_missed",
)

HYPER: Final[dict[str, NormalPrior]] = {
    "log_q10": NormalPrior(
        math.log(2.5), 0.4, "published rates of development rise 2 to 3 times in 10 C (LIERIG: 2.25)"
    ),
    "log_sigma_interval": NormalPrior(
        math.log(0.27), 0.35, "published residual sd of log intervals is 0.2 to 0.35"
    ),
    "log_sigma_animal": NormalPrior(
        math.log(0.10), 0.6, "an animal's own pace is about a tenth of the variance of its intervals"
    ),
    "log_sigma_taxon": NormalPrior(
        math.log(0.35), 0.5, "taxa of one habit and size differ by half to double in moults a year"
    ),
    "log_sigma_slope": NormalPrior(
        math.log(0.2), 0.5, "from 6 % longer an instar to tenfold over a life: slopes of 0.2 to 0.7"
    ),
    "log_sigma_group": NormalPrior(
        math.log(0.35), 0.5, "groups differ about as much as the taxa inside one (common practice, no source)"
    ),
    "logit_missed": NormalPrior(
        math.log(0.03 / 0.97),
        0.8,
        "one to ten intervals in a hundred hide a moult or a standstill (common practice, no source)",
    ),
}

FIXED_NAMES: Final = ("intercept", "slope_within", "slope_between")
FIXED: Final[dict[str, NormalPrior]] = {
    "intercept": NormalPrior(
        math.log(60.0),
        0.8,
        "about 60 d at 25 C for a carapace of 5 mm; MOREIRA2011's 25 d at 0.9 mm lies on it",
    ),
    "slope_within": NormalPrior(
        0.45,
        0.35,
        "6 % longer an instar (0.2) to tenfold over a life of thirtyfold size (0.7); less among animals of"
        " one age, where the larger may be the faster",
    ),
    "slope_between": NormalPrior(
        0.45, 0.30, "large taxa moult less often; as the slope inside a taxon, less sure"
    ),
}

COVARIATE_NAMES: Final = ("ration", "winter", "legs_lost", "newcomer")
COVARIATES: Final[dict[str, NormalPrior]] = {
    "ration": NormalPrior(-0.10, 0.15, "a richer previous interval shortens the next (HIGG1993, HIGG2001)"),
    "winter": NormalPrior(0.30, 0.35, "wintered animals may take up to 2.5 times as long (PIRATA)"),
    "legs_lost": NormalPrior(
        math.log(autot.INTERVAL_RATIO_AFTER_LEG_LOSS), 0.10, "15 % longer after leg loss (AUTOT)"
    ),
    "newcomer": NormalPrior(
        0.0,
        0.25,
        "an interval begun elsewhere or soon after arrival still shows how the animal was kept before",
    ),
}
# What an unknown covariate may be: it is integrated out over this spread around its centre, never read as 0.
COVARIATE_UNKNOWN_MEAN: Final = np.array([0.0, 0.15, 0.04, 0.3])
COVARIATE_UNKNOWN_SD: Final = np.array([1.0, 0.30, 0.20, 0.4])

UNREAD_PLACE: Final = NormalPrior(
    0.0, UNREAD_LOG_RATE_SD, "a place without readings: rate at 23 C, give or take 2.7 C"
)
READ_PLACE: Final = NormalPrior(
    0.0,
    0.14,
    "a logger reads one spot: an animal's own warmth is off by 1.5 C or so (common practice, no source)",
)

REFERENCE_LOG_SIZE: Final = math.log(5.0)
# Log sizes inside one taxon, and of taxa about the reference, where nothing is known.
UNKNOWN_SIZE_SD: Final = 0.5
UNKNOWN_TAXON_SIZE_SD: Final = 0.7

# A missed moult joins two intervals, the second a little longer than the first.
MISSED_SHIFT: Final = math.log(2.15)
MISSED_EXTRA_SD: Final = 0.10
# Wrong dates: real records hold a few (one death in the crab records is a year late).
WRONG_DATE_SHARE: Final = 0.002
WRONG_DATE_SD: Final = 1.2


def hyper_mean() -> FloatArray:
    """Prior means of the hyperparameters in the order of HYPER_NAMES [7]."""
    return np.array([HYPER[name].mean for name in HYPER_NAMES])


def hyper_sd() -> FloatArray:
    """Prior standard deviations of the hyperparameters in the order of HYPER_NAMES [7]."""
    return np.array([HYPER[name].sd for name in HYPER_NAMES])
