"""Growth per moult of juvenile orb weavers in six populations (source key HIGG1993)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "HIGG1993",
    "Higgins L (1993) Constraints and plasticity in the development of juvenile Nephila clavipes in Mexico."
    " Journal of Arachnology 21: 107-119; abstract seen.",
    Grade.A,
)
GROWTH_PER_MOULT_IS_CONSTANT_WITHIN_POPULATIONS: Final = True
