"""Leg loss in a cellar spider lengthens the running moult interval (source key AUTOT)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "AUTOT",
    "Leg autotomy in a spider has minimal costs in competitive ability and development (Holocnemus"
    " pluchei); authors not shown in the abstract seen (from memory: Johnson & Jakob 1999,"
    " Animal Behaviour).",
    Grade.A,
)
INTERVAL_RATIO_AFTER_LEG_LOSS: Final = 1.15
