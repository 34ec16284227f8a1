"""Przibram's rule: weight doubles at a moult (source key PRZIB)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "PRZIB",
    "Przibram's rule (weight doubles, linear dimensions grow by 1.26 per instar), as stated in an"
    " entomology abstract: a secondary statement.",
    Grade.A,
)
LINEAR_RATIO_PER_INSTAR: Final = 1.26
