"""How bare porous media dry: lengths and rates seen in experiments (source key DRYING)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "DRYING",
    "Lehmann P, Assouline S, Or D (2008) Characteristic lengths affecting evaporative drying of porous media,"
    " Physical Review E 77: 056309; Shahraeeni and Or (2010) Water Resources Research 2010WR010284;"
    " abstracts seen.",
    Grade.A,
)
# Coarse sand 0.3-0.9 mm and fine sand 0.1-0.5 mm: length over which gravity lets a surface stay wet.
GRAVITY_LENGTH_MM: Final = {"coarse": 90.0, "fine": 140.0}
# Evaporation where vapour through dry sand takes over.
SECOND_STAGE_MM_DAY: Final = (0.5, 2.5)
