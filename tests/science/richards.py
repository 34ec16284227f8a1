"""The reference: water and vapour in one dimension, Richards' equation solved on fine cells by LSODA.

    d content / dt = - d/dz (liquid + vapour)
    liquid (upward) = K (d suction / dz - 1),  vapour = -D_v d(rho_s humidity of pores)/dz

isothermal, no flow through the floor, at the top the air's conductance against the humidity of the first
cell. Cells grow from 0.15 mm at the surface; between cells K is the mean over suction, which keeps a
column in balance with gravity still.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nightround.science.water import air
from nightround.science.water.substrate import SUCTION_MM, Curves, vapour_through

FloatArray = NDArray[np.float64]
LOG_SUCTION = np.log(SUCTION_MM)


def cells_mm(
    depth_mm: float, first_mm: float = 0.15, growth: float = 1.25, largest_mm: float = 4.0
) -> FloatArray:
    """Thickness of the cells from the surface down."""
    sizes: list[float] = []
    while sum(sizes) < depth_mm:
        sizes.append(min(first_mm * growth ** len(sizes), largest_mm))
    found = np.array(sizes)
    return found / found.sum() * depth_mm


def drying(
    curves: Curves,
    depth_mm: float,
    conductance_m_s: float,
    celsius: float,
    humidity: float,
    foot_suction_mm: float,
    hours: FloatArray,
) -> FloatArray:
    """Water lost [mm] at each hour by a column first in balance with gravity."""
    from scipy.integrate import solve_ivp

    size = cells_mm(depth_mm)
    middle = np.cumsum(size) - 0.5 * size
    step = np.diff(middle)
    saturated = float(air.vapour_density_kg_m3(celsius))
    # mm/h of water per kg/m3 over a metre a second, and over a mm of a diffusivity.
    to_air = conductance_m_s * 3600.0
    spread = float(air.diffusivity_m2_s(celsius)) * 3600.0 * 1e3
    pore = air.pore_humidity(SUCTION_MM, celsius)
    table = np.stack([LOG_SUCTION, curves.potential_mm2_h, np.log(curves.conductivity_mm_h), pore])[:, ::-1]
    content = curves.content[::-1]

    def fluxes(theta: FloatArray) -> tuple[FloatArray, float]:
        log_h, potential, log_k, humid = (np.interp(theta, content, row) for row in table)
        suction = np.exp(log_h)
        rise = suction[:-1] - suction[1:]
        flat = np.abs(rise) < 1e-6 * suction[1:]
        mean_k = np.where(
            flat, np.exp(0.5 * (log_k[1:] + log_k[:-1])), np.diff(potential) / np.where(flat, 1.0, rise)
        )
        open_air = np.maximum(curves.saturated - 0.5 * (theta[1:] + theta[:-1]), 0.0)
        vapour = spread * open_air ** (10.0 / 3.0) / curves.saturated**2 * saturated * np.diff(humid) / step
        up = mean_k * (rise / step - 1.0) + vapour
        return up, to_air * saturated * max(float(humid[0]) - humidity, 0.0)

    def change(_: float, state: FloatArray) -> FloatArray:
        up, out = fluxes(state[:-1])
        gain = np.concatenate([up, [0.0]]) - np.concatenate([[out], up])
        return np.concatenate([gain / size, [out]])

    start = curves.content_at(foot_suction_mm + depth_mm - middle)
    done = solve_ivp(
        change, (0.0, float(hours[-1])), np.append(start, 0.0), method="LSODA", t_eval=hours,
        rtol=1e-5, atol=1e-7, lband=1, uband=1,
    )  # fmt: skip
    if not done.success:
        raise AssertionError(done.message)
    # The band leaves out how the total depends on the first cell; it is what the cells lost all the same.
    lost = float(np.sum(start * size)) - size @ done.y[:-1]
    assert np.abs(lost - done.y[-1]).max() < 2e-3 * max(1.0, float(lost.max())), "the reference loses water"
    return np.asarray(lost, dtype=np.float64)


def crust_of(curves: Curves) -> float:
    """What the two layers use for the dry crust, from the same law as the cells."""
    return vapour_through(curves.saturated, curves.saturated - curves.air_dry)
