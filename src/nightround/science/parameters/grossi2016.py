"""Leg length of males and females of a tarantula (source key GROSSI2016)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "GROSSI2016",
    "Grossi B, Veloso C, Taucare-Rios A, Canals M (2016) Allometry of locomotor organs and sexual size"
    " dimorphism in the mygalomorph spider Grammostola rosea. Journal of Arachnology 44(1): 99-102,"
    " doi 10.1636/M15-51.1; abstract seen, which gives no coefficients.",
    Grade.A,
)
MATURE_MALE_LEGS_ARE_LONGER: Final = True
