"""Egg to adult of two crickets at constant temperatures (source key ODHI)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "ODHI",
    "Odhiambo MA, Ochia CO, Okuto EO. Effects of temperature on the development and survival of cricket"
    " species; Acheta domesticus and Gryllus bimaculatus. East African Journal of Agriculture and"
    " Biotechnology (year not shown); abstract seen.",
    Grade.A,
)
# (temperature [C], days from egg to adult)
ACHETA_EGG_TO_ADULT: Final = ((18.0, 200.5), (30.0, 66.26))
GRYLLUS_EGG_TO_ADULT: Final = ((18.0, 231.82), (34.0, 62.22))
