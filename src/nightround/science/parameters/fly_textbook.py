"""Egg to fly of Drosophila melanogaster as textbooks give it (source key FLY-TEXTBOOK)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "FLY-TEXTBOOK",
    "Textbook figures of the development of Drosophila melanogaster at three temperatures, as copied on"
    " unsigned pages.",
    Grade.D,
)
# (temperature [C], days from egg to fly)
EGG_TO_FLY: Final = ((18.0, 19.0), (25.0, 8.5), (28.0, 7.0))
