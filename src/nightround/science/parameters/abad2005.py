"""Coir dust of thirteen sources: how far it differs (source key ABAD2005)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "ABAD2005",
    "Abad M, Fornes F, Carrion C, Noguera V, and others (2005) Physical properties of various coconut coir"
    " dusts compared to peat. HortScience 40: 2138-2144; abstract seen.",
    Grade.A,
)
TOTAL_POROSITY_OVER: Final = 0.94
AIR_SPACE: Final = (0.24, 0.89)
EASILY_AVAILABLE: Final = (0.01, 0.36)
WATER_ML_L: Final = (137.0, 786.0)
