"""Retention and conductivity of little decomposed sphagnum peat (source key PEAT-CLASSES)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PEAT-CLASSES",
    "Pedotransfer classes of peat soils, group III (sphagnum, 0.05-0.1 g/cm3), table 5 as held in the public"
    " repository peat_ptf; the paper itself was not seen.",
    Grade.A,
)
SATURATED: Final = 0.92
ALPHA_PER_CM: Final = 0.184
N: Final = 1.34
CONDUCTIVITY_CM_H: Final = 4.13
TORTUOSITY: Final = -0.89
