"""Adult life of single male fruit flies (source key FRUITFLY)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "FRUITFLY",
    "Hanley JA, Shapiro SH (1994) Sexual activity and the lifespan of male fruitflies: a dataset that gets"
    " attention. Journal of Statistics Education 2(1); recomputed from the packaged data (original"
    " experiment, from memory: Partridge and Farquhar 1981, Nature 294).",
    Grade.A,
)
# group -> (mean [days], sd [days], males)
ADULT_DAYS: Final = {
    "none": (63.56, 16.45, 25),
    "1 pregnant": (64.80, 15.65, 25),
    "1 virgin": (56.76, 14.93, 25),
    "8 pregnant": (63.36, 14.54, 25),
    "8 virgin": (38.72, 12.10, 25),
}
