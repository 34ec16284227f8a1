"""Coir dust of five Philippine sources (source key EVANS1996)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "EVANS1996",
    "Evans M R, Konduru S, Stamps R H (1996) Source variation in physical and chemical properties of coconut"
    " coir dust. HortScience 31: 965-967; abstract seen.",
    Grade.A,
)
BULK_DENSITY_G_CM3: Final = (0.04, 0.08)
AIR_SPACE: Final = (0.095, 0.126)
WATER: Final = (0.73, 0.80)
TOTAL_POROSITY: Final = (0.855, 0.895)
WATER_PER_DRY_WEIGHT: Final = (7.5, 11.0)
