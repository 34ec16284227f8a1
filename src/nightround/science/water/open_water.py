"""Evaporation from open water: a dish, or a flooded floor under an open top."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightround.science.parameters import shah
from nightround.science.water.air import dry_air_density_kg_m3, humidity_ratio

FloatArray = NDArray[np.float64]


def quiet_water_kg_m2_h(water_c: ArrayLike, room_c: ArrayLike, humidity_fraction: ArrayLike) -> FloatArray:
    """Evaporation from still water in still room air [kg/(m2 h)]: 35 rho_w (rho_room - rho_w)^(1/3) (W_w -
    W_room).

    rho is dry air in a volume of moist air: the moist air over the water is the lighter and rises. Where
    it is the heavier (cool water) this part is 0 and slow air decides. Any shapes that broadcast; source
    SHAH. A dish under a lid gives less: its vapour has to leave by the openings first.
    """
    over_water = dry_air_density_kg_m3(water_c, 1.0)
    lift = np.maximum(dry_air_density_kg_m3(room_c, humidity_fraction) - over_water, 0.0)
    moister = humidity_ratio(water_c, 1.0) - humidity_ratio(room_c, humidity_fraction)
    return np.asarray(shah.COEFFICIENT * over_water * np.cbrt(lift) * moister, dtype=np.float64)
