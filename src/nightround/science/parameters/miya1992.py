"""Life cycle of a purse-web spider, Atypus karschi, reared singly (source key MIYA1992)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "MIYA1992",
    "Miyashita K (1992) Postembryonic development and life cycle of Atypus karschi Doenitz (Araneae:"
    " Atypidae). Acta Arachnologica 41(2): 177-186; abstract seen.",
    Grade.A,
)
# Moults after leaving the mother's web; semi-outdoor rearing.
MOULTS_OF_MALES: Final = (8, 9)
MOULTS_OF_FEMALES: Final = (9, 11)
# Width of the tube from the start to the end of the juvenile time, means.
TUBE_WIDTH_START_MM: Final = 2.3
TUBE_WIDTH_END_MALE_MM: Final = 13.3
TUBE_WIDTH_END_FEMALE_MM: Final = 13.7
# Adult females live three or more further years and moult every year.
TUBE_WIDTH_ADULT_FEMALE_LEAST_MM: Final = 15.9
ADULT_FEMALE_YEARS_LEAST: Final = 3
