"""Carapace lengths of a scorpion, instar by instar (source key LOUR2006)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "LOUR2006",
    "Lourenco WR, Goodman SM (2006) Notes on the postembryonic development and ecology of Grosphus hirtus"
    " Kraepelin, 1901 (Scorpiones, Buthidae). Zoologischer Anzeiger 244: 181-185; values as transcribed in an"
    " open data repository, which doubts the length unit (ratios are free of it).",
    Grade.A,
)
CARAPACE_FEMALE: Final = (1.5, 2.0, 2.6, 3.3, 4.3, 6.1)
CARAPACE_MALE: Final = (1.4, 2.0, 2.5, 3.2, 3.7, 4.6)
