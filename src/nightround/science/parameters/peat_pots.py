"""Sphagnum peat in pots: weight, pores, what stays after draining (source key PEAT-POTS)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PEAT-POTS",
    "International Journal of Agronomy 2012: 978528, table 1: sphagnum peat in a porometer of 7.6 cm (height"
    " from memory).",
    Grade.A,
)
BULK_DENSITY_G_CM3: Final = 0.11
TOTAL_POROSITY: Final = 0.98
CONTAINER_CAPACITY: Final = 0.87
AIR_SPACE: Final = 0.11
POROMETER_MM: Final = 76.0
