"""Growth of a captive cohort of a tarantula, Grammostola vachoni (source key GVACH2021)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "GVACH2021",
    "Development, growth and allometry in a cohort of the tarantula Grammostola vachoni (Araneae:"
    " Theraphosidae). Zoologischer Anzeiger 293: 37-45 (2021), doi 10.1016/j.jcz.2021.05.005; abstract seen.",
    Grade.A,
)
# "Constant through development and equal in both sexes."
SIZE_INCREASE_PER_MOULT_FRACTION: Final = 0.38
MOULTS_PER_YEAR_LEAST: Final = 1.0
MOULTS_PER_YEAR_MOST: Final = 2.0
# Males matured most often at moult 11.
MALE_MATURING_MOULT: Final = 11
MALE_AGE_AT_MATURATION_YEARS: Final = 7.03
