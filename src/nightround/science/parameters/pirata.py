"""Summer and winter generations of a pond wolf spider reared alike at 25 C (source key PIRATA)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PIRATA",
    "Ecological studies of Pirata subpiraticus (Araneae: Lycosidae) II; authors and journal not shown in"
    " the abstract seen (from memory: Hamamura, 1970s, Acta Arachnologica).",
    Grade.A,
)
SUMMER_DAYS_TO_MATURITY_AT_25_C: Final = 62.7
WINTER_DAYS_TO_MATURITY_AT_25_C: Final = 160.0
