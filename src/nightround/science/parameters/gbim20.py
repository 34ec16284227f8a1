"""Gryllus bimaculatus does not develop at a constant 20 C (source key GBIM20)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "GBIM20",
    "Study of embryonic development, larval growth and fecundity of Gryllus bimaculatus at constant,"
    " alternating and oscillating temperatures (library record; authors and journal not shown); abstract"
    " seen.",
    Grade.A,
)
# No larval development at this constant temperature; complete where temperature alternates around it.
NONE_AT_CONSTANT_C: Final = 20.0
