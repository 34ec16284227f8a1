"""Sizes of feeders and flies from a culture, as keepers' pages and vendors say (source key FEEDER-PAGES)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source("FEEDER-PAGES", "Keepers' and vendors' pages on feeder insects.", Grade.C)
PINHEAD_CRICKET_MM: Final = (2.0, 3.0)
HATCHLING_LATERALIS_MM: Final = 2.0
CRICKET_ADULT_WEEKS: Final = (5.0, 6.0)
# A culture gives flies about so many days after it was set up.
FIRST_FLIES_DAYS: Final = 19.0
LATERALIS_HARDLY_BREEDS_UNDER_C: Final = 20.0

UNSIGNED: Final = Source("FEEDER-PAGES-UNSIGNED", "Unsigned pages on feeder insects.", Grade.D)
HYDEI_MM: Final = 3.0
DUBIA_MONTHS: Final = (4.0, 6.0)
