"""Water held by four media a day after watering (source key PILLING2012)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PILLING2012",
    "Pilling M (2012) on the list of the Pacific Bulb Society: volume of water held after 24 hours of"
    " draining; pot not described.",
    Grade.C,
)
HELD: Final = {"sand": 0.28, "vermiculite": 0.48, "perlite": 0.28, "peat": 0.58}
