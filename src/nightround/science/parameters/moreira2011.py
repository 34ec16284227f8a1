"""Cephalothorax sizes of a funnel-web-building wolf spider, instar by instar (source key MOREIRA2011)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "MOREIRA2011",
    "Moreira VSS, Del-Claro K (2011) Oviposition and post-embryonic development of Aglaoctenus lagotis"
    " (Araneae: Lycosidae). Zoologia 28(5): 565-570, doi 10.1590/S1984-46702011000500003; values as"
    " transcribed in an open data repository.",
    Grade.A,
)
# Means of instars 1 to 11, both sexes, laboratory, 26.7 C.
CEPHALOTHORAX_MM: Final = (0.62, 0.97, 1.35, 1.76, 2.00, 2.47, 3.02, 3.47, 3.82, 4.43, 5.54)
ADULT_MALE_CEPHALOTHORAX_MM: Final = 6.97
ADULT_FEMALE_CEPHALOTHORAX_MM: Final = 8.60
MASS_G_AT_CEPHALOTHORAX_8_3_MM: Final = 0.64
