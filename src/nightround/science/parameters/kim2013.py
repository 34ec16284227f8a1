"""Life of the Turkestan roach, Blatta (Shelfordella) lateralis (source key KIM2013)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "KIM2013",
    "Kim T, Rust MK (2013) Life history and biology of the invasive Turkestan cockroach (Dictyoptera:"
    " Blattidae). Journal of Economic Entomology 106(6): 2428-2432, doi 10.1603/EC13052; abstract seen.",
    Grade.A,
)
TEMPERATURE_C: Final = 26.7
MALE_NYMPH_DAYS: Final = 222.0
FEMALE_NYMPH_DAYS: Final = 224.0
NYMPHAL_INSTARS: Final = 5
NYMPHS_PER_EGG_CASE: Final = 13.9
# "Up to 25" egg cases a female.
MOST_EGG_CASES: Final = 25
# "At least": a lower bound of the adult life span.
ADULT_DAYS_AT_LEAST: Final = 612.0
