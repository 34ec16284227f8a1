"""Evaporation from bare soil as published for irrigation (source key FAO56)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "FAO56",
    "Allen R G, Pereira L S, Raes D, Smith M (1998) Crop evapotranspiration. FAO Irrigation and Drainage"
    " Paper 56, equations 11, 13, 73 and 74, table 19; seen in tests of public programs that quote it.",
    Grade.A,
)
# e [kPa] = 0.6108 exp(17.27 T / (T + 237.3))
TETENS_KPA: Final = 0.6108
TETENS_SLOPE: Final = 17.27
TETENS_OFFSET_C: Final = 237.3
# Readily evaporable water [mm] from a layer of 100-150 mm, by soil.
READILY_EVAPORABLE_MM: Final = {"sandy loam": (6.0, 10.0), "loam": (8.0, 10.0)}
