"""The size staircase's priors and measuring channels, each with its reason, in one readable place.

Everything is on the natural-log scale of a size in mm (mass in g). `REFERENCE_LOG_MM` is the carapace
length at which allometric offsets are stated, so that offset and slope are nearly independent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from nightround.foundation.sources import COMMON_PRACTICE, Grade, Source
from nightround.science.parameters import (
    crabs,
    grossi2016,
    gvach2021,
    higg1993,
    hutch1997,
    lour2006,
    miya1992,
    moreira2011,
    przib,
    strausdata,
)
from nightround.science.size.maturity_priors import MATURITY, MaturityPrior

REFERENCE_MM: Final = 8.0
REFERENCE_LOG_MM: Final = math.log(REFERENCE_MM)


@dataclass(frozen=True, slots=True)
class CoefficientPrior:
    """A coefficient of the taxon: N(mean, sd²) for the world, pooled by group and taxon spreads.

    `group_sd` and `taxon_sd` are the medians of log-normal priors of the spreads, which are estimated.
    """

    name: str
    mean: float
    sd: float
    group_sd: float
    taxon_sd: float
    why: str
    source: str

    @property
    def total_variance(self) -> float:
        """Variance for a taxon nothing is known of."""
        return self.sd**2 + self.group_sd**2 + self.taxon_sd**2


@dataclass(frozen=True, slots=True)
class SpreadPrior:
    """A spread sd with log sd ~ N(log median, log_sd²)."""

    name: str
    median: float
    log_sd: float
    why: str


@dataclass(frozen=True, slots=True)
class Part:
    """A measured part: log(value) = offset + slope · (log carapace length − REFERENCE_LOG_MM).

    The offset is the log of the part [mm, g] at a carapace of REFERENCE_MM.
    """

    name: str
    unit: str
    offset: CoefficientPrior | None
    slope: CoefficientPrior | None


@dataclass(frozen=True, slots=True)
class Channel:
    """A way of measuring a part.

    error        prior median of the sd of log(reading / true value)
    least_error  the error is never learned to be smaller: part of it is shared by all animals of a season or
                 an observer, which a fit cannot see
    shared       share of the error variance that readings of one animal in one instar have in common
    bias         prior of the mean of log(reading / true value), None: taken as unbiased
    """

    name: str
    part: str
    error: float
    least_error: float
    shared: float
    bias: CoefficientPrior | None
    why: str


@dataclass(frozen=True, slots=True)
class SizePriors:
    """All priors of a fit. Replace parts of it with `dataclasses.replace` for other animals."""

    coefficients: tuple[CoefficientPrior, ...]
    parts: tuple[Part, ...]
    channels: tuple[Channel, ...]
    spreads: tuple[SpreadPrior, ...]
    channel_error_log_sd: float = 0.4
    pooling_log_sd: float = 0.5
    maturity: MaturityPrior = MATURITY

    def part(self, name: str) -> Part:
        """Return the part of that name (KeyError when there is none)."""
        return next(part for part in self.parts if part.name == name)

    def channel_index(self, name: str) -> int:
        """Return the position of the channel of that name (KeyError when there is none)."""
        for index, channel in enumerate(self.channels):
            if channel.name == name:
                return index
        raise KeyError(name)


def _offset(
    part: str, at_reference: float, sd: float, group: float, taxon: float, why: str, source: str
) -> CoefficientPrior:
    return CoefficientPrior(f"offset:{part}", math.log(at_reference), sd, group, taxon, why, source)


def _slope(
    part: str, mean: float, sd: float, group: float, taxon: float, why: str, source: str
) -> CoefficientPrior:
    return CoefficientPrior(f"slope:{part}", mean, sd, group, taxon, why, source)


def _bias(channel: str, mean: float, sd: float, why: str, source: str) -> CoefficientPrior:
    return CoefficientPrior(f"bias:{channel}", mean, sd, 0.01, 0.02, why, source)


COEFFICIENTS: Final = (
    CoefficientPrior(
        "start",
        math.log(4.0),
        1.0,
        0.4,
        0.5,
        "first size recorded of an animal: anything from a spiderling to an adult",
        "common-practice",
    ),
    CoefficientPrior(
        "step",
        0.25,
        0.07,
        0.04,
        0.05,
        "log growth per moult at the taxon's middle size: 0.32 in a tarantula, 0.20 in a wolf spider,"
        " 0.19-0.22 in a social spider, 0.23 by Przibram's rule",
        "GVACH2021 MOREIRA2011 STRAUSDATA PRZIB",
    ),
    CoefficientPrior(
        "decline",
        0.05,
        0.05,
        0.02,
        0.03,
        "fall of the step per unit of log size: 0 in a tarantula, about 0.12 in a wolf spider",
        "GVACH2021 MOREIRA2011 HUTCH1997",
    ),
    CoefficientPrior(
        "male_last",
        0.0,
        0.08,
        0.03,
        0.05,
        "extra of the maturing step, males: none in a tarantula, 0.03 above the mean step in a wolf spider",
        "GVACH2021 MOREIRA2011",
    ),
    CoefficientPrior(
        "female_last",
        0.08,
        0.12,
        0.04,
        0.06,
        "extra of the maturing step, females: none in a tarantula, 0.24 above the mean step in a wolf spider",
        "GVACH2021 MOREIRA2011",
    ),
    CoefficientPrior(
        "mature_step",
        0.05,
        0.04,
        0.02,
        0.02,
        "log growth per moult of females after maturity: from 13.7 to 15.9 mm or more in three or more"
        " yearly moults of a purse-web spider: about 0.05",
        "MIYA1992",
    ),
    CoefficientPrior(
        "male_legs",
        0.08,
        0.08,
        0.03,
        0.05,
        "legs of mature males are longer for the body; the amount is from memory",
        "GROSSI2016",
    ),
)

PARTS: Final = (
    Part("carapace_length", "mm", None, None),
    Part(
        "carapace_width",
        "mm",
        _offset(
            "carapace_width",
            0.87 * REFERENCE_MM,
            0.10,
            0.04,
            0.05,
            "a little narrower than long (from memory)",
            "MEM",
        ),
        _slope(
            "carapace_width",
            1.0,
            0.04,
            0.01,
            0.02,
            "carapace length and width keep their ratio: exponents 0.988-0.997 in crabs",
            "CRABS",
        ),
    ),
    Part(
        "leg_span",
        "mm",
        _offset(
            "leg_span",
            4.8 * REFERENCE_MM,
            0.25,
            0.12,
            0.12,
            "span of stretched legs over carapace length (from memory)",
            "MEM",
        ),
        _slope(
            "leg_span",
            1.2,
            0.2,
            0.06,
            0.08,
            "legs grow faster than the carapace: exponents 1.49 and 1.74 for a leg segment",
            "STRAUSDATA",
        ),
    ),
    Part(
        "body_length",
        "mm",
        _offset(
            "body_length", 2.2 * REFERENCE_MM, 0.2, 0.08, 0.10, "carapace and abdomen (from memory)", "MEM"
        ),
        _slope("body_length", 1.0, 0.1, 0.03, 0.04, "no published slope at hand: isometry, wide", "MEM"),
    ),
    Part(
        "mass",
        "g",
        _offset(
            "mass",
            0.6,
            0.4,
            0.15,
            0.2,
            "0.64 g at 8.3 mm in a wolf spider; 0.7 g scaled up from a social spider",
            "MOREIRA2011 STRAUSDATA",
        ),
        _slope(
            "mass", 3.0, 0.15, 0.05, 0.08, "exponent 2.97 across instars, about 2 within one", "STRAUSDATA"
        ),
    ),
)

CHANNELS: Final = (
    Channel("carapace_length", "carapace_length", 0.04, 0.025, 0.3, None, "on a live animal or a photograph"),
    Channel(
        "carapace_length_shed",
        "carapace_length",
        0.02,
        0.018,
        0.3,
        None,
        "on a shed skin: repeatable to about 2 %",
    ),
    Channel("carapace_width", "carapace_width", 0.04, 0.025, 0.3, None, "on a live animal or a photograph"),
    Channel(
        "carapace_width_shed",
        "carapace_width",
        0.02,
        0.018,
        0.3,
        None,
        "on a shed skin: repeatable to about 2 %",
    ),
    Channel(
        "leg_span",
        "leg_span",
        0.10,
        0.05,
        0.5,
        _bias("leg_span", -0.08, 0.06, "posture not noted: mostly somewhat bent", "common-practice"),
        "on a live animal, posture not noted: about 10 %",
    ),
    Channel(
        "leg_span_bent",
        "leg_span",
        0.15,
        0.08,
        0.5,
        _bias("leg_span_bent", -0.25, 0.15, "bent legs read low, down to half", "common-practice"),
        "on a live animal sitting with bent legs",
    ),
    Channel(
        "leg_span_stretched", "leg_span", 0.06, 0.03, 0.5, None, "on a live animal with legs stretched out"
    ),
    Channel(
        "leg_span_shed",
        "leg_span",
        0.08,
        0.03,
        0.3,
        _bias("leg_span_shed", 0.0, 0.05, "softened legs straighten or shrink", "common-practice"),
        "on a spread shed skin",
    ),
    Channel("body_length", "body_length", 0.08, 0.04, 0.5, None, "the abdomen swells and shrinks"),
    Channel(
        "mass", "mass", 0.20, 0.15, 0.7, None, "swings with feeding inside an instar; informs size weakly"
    ),
)

SPREADS: Final = (
    SpreadPrior(
        "start", 0.8, 0.4, "first sizes of animals of one taxon: spiderlings and adults are both bought"
    ),
    SpreadPrior(
        "step",
        0.05,
        0.4,
        "scatter of one table's steps about a line in size: 0.064 (MOREIRA2011); 0.044 and 0.051 in females"
        " and males of a scorpion (LOUR2006)",
    ),
    SpreadPrior(
        "animal", 0.02, 0.5, "animals differ little in their step: constant within populations (HIGG1993)"
    ),
)

FROM_MEMORY: Final = Source("MEM", "from memory; no source at hand", Grade.MEM)
SOURCES: Final = {
    source.key: source
    for source in (
        gvach2021.SOURCE,
        moreira2011.SOURCE,
        strausdata.SOURCE,
        crabs.SOURCE,
        grossi2016.SOURCE,
        hutch1997.SOURCE,
        lour2006.SOURCE,
        miya1992.SOURCE,
        przib.SOURCE,
        higg1993.SOURCE,
        COMMON_PRACTICE,
        FROM_MEMORY,
    )
}


def sources_of(priors: SizePriors, *names: str) -> tuple[Source, ...]:
    """Return the sources behind the named coefficients, each once, in the order of `SOURCES`."""
    known = list(priors.coefficients)
    for part in priors.parts:
        known += [prior for prior in (part.offset, part.slope) if prior is not None]
    keys = {key for prior in known if prior.name in names for key in prior.source.split()}
    return tuple(source for key, source in SOURCES.items() if key in keys)


SPIDER_PRIORS: Final = SizePriors(COEFFICIENTS, PARTS, CHANNELS, SPREADS)
