"""Survey of growth at moults over arthropods (source key HUTCH1997)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "HUTCH1997",
    "Hutchinson JMC, McNamara JM, Houston AI, Vollrath F (1997) Dyar's Rule and the Investment Principle."
    " Phil. Trans. R. Soc. B 352: 113-138, doi 10.1098/rstb.1997.0007; abstract seen.",
    Grade.A,
)
STEP_TENDS_TO_DECLINE: Final = True
