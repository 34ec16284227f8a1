"""The balance of many homes: nothing lost, nothing negative, in step with Richards' equation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.water import air, columns
from nightround.science.water.balance import Course, Watering, run
from nightround.science.water.columns import Columns, balanced_water_mm, make_columns
from nightround.science.water.demand import Climate, Demand, homes_air
from nightround.science.water.openings import Opening
from nightround.science.water.substrate import SUBSTRATES, Parts, curves
from nightround.science.water.ventilation import Ventilation, loss_g_day
from science import richards

FloatArray = NDArray[np.float64]
NAMES = list(SUBSTRATES)
FRACTIONS = np.array([0.1, 0.25, 0.5, 0.75, 0.9])
Case = tuple[Parts, float, float, float, float, float]


def drawn_case(rng: np.random.Generator) -> Case:
    """Substrate or mix, depth, conductance [m/s], temperature, humidity, suction at the foot."""
    parts: Parts = ((str(rng.choice(NAMES)), 1.0),)
    if rng.uniform() < 0.35:
        one, other = rng.choice(NAMES, 2, replace=False)
        share = float(rng.uniform(0.2, 0.8))
        parts = ((str(one), share), (str(other), 1.0 - share))
    rest = (rng.uniform(20, 150), 10 ** rng.uniform(-4.7, -2.5), rng.uniform(18, 28), rng.uniform(0.3, 0.7))
    return (parts, *(float(value) for value in rest), float(rng.uniform(0.0, 150.0)))


def time_ratios(cases: list[Case]) -> FloatArray:
    """Hours the two layers take to lose shares of their water, over the reference's [case, share]."""
    found = []
    for parts, depth, conductance, celsius, humidity, suction in cases:
        tables = curves(parts)
        layers = columns.balanced_layers(tables, depth, np.array([suction]))[:, 0]
        water = (layers - tables.air_dry) * np.array(columns.layer_depths_mm(depth))
        asked = conductance * float(air.vapour_density_kg_m3(celsius)) * (1.0 - humidity) * 3600.0
        hours = int(6.0 * water.sum() / asked) + 1
        lost = richards.drying(
            tables, depth, conductance, celsius, humidity, suction, np.linspace(0.0, hours, 1500)
        )
        one = make_columns([parts], [depth])
        crust = conductance / float(air.diffusivity_m2_s(celsius)) * one.crust_mm * 1e-3
        ours = run(
            one, water[:, None], np.full((hours, 1), asked), crust, hours, keep_every=max(1, hours // 1500)
        )
        share = FRACTIONS * water.sum()
        theirs = np.interp(share, lost, np.linspace(0.0, hours, 1500), right=np.nan)
        found.append(
            np.interp(share, np.append(0.0, ours.lost[:, 0]), np.append(0, ours.hour), right=np.nan) / theirs
        )
    return np.array(found)


def hold_to_richards(ratios: FloatArray) -> None:
    for column in ratios.T:
        known = column[np.isfinite(column)]
        assert known.size >= 0.8 * column.size
        assert 0.95 <= np.median(known) <= 1.05
        low, high = np.quantile(known, [0.05, 0.95])
        assert 0.8 <= low <= high <= 1.15


def test_drying_keeps_step_with_richards() -> None:
    """Ten columns at strong demand and weak: median time ratios 0.95-1.05, 5-95 % within 0.8-1.15."""
    rng = np.random.default_rng(11)
    cases = [case for case in (drawn_case(rng) for _ in range(40)) if case[2] > 2e-4][:10]
    hold_to_richards(time_ratios(cases))


@pytest.mark.long
def test_drying_keeps_step_with_richards_at_length() -> None:
    """The same over a hundred columns."""
    rng = np.random.default_rng(12)
    hold_to_richards(time_ratios([drawn_case(rng) for _ in range(100)]))


def one_home(parts: Parts, depth: float, content: float) -> tuple[Columns, FloatArray]:
    return make_columns([parts], [depth]), balanced_water_mm(parts, depth, content)[:, None]


def course(parts: Parts, depth: float, content: float, demand: FloatArray, per_area: float = 1e-3) -> Course:
    """A column under a demand; conductance per area [m/s] for its crust."""
    one, water = one_home(parts, depth, content)
    crust = per_area / 2.5e-5 * one.crust_mm * 1e-3
    return run(one, water, demand[:, None], crust, demand.size, keep_every=1)


MIXES = st.lists(st.tuples(st.sampled_from(NAMES), st.floats(0.1, 1.0)), min_size=1, max_size=3).map(tuple)


@settings(max_examples=30)
@given(
    MIXES, st.floats(3.0, 200.0), st.floats(0.0, 0.4), st.floats(0.0, 0.6), st.floats(0.0, 20.0),
    st.booleans(), st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_the_balance_closes_and_no_water_is_negative(
    parts: Parts, depth: float, content: float, strongest: float, dose: float, deep: bool, seed: int
) -> None:
    """Start and given are lost and left, to 1e-6; no layer is under air-dry; no loss over the demand."""
    one, water = one_home(parts, depth, content)
    demand = np.random.default_rng(seed).uniform(0.0, strongest + 1e-12, (300, 1))
    crust = strongest * one.crust_mm * 0.1
    found = run(one, water, demand, crust, 300, (Watering(100, 0, dose, deep),), keep_every=1)
    given_by = np.where(found.hour > 100, dose, 0.0)
    left = found.water.sum(axis=1)[:, 0]
    whole = float(water.sum()) + given_by
    assert np.abs(whole - left - found.lost[:, 0]).max() <= 1e-6
    assert found.water.min() >= -1e-9
    steps = np.diff(np.append(0.0, found.lost[:, 0]))
    assert steps.min() >= -1e-12
    assert (steps <= demand[:, 0] + 1e-12).all()


@pytest.mark.parametrize("hours_a_step", [1, 2])
def test_thin_and_thick_fills_never_owe_water(hours_a_step: int) -> None:
    """1,000 fills of 3-300 mm, dry or flooded, in calm and fierce air: closed to 1e-9, none negative."""
    rng, count, hours = np.random.default_rng(5), 1000, 300
    mixes: list[Parts] = [((str(rng.choice(NAMES)), 1.0),) for _ in range(count)]
    depths = [float(depth) for depth in np.exp(rng.uniform(np.log(3.0), np.log(300.0), count))]
    start = np.where(rng.random(count) < 0.4, 0.0, rng.uniform(0.0, 0.4, count))
    water = np.array([balanced_water_mm(*each) for each in zip(mixes, depths, start, strict=True)]).T
    many = make_columns(mixes, depths)
    fierce = np.exp(rng.uniform(np.log(0.01), np.log(5.0), count))
    poured = [
        Watering(int(rng.integers(hours)), column, float(rng.exponential(8.0)), bool(rng.integers(2)))
        for column in range(count)
    ]
    asked = rng.uniform(0.0, 1.0, (hours // hours_a_step, count)) * fierce
    found = run(
        many, water, asked, 0.1 * fierce * many.crust_mm, hours, tuple(poured),
        keep_every=hours_a_step, hours_a_step=hours_a_step,
    )  # fmt: skip
    left = water.sum(axis=0) + found.given - found.water[-1].sum(axis=0) - found.lost[-1]
    assert np.abs(left).max() < 1e-9
    assert found.water.min() >= 0.0
    assert np.diff(found.lost, axis=0).min() >= 0.0


@settings(max_examples=30)
@given(MIXES, st.floats(10.0, 150.0), st.floats(0.1, 0.4), st.floats(0.01, 0.3), st.floats(1.01, 2.0))
def test_more_demand_never_slows_drying(
    parts: Parts, depth: float, content: float, asked: float, more: float
) -> None:
    """More openings, or a warmer or drier room, are more demand: it never leaves more water at any hour."""
    hours = np.full(600, asked)
    calm, strong = (
        course(parts, depth, content, hours * factor, 0.03 * asked * factor).lost[:, 0]
        for factor in (1.0, more)
    )
    assert (strong >= calm - 1e-6).all()


def test_the_vents_decide_while_the_substrate_is_wet() -> None:
    """A moist home under a holed lid loses each day what `ventilation` says, to 1 %."""
    home = Ventilation((Opening("hole", 20, 2.0, thickness_mm=1.5),), 6e4, 6e4, 100.0, 1.6e5, rim_mm=1000.0)
    one, water = one_home((("peat", 1.0),), 50.0, 0.5)
    side = homes_air([home], [0])
    climate = Climate(np.full((1, 240), 23.3), np.full((1, 240), 0.47))
    found = run(one, water, Demand(side, climate), side.crust_per_mm(one.crust_mm), 240)
    assert (
        pytest.approx(10.0 * float(loss_g_day(home, 23.3, 0.47)), rel=0.01) == found.lost[-1, 0] * 6e4 * 1e-3
    )


def test_tabulated_demand_is_within_one_percent() -> None:
    """Holes, mesh, and openings at two heights on a heated shelf, at odd temperatures and humidities."""
    hole, low = Opening("hole", 12, 3.0), Opening("hole", 12, 3.0, at="side_low")
    mesh = Opening("mesh", 1, 180.0, 280.0, 0.5, open_fraction=0.5)
    homes = [Ventilation((o, *more), 6e4, 6e4, 120.0, 1.6e5) for o in (hole, mesh) for more in ((), (low,))]
    rng = np.random.default_rng(3)
    climate = Climate(rng.uniform(12.0, 33.0, (1, 50)), rng.uniform(0.2, 0.85, (1, 50)))
    for warmer in (0.0, 4.0):
        rows = Demand(homes_air(homes, [0] * 4, [warmer] * 4), climate)(0, 50)
        for column, home in enumerate(homes):
            celsius = climate.temperature_c[0]
            direct = loss_g_day(home, celsius, climate.humidity_fraction[0], celsius + warmer)
            np.testing.assert_allclose(rows[:, column], direct / 24.0 / 60.0, rtol=0.01)


def test_frost_asks_for_little_and_not_for_as_much_as_zero_degrees() -> None:
    """At -5 C air over supercooled water holds 4.21 hPa (Smithsonian tables, from memory); flow as at 0 C."""
    home = Ventilation((Opening("hole", 12, 3.0),), 6e4, 6e4, 120.0, 1.6e5)
    side = homes_air([home], [0])
    frost, zero = (Demand(side, Climate(np.full((1, 1), t), np.full((1, 1), 0.5)))(0, 1) for t in (-5.0, 0.0))
    held = [pascal * 18.015e-3 / (8.3145 * kelvin) for pascal, kelvin in ((421.5, 268.15), (611.2, 273.15))]
    assert pytest.approx(held[0] / held[1], rel=2e-3) == float(frost[0, 0] / zero[0, 0])
    hot, end = (Demand(side, Climate(np.full((1, 1), t), np.full((1, 1), 0.5)))(0, 1) for t in (55.0, 46.0))
    assert hot[0, 0] > end[0, 0]
    with pytest.raises(Refusal, match="between -30 and 60 C"):
        Climate(np.full((1, 1), -31.0), np.full((1, 1), 0.5))


def test_steps_of_two_hours_give_the_answer_of_one() -> None:
    """A year of daily swings: the loss differs under 1e-3."""
    demand = 0.05 * (1.0 + 0.6 * np.sin(np.arange(3000) * 2.0 * np.pi / 24.0))
    one, water = one_home((("coir", 1.0),), 60.0, 0.4)
    lost = [
        float(run(one, water, rows[:, None], one.crust_mm * 0.03, 3000, hours_a_step=step).lost[-1, 0])
        for step, rows in ((1, demand), (2, demand.reshape(-1, 2).mean(axis=1)))
    ]
    assert pytest.approx(lost[0], rel=1e-3) == lost[1]


def test_unknown_weather_is_refused() -> None:
    """No demand is invented for an hour without climate, nor a percentage taken for a fraction."""
    with pytest.raises(Refusal, match="expected climate"):
        course((("peat", 1.0),), 50.0, 0.4, np.array([0.1, np.nan]))
    with pytest.raises(Refusal, match="fraction between 0 and 1"):
        Climate(np.full((1, 3), 22.0), np.full((1, 3), 55.0))
    with pytest.raises(Refusal, match="depth of substrate"):
        make_columns([(("peat", 1.0),)], [1.0])


HOLED = st.tuples(st.integers(2, 40), st.floats(1.0, 4.0))


@settings(max_examples=12, deadline=None)
@given(
    MIXES, st.floats(3.0, 300.0), st.floats(0.0, 0.38), HOLED, st.floats(10.0, 32.0), st.floats(0.25, 0.8),
    st.sampled_from(["openings", "warmer", "drier"]),
)  # fmt: skip
def test_more_holes_a_warmer_or_a_drier_room_never_slow_a_home(
    parts: Parts,
    depth: float,
    content: float,
    holes: tuple[int, float],
    warm: float,
    humid: float,
    change: str,
) -> None:
    """Whole homes, from their holes and the room's air: never more water left at any hour of two months."""
    number, width = holes

    def lost(n: int, celsius: float, moist: float) -> FloatArray:
        opening = Opening("hole", n, width, thickness_mm=1.5)
        side = homes_air([Ventilation((opening,), 6e4, 6e4, 100.0, 1.6e5, rim_mm=1000.0)], [0])
        column, water = one_home(parts, depth, content)
        climate = Climate(np.full((1, 1500), celsius), np.full((1, 1500), moist))
        return run(
            column, water, Demand(side, climate), side.crust_per_mm(column.crust_mm), 1500, keep_every=1
        ).lost[:, 0]

    calm = lost(number, warm, humid)
    strong = lost(
        2 * number if change == "openings" else number,
        warm + (3.0 if change == "warmer" else 0.0),
        humid - (0.1 if change == "drier" else 0.0),
    )
    assert (strong >= calm - 1e-6).all()
