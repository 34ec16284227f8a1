"""Sphagnum peat as taught to growers (source key PEAT-UARK)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PEAT-UARK", "University of Arkansas, Greenhouse Management, unit 7, section 5: substrates.", Grade.B
)
BULK_DENSITY_G_CM3: Final = 0.1
TOTAL_POROSITY: Final = (0.82, 0.97)
WATER: Final = (0.60, 0.68)
AIR_SPACE: Final = (0.10, 0.15)
