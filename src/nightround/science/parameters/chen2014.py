"""Maturation and body length of Drosophila melanogaster by temperature (source key CHEN2014)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "CHEN2014",
    "Chen SY, Leask KP, MacKinnon SW, Ramanaden YJ, Yoon JH (2014) The effects of temperature on the time to"
    " maturation of Drosophila melanogaster (student journal of the University of British Columbia);"
    " abstract seen.",
    Grade.A,
)
# (temperature [C], adult body length [mm], error term as printed)
ADULT_LENGTH_MM: Final = ((20.0, 2.607, 0.00765), (29.0, 2.547, 0.0299))
# (temperature [C], share that matured within 13 days)
WITHIN_DAYS: Final = 13.0
MATURED_WITHIN: Final = ((12.0, 0.0), (20.0, 1.0), (29.0, 0.8))
