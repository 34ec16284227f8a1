"""Priors of the size at which animals mature, by sex, each with its reason."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class MaturityPrior:
    """Log carapace length [log mm] at which half of the moults are the maturing one.

    mean, sd, group_sd, taxon_sd    of females: N(mean, sd²) for the world, N(world, group_sd²) for a group …
    difference_*                    the same for males minus females
    scales                          the spreads are scaled by one of these, each as likely as its share
    width                           of the logistic: P(this moult matures) = 1 / (1 + exp(−(x − M) / width))
    usual_step                      log growth of the moults before the first instar on record
    """

    mean: float
    sd: float
    group_sd: float
    taxon_sd: float
    difference_mean: float
    difference_sd: float
    difference_group_sd: float
    difference_taxon_sd: float
    scales: tuple[tuple[float, float], ...]
    width: float
    usual_step: float
    why: str
    source: str


MATURITY: Final = MaturityPrior(
    mean=math.log(14.0),
    sd=0.45,
    group_sd=0.30,
    taxon_sd=0.35,
    difference_mean=-0.08,
    difference_sd=0.12,
    difference_group_sd=0.10,
    difference_taxon_sd=0.15,
    scales=((0.6, 0.25), (1.0, 0.5), (1.6, 0.25)),
    width=0.10,
    usual_step=0.25,
    why="females of kept species mature with carapaces of some 5 to 30 mm (from memory); males a little"
    " smaller: 6.97 against 8.60 mm (MOREIRA2011), tubes of 13.3 against 13.7 mm (MIYA1992); moults to"
    " maturity vary by one or two about the usual number (5-8, mostly 7: FISCH2005), which steps of a"
    " quarter and this width give",
    source="MEM MOREIRA2011 MIYA1992 FISCH2005",
)

# A male whose maturing moult was found is seen to be mature by then nine times in ten (common practice, no
# source): what is left is the chance that an animal not noted as mature has moulted for the last time.
MATURE_MALE_UNNOTICED: Final = 0.1
