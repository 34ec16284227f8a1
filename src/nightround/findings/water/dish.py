"""When a drinking dish has likely dried up: by still open water, held back by what the home lets out."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Final

from nightround.findings.water.air import RoomAir
from nightround.foundation.estimate import Estimate
from nightround.science.water.open_water import quiet_water_kg_m2_h

# Nobody writes down how deep a dish is (choice): shallow ones, safe for small animals, hold about so much.
DEPTH_MM: Final = 10.0


def dry_by(
    millilitres: float | None, filled: date | None, place: str, air: RoomAir, loss: Estimate | None
) -> date | None:
    """Return the day by which a dish filled then is likely dry; None: not known, or its home is not.

    Its water leaves no faster than from still open water (Shah), and no faster than the home loses water
    altogether; what the animal drinks is not known and not counted.
    """
    if millilitres is None or filled is None or loss is None or millilitres <= 0.0:
        return None
    row = air.row(place)
    warmth, humidity = air.temperature_c[row, air.now], air.humidity[row, air.now]
    mm_a_day = 24.0 * float(quiet_water_kg_m2_h(warmth, warmth, humidity))
    open_ml = millilitres / DEPTH_MM * mm_a_day
    ml_a_day = min(open_ml, loss.value)
    if ml_a_day <= 0.0:
        return None
    days = math.floor(millilitres / ml_a_day)
    return filled + timedelta(days=days) if days <= 365 else None
