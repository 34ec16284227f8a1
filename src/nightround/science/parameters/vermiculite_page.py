"""Weight of expanded vermiculite (source key VERMICULITE-PAGE)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source("VERMICULITE-PAGE", "Seed supplier's page: 4-6 lb a cubic foot, 64-96 kg/m3.", Grade.C)
BULK_DENSITY_G_CM3: Final = (0.064, 0.096)
