"""Thermal time of the two-spotted field cricket, Gryllus bimaculatus (source key MAGARA2024)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "MAGARA2024",
    "Magara HJO, Tanga CM, Fisher BL, Azrag AGA, Niassy S, Egonyu JP, and others (2024) Impact of temperature"
    " on the bionomics and geographical range margins of the two-spotted field cricket Gryllus bimaculatus in"
    " the world. PLoS ONE, doi 10.1371/journal.pone.0300438; abstract seen.",
    Grade.A,
)
EGG_THRESHOLD_C: Final = 15.9
EGG_DEGREE_DAYS: Final = 108.7
NYMPH_THRESHOLD_C: Final = 16.2
NYMPH_DEGREE_DAYS: Final = 555.6
# The life cycle was completed between these constant temperatures.
COMPLETED_FROM_C: Final = 20.0
COMPLETED_TO_C: Final = 37.0
