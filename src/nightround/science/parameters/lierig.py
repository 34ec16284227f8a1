"""Development of a small sheet-web spider at constant temperatures (source key LIERIG)."""

from __future__ import annotations

import math
from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "LIERIG",
    "Li D. Development and survival of Erigonidium graminicolum (Sundevall) (Araneae: Linyphiidae) at"
    " constant temperatures. Bulletin of Entomological Research (year from memory 1995); abstract seen.",
    Grade.A,
)
EGG_TO_ADULT_DAYS_AT_15_C: Final = 94.4
EGG_TO_ADULT_DAYS_AT_32_C: Final = 23.8
# The abstract: development is slower again at 35 C, where all eggs die.
FASTEST_SEEN_C: Final = 32.0
Q10_15_TO_32_C: Final = math.exp(
    math.log(EGG_TO_ADULT_DAYS_AT_15_C / EGG_TO_ADULT_DAYS_AT_32_C) * 10.0 / (32.0 - 15.0)
)
