"""Sizes and masses of three stages of a social spider, Anelosimus eximius (source key STRAUSDATA)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "STRAUSDATA",
    "Data and code for 'Sublethal effects of kleptoparasitism on experimental social spider colonies'"
    " (Anelosimus eximius), public repository, snapshot of 10 July 2023, CC BY 4.0;"
    " recomputed from its data.",
    Grade.A,
)
# Subadult 1, subadult 2, adult: means (and sds) of 120 animals each.
CEPHALOTHORAX_WIDTH_MM: Final = (0.977, 1.175, 1.460)
LEG_SEGMENT_MM: Final = (1.699, 2.236, 3.259)
LEG_SEGMENT_SD_MM: Final = (0.207, 0.258, 0.277)
LIVE_MASS_MG: Final = (2.52, 4.67, 9.67)
MASS_EXPONENT_ACROSS_INSTARS: Final = 2.97
MASS_EXPONENT_WITHIN_ADULTS: Final = 2.15
