"""Coir by particle size (source key NOGUERA2003)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "NOGUERA2003",
    "Noguera P and others (2003) Influence of particle size on physical and chemical properties of coconut"
    " coir dust; as quoted in the Minnesota Stormwater Manual, the paper not seen.",
    Grade.A,
)
# From under 0.125 mm to over 2 mm.
BULK_DENSITY_G_CM3: Final = (0.122, 0.041)
PORES: Final = (0.923, 0.973)
WATER_ML_L: Final = (855.0, 165.0)
SHRINKAGE: Final = (0.38, 0.15)
