"""What nobody looked up about feeders: adult lengths, deaths in the tub, flies of a culture (from memory).

Working values, shown with their grade and meant to be overruled by what the keeper counts.
"""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source("FEEDERS-MEMORY", "from memory; count your own tubs", Grade.MEM)
ACHETA_ADULT_MM: Final = 19.0
GRYLLUS_ADULT_MM: Final = 26.0
LATERALIS_ADULT_MM: Final = 27.0
DUBIA_HATCHLING_MM: Final = 5.0
DUBIA_ADULT_MM: Final = 43.0
# Temperature at which the 4 to 6 months of dubia are meant.
DUBIA_TEMPERATURE_C: Final = 28.0
# Share of a tub that dies each day, before adulthood.
CRICKET_DEATHS_PER_DAY: Final = 0.012
ROACH_DEATHS_PER_DAY: Final = 0.001
# (mean [days], sd [days]) from the last moult on.
CRICKET_ADULT_DAYS: Final = (45.0, 20.0)
DUBIA_ADULT_DAYS: Final = (500.0, 150.0)
HYDEI_ADULT_DAYS: Final = (45.0, 15.0)
# Hydei are slower than melanogaster: egg to fly about twice as long at 25 C.
HYDEI_EGG_TO_FLY: Final = ((25.0, 16.0),)
HYDEI_FIRST_FLIES_DAYS: Final = 28.0
# A started culture: flies it gives, over so many days from the first fly on.
FLIES_PER_CULTURE: Final = 150.0
CULTURE_GIVES_DAYS: Final = 21.0
# Spread of the pace of single animals within a tub (sd of log), and of length within one grade sold.
PACE_SD_LOG: Final = 0.12
GRADE_SD_LOG: Final = 0.10
# Where a source has one temperature only: the Q10 of published development rates, and the range used.
BORROWED_Q10: Final = 2.5
BORROWED_FROM_C: Final = 20.0
BORROWED_TO_C: Final = 32.0
