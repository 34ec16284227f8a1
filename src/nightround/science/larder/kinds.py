"""Kinds of feeders: their development, length, deaths and adult life, each with where it comes from.

A kind is a table row. What the keeper counts may overrule any number (`dataclasses.replace`). A feeder that
is none of these does not grow here: nothing is known about it, and it is told so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from nightround.foundation.sources import Source
from nightround.science.larder.development import DegreeDays, Development, Points, days_at, scaled
from nightround.science.parameters import (
    chen2014,
    feeder_pages,
    feeders_from_memory,
    fly_textbook,
    fruitfly,
    gbim20,
    kim2013,
    magara2024,
    odhi,
)
from nightround.science.thermal import FloatArray

MEMORY: Final = feeders_from_memory


@dataclass(frozen=True)
class Culture:
    """A started culture: first flies after so many days, then `flies` evenly over `gives_days`.

    fly_days   mean life of a fly in it [days]
    """

    first_days: float
    gives_days: float
    flies: float
    fly_days: float


@dataclass(frozen=True)
class FeederKind:
    """A kind of feeder.

    words              names it may go by: each is a set of words that must all be there
    law                development from hatching (young_share 1) or from the egg to adulthood
    other_laws         what other sources say instead: told, not used
    young_share        share of the law's days that is spent after hatching
    hatch_mm, adult_mm body length [mm] at hatching and as an adult; equal: it is only ever sold as an adult
    deaths_per_day     share of those not yet adult that dies in a day
    adult_days         (mean, sd) of life as an adult [days]
    adults_offered     whether adults still serve as prey of their length
    adult_words        what adulthood brings
    facts              what came from where: (what, source)
    """

    key: str
    name: str
    words: tuple[tuple[str, ...], ...]
    law: Development
    hatch_mm: float
    adult_mm: float
    deaths_per_day: float
    adult_days: tuple[float, float]
    adult_words: str
    facts: tuple[tuple[str, Source], ...]
    young_share: float = 1.0
    other_laws: tuple[Development, ...] = ()
    adults_offered: bool = True
    pace_sd_log: float = MEMORY.PACE_SD_LOG
    culture: Culture | None = None
    warnings: tuple[str, ...] = ()

    @property
    def grows(self) -> bool:
        return self.adult_mm > self.hatch_mm


def cricket_young_share() -> float:
    """Share of a cricket's days from egg to adult after hatching: that of G. bimaculatus at 30 C."""
    egg = days_at(EGG_OF_GRYLLUS, 30.0)
    nymph = days_at(NYMPH_OF_GRYLLUS, 30.0)
    return nymph / (egg + nymph)


def _magara(threshold_c: float, degree_days: float) -> DegreeDays:
    return DegreeDays(
        threshold_c, degree_days, magara2024.COMPLETED_FROM_C, magara2024.COMPLETED_TO_C, magara2024.SOURCE
    )


EGG_OF_GRYLLUS: Final = _magara(magara2024.EGG_THRESHOLD_C, magara2024.EGG_DEGREE_DAYS)
NYMPH_OF_GRYLLUS: Final = _magara(magara2024.NYMPH_THRESHOLD_C, magara2024.NYMPH_DEGREE_DAYS)
GRYLLUS_ODHI: Final = Points(odhi.GRYLLUS_EGG_TO_ADULT, odhi.SOURCE)
ACHETA_ODHI: Final = Points(odhi.ACHETA_EGG_TO_ADULT, odhi.SOURCE)
LATERALIS_KIM: Final = Points(
    ((kim2013.TEMPERATURE_C, (kim2013.MALE_NYMPH_DAYS + kim2013.FEMALE_NYMPH_DAYS) / 2.0),),
    kim2013.SOURCE, MEMORY.BORROWED_Q10, MEMORY.BORROWED_FROM_C, MEMORY.BORROWED_TO_C,
)  # fmt: skip
DUBIA_PAGES: Final = Points(
    ((MEMORY.DUBIA_TEMPERATURE_C, sum(feeder_pages.DUBIA_MONTHS) / 2.0 * 30.44),),
    feeder_pages.UNSIGNED, MEMORY.BORROWED_Q10, MEMORY.BORROWED_FROM_C, MEMORY.BORROWED_TO_C,
)  # fmt: skip
FLY_TEXTBOOK: Final = Points(fly_textbook.EGG_TO_FLY, fly_textbook.SOURCE)
HYDEI_MEMORY: Final = Points(
    MEMORY.HYDEI_EGG_TO_FLY, MEMORY.SOURCE,
    MEMORY.BORROWED_Q10, MEMORY.BORROWED_FROM_C, 28.0,
)  # fmt: skip

_CRICKET_ADULT: Final = "adult crickets sing, lay and bite; count them out of size once nothing takes them"
_BORROWED: Final = "one temperature is published; how it changes with warmth is borrowed (Q10 2.5)"
_PINHEAD_MM: Final = sum(feeder_pages.PINHEAD_CRICKET_MM) / 2.0


def melanogaster_mm(temperature_c: FloatArray) -> FloatArray:
    """Body length [mm] of an adult fly reared at a temperature [C]: straight from 20 to 29 C (CHEN2014)."""
    (cool, long_mm, _), (warm, short_mm, _) = chen2014.ADULT_LENGTH_MM
    return np.asarray(np.interp(temperature_c, [cool, warm], [long_mm, short_mm]))


_ACHETA = FeederKind(
    key="acheta", name="house or banded cricket",
    words=(("acheta",), ("house", "cricket"), ("banded", "cricket"), ("cricket",)),
    law=scaled(ACHETA_ODHI, cricket_young_share()), hatch_mm=_PINHEAD_MM, adult_mm=MEMORY.ACHETA_ADULT_MM,
    deaths_per_day=MEMORY.CRICKET_DEATHS_PER_DAY, adult_days=MEMORY.CRICKET_ADULT_DAYS,
    adult_words=_CRICKET_ADULT, young_share=cricket_young_share(),
    facts=(("days from egg to adult", odhi.SOURCE), ("share before hatching", magara2024.SOURCE),
           ("length at hatching", feeder_pages.SOURCE), ("adult length, deaths, adult life", MEMORY.SOURCE)),
    warnings=("A cricket nobody named is taken for a house cricket.",),
)  # fmt: skip
_GRYLLUS = FeederKind(
    key="gryllus", name="two-spotted field cricket",
    words=(("gryllus",), ("field", "cricket"), ("black", "cricket"), ("bimaculatus",)),
    law=NYMPH_OF_GRYLLUS, hatch_mm=_PINHEAD_MM, adult_mm=MEMORY.GRYLLUS_ADULT_MM,
    deaths_per_day=MEMORY.CRICKET_DEATHS_PER_DAY, adult_days=MEMORY.CRICKET_ADULT_DAYS,
    adult_words=_CRICKET_ADULT, other_laws=(GRYLLUS_ODHI,),
    facts=(("degree-days of the nymph", magara2024.SOURCE), ("length at hatching", feeder_pages.SOURCE),
           ("adult length, deaths, adult life", MEMORY.SOURCE)),
    warnings=(f"Sources disagree: none develop at a constant {gbim20.NONE_AT_CONSTANT_C:g} °C"
              f" ({gbim20.SOURCE.key});"
              f" {odhi.SOURCE.key} has them quicker in the cool and slower in the warm.",),
)  # fmt: skip
_LATERALIS = FeederKind(
    key="lateralis", name="lateralis roach",
    words=(("lateralis",), ("turkestan",), ("red", "runner"), ("shelfordella",)),
    law=LATERALIS_KIM, hatch_mm=feeder_pages.HATCHLING_LATERALIS_MM, adult_mm=MEMORY.LATERALIS_ADULT_MM,
    deaths_per_day=MEMORY.ROACH_DEATHS_PER_DAY, adult_days=(kim2013.ADULT_DAYS_AT_LEAST, 150.0),
    adult_words="adult males have wings and flutter; they hardly breed under 20 °C (68 °F) (keepers' pages)",
    facts=(("days of the nymph, adult life (at least)", kim2013.SOURCE),
           ("length at hatching", feeder_pages.SOURCE),
           ("adult length, deaths, spread of adult life", MEMORY.SOURCE)),
    warnings=(_BORROWED,),
)  # fmt: skip
_DUBIA = FeederKind(
    key="dubia", name="dubia roach", words=(("dubia",), ("blaptica",)),
    law=DUBIA_PAGES, hatch_mm=MEMORY.DUBIA_HATCHLING_MM, adult_mm=MEMORY.DUBIA_ADULT_MM,
    deaths_per_day=MEMORY.ROACH_DEATHS_PER_DAY, adult_days=MEMORY.DUBIA_ADULT_DAYS,
    adult_words="adult males have wings and glide",
    facts=(("4 to 6 months to adult, at a temperature nobody names", feeder_pages.UNSIGNED),
           ("that temperature (28 C), lengths, deaths, adult life", MEMORY.SOURCE)),
    warnings=(_BORROWED,),
)  # fmt: skip
_MELANOGASTER = FeederKind(
    key="melanogaster", name="flightless fruit fly (melanogaster)",
    words=(("melanogaster",), ("fruit", "fly"), ("drosophila",)),
    law=FLY_TEXTBOOK, hatch_mm=float(melanogaster_mm(np.array(25.0))),
    adult_mm=float(melanogaster_mm(np.array(25.0))),
    deaths_per_day=0.0, adult_days=fruitfly.ADULT_DAYS["none"][:2],
    adult_words="flies live for weeks; warm flies may fly again where a strain is not wingless",
    facts=(("days from egg to fly", fly_textbook.SOURCE), ("length", chen2014.SOURCE),
           ("life of single males in a vial", fruitfly.SOURCE),
           ("first flies of a culture", feeder_pages.SOURCE),
           ("flies of a culture and for how long", MEMORY.SOURCE)),
    culture=Culture(feeder_pages.FIRST_FLIES_DAYS, MEMORY.CULTURE_GIVES_DAYS, MEMORY.FLIES_PER_CULTURE,
                    fruitfly.ADULT_DAYS["8 virgin"][0]),
    warnings=(f"{chen2014.SOURCE.key}: all matured within 13 days at 20 °C, sooner than here.",),
)  # fmt: skip
_HYDEI = FeederKind(
    key="hydei", name="flightless fruit fly (hydei)", words=(("hydei",),),
    law=HYDEI_MEMORY, hatch_mm=feeder_pages.HYDEI_MM, adult_mm=feeder_pages.HYDEI_MM,
    deaths_per_day=0.0, adult_days=MEMORY.HYDEI_ADULT_DAYS, adult_words="flies live for weeks",
    facts=(("length", feeder_pages.UNSIGNED), ("everything else", MEMORY.SOURCE)),
    culture=Culture(MEMORY.HYDEI_FIRST_FLIES_DAYS, MEMORY.CULTURE_GIVES_DAYS, MEMORY.FLIES_PER_CULTURE,
                    MEMORY.HYDEI_ADULT_DAYS[0]),
    warnings=(_BORROWED,),
)  # fmt: skip

KINDS: Final[Mapping[str, FeederKind]] = MappingProxyType(
    {kind.key: kind for kind in (_HYDEI, _MELANOGASTER, _GRYLLUS, _LATERALIS, _DUBIA, _ACHETA)}
)


def kind_named(words: frozenset[str]) -> FeederKind | None:
    """The kind that the words of a name (lower case, singular) mean; None: nothing is known about it."""
    for kind in KINDS.values():
        if any(all(word in words for word in name) for name in kind.words):
            return kind
    return None
