"""Openings and whole lids against numerical solutions, known limits, and the library of heat transfer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water import air, openings, ventilation
from nightround.science.water.openings import Opening
from nightround.science.water.ventilation import Ventilation, home_conductance_m3_s, loss_g_day

FloatArray = NDArray[np.float64]


def edges(lengths: tuple[float, ...], finest: float) -> FloatArray:
    """Edges of cells that are finest at each inner border and grow by a fifth away from it."""
    found = [0.0]
    for number, length in enumerate(lengths):
        count = max(2, math.ceil(math.log(1.0 + 0.2 * length / finest) / math.log(1.2)))
        sizes = 1.2 ** np.arange(count)
        sizes = sizes[::-1] if number == 0 else sizes
        found += list(found[-1] + np.cumsum(sizes / sizes.sum() * length))
    return np.array(found)


def laplace_hole_m3_s(radius: float, thickness: float, cell: float, diffusivity: float) -> float:
    """Conductance of one hole of a plate, in its territory of radius `cell`, by finite volumes.

    Half the plate by symmetry: the middle of the hole is at 0, the air four cell radii above at 1; no flow
    through the plate, the axis and the territory's border. The air above is taken off again.
    """
    from scipy.sparse import lil_matrix
    from scipy.sparse.linalg import spsolve

    high = 4.0 * cell
    r, z = edges((radius, cell - radius), radius / 160), edges((thickness / 2, high), radius / 160)
    rm, zm = 0.5 * (r[1:] + r[:-1]), 0.5 * (z[1:] + z[:-1])
    ring = math.pi * (r[1:] ** 2 - r[:-1] ** 2)
    open_cell = (zm[None, :] > thickness / 2) | (rm[:, None] < radius)
    number = np.where(open_cell, np.cumsum(open_cell.ravel()).reshape(open_cell.shape) - 1, -1)
    matrix, right = lil_matrix((open_cell.sum(),) * 2), np.zeros(open_cell.sum())
    for i, j in zip(*np.nonzero(open_cell), strict=True):
        own, up = number[i, j], j + 1
        if i + 1 < rm.size and open_cell[i + 1, j]:
            join(
                matrix,
                own,
                number[i + 1, j],
                2 * math.pi * r[i + 1] * (z[j + 1] - z[j]) / (rm[i + 1] - rm[i]),
            )
        if up < zm.size:
            join(matrix, own, number[i, up], ring[i] / (zm[up] - zm[j]))
        else:
            matrix[own, own] += ring[i] / (z[-1] - zm[j])
            right[own] = ring[i] / (z[-1] - zm[j])
        if j == 0:
            matrix[own, own] += ring[i] / zm[0]
    value = spsolve(matrix.tocsr(), right)
    flow = sum(ring[i] * value[number[i, 0]] / zm[0] for i in range(rm.size) if open_cell[i, 0])
    return float(diffusivity / (2.0 * (1.0 / flow - high / (math.pi * cell**2))))


def join(matrix, one: int, other: int, conductance: float) -> None:  # type: ignore[no-untyped-def]
    """Let two cells exchange."""
    matrix[one, one] += conductance
    matrix[other, other] += conductance
    matrix[one, other] -= conductance
    matrix[other, one] -= conductance


@pytest.mark.parametrize(
    ("diameter", "thickness", "xi"),
    [
        (1, 1, 0.05),
        (2, 1, 0.05),
        (3, 2, 0.1),
        (6, 3, 0.05),
        (2, 1, 0.3),
        (2, 0.5, 0.5),
        (2, 1, 0.7),
        (4, 0.5, 0.3),
    ],
)
def test_a_hole_is_within_six_percent_of_laplace(diameter: float, thickness: float, xi: float) -> None:
    """Round holes alone and close together, thin and thick plates, against finite volumes solved here."""
    diffusivity = float(air.diffusivity_m2_s(22.0))
    radius = diameter / 2e3
    solved = laplace_hole_m3_s(radius, thickness / 1e3, radius / xi, diffusivity)
    hole = Opening("hole", 1, diameter, thickness_mm=thickness, open_fraction=xi**2)
    assert pytest.approx(solved, rel=0.06) == float(openings.conductance_m3_s(hole, 22.0))


@pytest.mark.parametrize(
    ("diameter", "thickness", "recorded"),
    [(1, 1, 1.1023e-8), (2, 1, 3.0622e-8), (2, 2, 2.2046e-8), (3, 2, 4.0661e-8), (6, 3, 9.1866e-8)],
)
def test_a_hole_alone_as_recorded(diameter: float, thickness: float, recorded: float) -> None:
    """The formula's value at 22 C [m3/s], to 1e-4; ten holes pass ten times as much."""
    one = Opening("hole", 1, diameter, thickness_mm=thickness)
    ten = Opening("hole", 10, diameter, thickness_mm=thickness)
    assert pytest.approx(recorded, rel=1e-4) == float(openings.conductance_m3_s(one, 22.0))
    assert pytest.approx(10 * recorded, rel=1e-4) == float(openings.conductance_m3_s(ten, 22.0))


def test_a_hole_in_a_thin_plate_is_maxwell_s_disc() -> None:
    """Without thickness a disc passes 4 D r to each side, 2 D r through both."""
    disc = Opening("hole", 1, 10.0, thickness_mm=0.0)
    assert pytest.approx(2.0 * 5e-3, rel=1e-12) == openings.clear_length_m(disc)


def test_fok_s_polynomial() -> None:
    """Values of the coefficients seen: 0.85941 0.58651 0.33961 0.14023; 1 for a hole alone, never below 0."""
    values = openings.fok_polynomial([0.1, 0.3, 0.5, 0.7])
    np.testing.assert_allclose(values, [0.85941, 0.58651, 0.33961, 0.14023], atol=1e-5)
    assert [1.0, 0.0] == openings.fok_polynomial([0.0, 1.0]).tolist()


def rectangle_length(aspect: float, across: int = 12) -> float:
    """Conductance per diffusivity of a thin rectangular opening 1 wide, by panels of equal charge on its
    face.

    The field on one side is that of a charged conducting plate of the same shape: half its capacity over eps,
    2 pi C' to each side; two sides in series, pi C'.
    """
    along = round(across * aspect)
    x, y = (np.arange(along) + 0.5) / across, (np.arange(across) + 0.5) / across
    px, py = (part.ravel() for part in np.meshgrid(x, y))
    with np.errstate(divide="ignore"):
        inverse = 1.0 / np.hypot(px[:, None] - px[None, :], py[:, None] - py[None, :])
    # Potential of a square panel of side a and unit charge at its own middle: 4 ln(1 + sqrt 2) / a.
    np.fill_diagonal(inverse, 4.0 * math.log(1.0 + math.sqrt(2.0)) * across)
    return float(math.pi * np.linalg.solve(inverse, np.ones(px.size)).sum())


@pytest.mark.parametrize("aspect", [1.0, 4.0, 8.0, 16.0])
def test_a_slot_is_within_four_percent_of_panels(aspect: float) -> None:
    """Thin rectangular openings against panels; a square's capacity is 0.3667 of its side (memory)."""
    slot = Opening("slot", 1, 1.0, aspect, thickness_mm=0.0)
    assert pytest.approx(rectangle_length(aspect) * 1e-3, rel=0.04) == openings.clear_length_m(slot)
    if aspect == 1.0:
        assert pytest.approx(0.3667 * math.pi, rel=0.01) == rectangle_length(1.0, 24)


def test_a_deep_slot_is_area_over_depth() -> None:
    """Where the wall is far thicker than the slot is wide, its ends no longer matter."""
    slot = Opening("slot", 1, 0.5, 50.0, thickness_mm=100.0)
    assert pytest.approx(0.5 * 50.0 / 100.0 * 1e-3, rel=0.02) == openings.clear_length_m(slot)


def test_a_perforated_plate_is_its_holes() -> None:
    """A panel of perforated metal passes what its round holes pass, counted one by one."""
    holes = 0.3 * 100.0 * 50.0 / (math.pi * 1.0**2)
    panel = Opening("perforated", 1, 50.0, 100.0, 0.8, aperture_mm=2.0, open_fraction=0.3)
    alone = openings.hole_length_mm(1.0, 0.8, 0.3)
    assert pytest.approx(holes * math.pi / alone * 1e-3, rel=1e-12) == openings.clear_length_m(panel)


def test_holes_at_two_heights_exchange_by_flow() -> None:
    """Equal sets: Q coth(Q/G), 1.3130 Q at Q = G; without flow both add up; one set alone has no flow."""
    assert pytest.approx(1.3130, abs=1e-4) == float(openings.exchange_m3_s(1.0, 0.5, 0.5))
    assert pytest.approx(0.8, rel=1e-9) == float(openings.exchange_m3_s(0.0, 0.5, 0.3))
    assert 0.5 == float(openings.exchange_m3_s(0.3, 0.5, 0.0))
    strong = float(openings.exchange_m3_s(50.0, 0.5, 0.5))
    assert pytest.approx(50.0, rel=1e-9) == strong


def test_stack_flow_obeys_its_own_quadratic() -> None:
    """The pressure of light air is what viscous and inertial losses use up, for small and for wide holes."""
    for diameter in (1.0, 3.0, 30.0):
        low = [Opening("hole", 4, diameter, thickness_mm=2.0, at="side_low")]
        high = [Opening("hole", 4, diameter, thickness_mm=2.0)]
        flow = float(openings.stack_flow_m3_s(low, high, 150.0, 0.006))
        radius = diameter / 2e3
        viscous = 2 * 1.82e-5 * (3.0 + 8.0 * 2e-3 / (math.pi * radius)) / radius**3 / 4 * flow
        speed = flow / (0.6 * 4 * math.pi * radius**2)
        assert pytest.approx(9.80665 * 0.15 * 0.006, rel=1e-9) == viscous + 1.19 * speed**2
    assert 0.0 == float(openings.stack_flow_m3_s([], high, 150.0, 0.006))


def test_layer_and_plate_are_the_library_s() -> None:
    """ht 1.2.0: Nu_horizontal_plate_McAdams(Ra=1e6) 17.076; Nu_Nusselt_Rayleigh_Hollands 6.983 (2 %)."""
    assert pytest.approx(17.076, abs=1e-3) == float(ventilation.mcadams_upward(1e6))
    assert pytest.approx(6.983, rel=0.02) == float(ventilation.hollands_layer(1e6))
    assert 1.0 == float(ventilation.hollands_layer(1000.0))


MESH = Opening("mesh", 1, 180.0, 280.0, thickness_mm=0.5, aperture_mm=1.2, open_fraction=0.5)
SCREENED = Ventilation((MESH,), 60_000.0, 60_000.0, 100.0, 160_000.0)
HOLES = Opening("hole", 20, 2.0, thickness_mm=1.5)
TUB = Ventilation((HOLES,), 60_000.0, 60_000.0, 100.0, 160_000.0, rim_mm=1000.0)


def test_the_mesh_itself_is_a_small_part_of_the_resistance() -> None:
    """Under mesh the plate is 5-10 % of the resistance, and covering 80 % leaves about 44 % (model fact)."""
    plate = 1.0 / (openings.clear_length_m(MESH) * float(air.diffusivity_m2_s(22.0)))
    assert 0.05 <= plate * float(home_conductance_m3_s(SCREENED, 22.0, 0.5)) <= 0.10
    left = float(loss_g_day(SCREENED.covered(0.8), 22.0, 0.5) / loss_g_day(SCREENED, 22.0, 0.5))
    assert 0.38 < left < 0.50


def test_a_lid_with_holes_is_its_holes_and_its_gap() -> None:
    """A few small holes are nearly the whole resistance, within 5 % of both; covered, the gap alone."""
    alone = (openings.clear_length_m(HOLES) + openings.lid_leak_length_m(1000.0)) * air.diffusivity_m2_s(22.0)
    assert pytest.approx(float(alone), rel=0.05) == float(home_conductance_m3_s(TUB, 22.0, 0.5))
    gap = float(openings.lid_leak_length_m(1000.0) * air.diffusivity_m2_s(22.0))
    assert pytest.approx(gap, rel=0.03) == float(home_conductance_m3_s(TUB.covered(1.0), 22.0, 0.5))


def test_a_sealed_home_loses_nothing() -> None:
    """Without openings and gap nothing leaves; a room moister than the home adds nothing either."""
    sealed = Ventilation((), 60_000.0, 60_000.0, 100.0, 160_000.0)
    assert 0.0 == float(loss_g_day(sealed, 22.0, 0.4))
    assert 0.0 == float(loss_g_day(TUB, 27.0, 1.0, 22.0))


def test_warmth_at_the_same_humidity() -> None:
    """Holes, 22 to 27 C at one humidity: D rho_s grows 1.367 times (recorded 1.367 within 0.002)."""
    both = [air.diffusivity_m2_s(t) * air.vapour_density_kg_m3(t) for t in (27.0, 22.0)]
    assert pytest.approx(1.367, abs=0.002) == float(both[0] / both[1])
    assert pytest.approx(1.367, abs=0.02) == float(loss_g_day(TUB, 27.0, 0.5) / loss_g_day(TUB, 22.0, 0.5))


def test_a_low_row_of_holes_more_than_doubles_the_loss_of_a_high_one() -> None:
    """Cross-ventilation: stack flow comes on top of the diffusion of both rows."""
    row = Opening("hole", 20, 3.0, thickness_mm=1.5)
    low = Opening("hole", 20, 3.0, thickness_mm=1.5, at="side_low")
    one = Ventilation((row,), 60_000.0, 60_000.0, 150.0, 160_000.0)
    high_only = float(loss_g_day(one, 22.0, 0.4))
    assert 2.0 * high_only < float(loss_g_day(one.with_openings(low), 22.0, 0.4))


@given(
    st.floats(10.0, 34.0), st.floats(0.1, 0.9), st.floats(0.0, 4.0), st.floats(0.0, 0.09), st.floats(-2.0,
    6.0), st.integers(0, 30), st.integers(0, 30), st.floats(0.0, 0.95), st.booleans(),
)  # fmt: skip
def test_drier_warmer_and_more_open_never_lose_less(
    celsius: float, humidity: float, warmer: float, drier: float, mat: float,
    holes: int, low: int, cover: float, screened: bool,
) -> None:  # fmt: skip
    """Loss of a wet home never falls with room warmth, dryness, openings, and the lid's open share."""
    base = (SCREENED if screened else TUB).with_openings(
        Opening("hole", low, 3.0, at="side_low"), Opening("hole", holes, 3.0, at="side_high")
    )
    home = base.covered(cover)
    more = home.with_openings(Opening("hole", 5, 2.0), Opening("hole", 3, 2.0, at="side_low"))
    now = float(loss_g_day(home, celsius, humidity, celsius + mat))
    slack = 1e-9 * (1.0 + now)
    assert now <= float(loss_g_day(home, celsius, humidity - drier, celsius + mat)) + slack
    assert now <= float(loss_g_day(home, celsius + warmer, humidity, celsius + warmer + mat)) + slack
    assert now <= float(loss_g_day(more, celsius, humidity, celsius + mat)) + slack
    assert now <= float(loss_g_day(home.covered(0.8 * cover), celsius, humidity, celsius + mat)) + slack


def test_impossible_openings_are_refused() -> None:
    """No size, no aperture, a cover over 1, more panel than lid, humidity in percent."""
    with pytest.raises(Refusal, match="sizes above 0"):
        Opening("hole", 3, 0.0)
    with pytest.raises(Refusal, match="open fraction"):
        Opening("mesh", 1, 100.0, 100.0)
    with pytest.raises(Refusal, match="covered share"):
        TUB.covered(1.2)
    with pytest.raises(Refusal, match="no larger than the lid"):
        Ventilation((MESH,), 20_000.0, 20_000.0, 100.0, 90_000.0)
    with pytest.raises(Refusal, match="fraction between 0 and 1"):
        loss_g_day(TUB, 22.0, 45.0)


def test_a_day_s_loss_by_hand() -> None:
    """The example of docs/water.md: 0.43 g by hand; 0.41 with the air in the way, 0.47 with a gap."""
    by_hand = 20 * math.pi / (1.5 + math.pi / 2.0) * 25.06 * 0.5 * 19.42e-9 * 86400.0
    assert pytest.approx(0.43, abs=0.005) == by_hand
    holes = Opening("hole", 20, 2.0, thickness_mm=1.5)
    homes = [Ventilation((holes,), 4e4, 4e4, 80.0, 1.4e5, rim_mm=rim) for rim in (0.0, 600.0)]
    tight, gapped = (float(loss_g_day(home, 22.0, 0.5)) for home in homes)
    assert [0.41, 0.47] == [round(tight, 2), round(gapped, 2)]
    assert tight < by_hand
