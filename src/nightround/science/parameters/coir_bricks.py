"""Water to expand a pressed brick of coir (source key COIR-BRICKS)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source("COIR-BRICKS", "Consumer horticulture page (biologyinsights), unsigned.", Grade.D)
BRICK_G: Final = 650.0
WATER_L: Final = (3.25, 4.5)
YIELD_L: Final = (8.0, 11.0)
