"""Carapace width on carapace length in two rock crabs (source key CRABS)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "CRABS",
    "Campbell NA, Mahon RJ (1974) A multivariate study of variation in two species of rock crab of genus"
    " Leptograpsus. Australian Journal of Zoology 22: 417-425; recomputed from the packaged data.",
    Grade.A,
)
WIDTH_ON_LENGTH_EXPONENTS: Final = (0.988, 0.997)
