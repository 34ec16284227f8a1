"""Words of substrates, vessels and changes read as keepers write them, or refused with what to write."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.findings.water.changes import changed
from nightround.findings.water.doubt import more_to_ten
from nightround.findings.water.mixes import read_mix
from nightround.findings.water.recipe import made_up_as, recipe_report, vessel_named
from nightround.foundation.refusal import Refusal
from nightround.science.water.ventilation import Ventilation
from nightround.science.water.vessels import catalogue


@pytest.mark.parametrize(
    ("words", "shares"),
    [
        ("coir 70, sand 30", {"coir": 0.7, "sand": 0.3}),
        ("70% coir, 30% sand", {"coir": 0.7, "sand": 0.3}),
        ("2 parts peat, 1 part vermiculite", {"peat": 2 / 3, "vermiculite": 1 / 3}),
        ("coir 3 l + sand 1 l", {"coir": 0.75, "sand": 0.25}),
        ("topsoil/sand 60:40", {"topsoil": 0.6, "sand": 0.4}),
        ("Coco fibre", {"coir": 1.0}),
        ("topsoil 50, coir 30, clay 20", {"topsoil": 0.5, "coir": 0.3, "loam": 0.2}),
        ("coir 80, leaf litter 20", {"coir": 1.0}),
    ],
)
def test_recipes_are_read_as_written(words: str, shares: dict[str, float]) -> None:
    """Percents, parts, litres and ratios come to shares of one."""
    parts = read_mix(words).parts
    assert parts is not None
    assert shares == pytest.approx(dict(parts))


def test_what_is_counted_as_another_is_said() -> None:
    """Clay counts as loam; equal shares are said to be a guess; a small unknown part is left out and said."""
    assert ("clay counted as loam",) == read_mix("topsoil 70, clay 30").assumed
    assert any("equal shares" in each for each in read_mix("coir and sand").assumed)
    assert any("left out" in each for each in read_mix("coir 90, dragon dust 10").assumed)


@pytest.mark.parametrize("words", ["", "dragon dust", "coir 40, dragon dust 60", "coir 70, sand", "coir 0"])
def test_what_is_not_known_is_missing(words: str) -> None:
    """Nothing is made up for a recipe that is empty, unknown for the most part, or without its amounts."""
    mix = read_mix(words)
    assert mix.parts is None
    assert mix.missing


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40))
def test_no_words_crash_the_reader(words: str) -> None:
    """Any text is read as shares that add up to one, or is missing with a reason."""
    mix = read_mix(words)
    if mix.parts is None:
        assert mix.missing
    else:
        assert sum(share for _, share in mix.parts) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("words", "litres"),
    [
        ("vial 20 dram", 0.0739),
        ("cup 16 oz", 0.473),
        ("20 x 20 x 20 cm", 8.0),
        ("box 12 x 8 x 8 in", 12.585),
        ("round 10 x 10 cm", 0.785),
    ],
)
def test_vessels_by_words_have_their_true_volume(words: str, litres: float) -> None:
    """US fluid dram 3.6967 ml, fluid ounce 29.574 ml, inch 25.4 mm (NIST Handbook 44, appendix C)."""
    assert litres == pytest.approx(vessel_named(words)[1].litres, rel=2e-3)


def test_every_vessel_of_the_catalogue_is_found_by_its_name() -> None:
    """And can be written as a home made up, with its inner sizes."""
    for name, vessel in catalogue().items():
        assert (name, vessel) == vessel_named(name)
        body = made_up_as(vessel)
        assert (vessel.shape, vessel.height_mm) == (body.shape, body.inner_height_mm)


@pytest.mark.parametrize("words", ["", "aquarium", "vial 21 dram", "tank 11 gal", "20 x 20 cm", "x x x cm"])
def test_vessels_that_are_none_are_refused_with_what_to_write(words: str) -> None:
    """No guess of a size."""
    with pytest.raises(Refusal) as refused:
        vessel_named(words)
    assert refused.value.wanted


def test_a_recipe_adds_up() -> None:
    """30 x 20 x 20 cm with 8 to 12 cm: 6 l of substrate, shares by volume, mass = dry + all of the water."""
    found = recipe_report("30 x 20 x 20 cm", "coir 70, sand 30", 80.0, 120.0, habit="burrower")
    assert 6.0 == pytest.approx(found.substrate_litres, rel=0.01)
    assert {"coir": 4.2, "sand": 1.8} == pytest.approx(dict(found.litres), rel=0.01)
    assert found.full_g == pytest.approx(found.dry_g + found.water_there_ml + found.water_to_add_ml, rel=1e-6)
    drier = recipe_report("30 x 20 x 20 cm", "coir 70, sand 30", 80.0, 120.0, habit="tree")
    assert drier.water_to_add_ml < found.water_to_add_ml
    assert found.assumed and found.sources


@pytest.mark.parametrize("words", ["cover 120 %", "add holes", "add 6 holes 3 km", "burn it", ""])
def test_changes_that_are_none_are_refused(words: str) -> None:
    """With an example of one."""
    air = Ventilation((), 30_000.0, 30_000.0, 70.0, 100_000.0)
    with pytest.raises(Refusal, match="cover 80 %"):
        changed(air, words)


def members(sd_log: float) -> np.ndarray:
    """Forty-one equally likely multipliers."""
    return np.exp([sd_log * NormalDist().inv_cdf((at + 0.5) / 41) for at in range(41)])


def more_of(loss: float, *, scale: float = 1.0, sd_log: float = 0.5) -> int | None:
    """Weighings every three days of a home that loses so many ml a day at m = 1, as its openings ask."""
    return more_to_ten(
        np.broadcast_to(loss * members(sd_log), (60, 41)), members(sd_log), sd_log, 3.0, scale, True
    )


def test_more_weighings_are_fewer_the_more_is_lost_and_the_finer_the_scale() -> None:
    """More loss, a finer scale or a narrower start never ask for more weighings; no loss is never settled,
    nor is one that the dry substrate decides and not the openings."""
    counts = [more_of(loss) for loss in (0.2, 0.5, 2.0, 10.0)]
    known = [each if each is not None else 99 for each in counts]
    assert known == sorted(known, reverse=True)
    assert known[0] > known[-1] >= 1
    assert (more_of(0.5, scale=0.1) or 99) <= known[1]
    assert 0 == more_of(1.0, sd_log=0.05)
    assert more_of(0.0) is None
    dried_out = np.full((60, 41), 1.0)
    assert more_to_ten(dried_out, members(0.5), 0.5, 3.0, 1.0, True) is None


def test_as_many_weighings_as_said_bring_it_to_ten_percent() -> None:
    """Regressions on simulated weighings: with the number said, sd(log m) is within 10/1.28 %, with one less
    it is not.
    """
    random, loss, spacing, scale = np.random.default_rng(3), 1.5, 3.0, 1.0
    more = more_of(loss)
    assert more is not None and more > 1
    spreads = []
    for count in (more - 1, more):
        days = spacing * np.arange(count + 1)
        off = random.normal(0.0, 1.0, (4000, len(days) - 1)) * 0.10 * loss * np.sqrt(spacing)
        drift = np.concatenate([np.zeros((4000, 1)), off.cumsum(axis=1)], axis=1)
        grams = -loss * days + drift + random.normal(0.0, scale, (4000, len(days)))
        variance = 0.01 * loss**2 * np.minimum(days[:, None], days) + np.diag(np.full(len(days), scale**2))
        inverse = np.linalg.inv(variance)
        design = np.stack([np.ones(len(days)), loss * days], axis=1)
        fitted = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ grams.T)
        spread = float(np.std(fitted[1]))
        spreads.append(1.0 / np.sqrt(1.0 / spread**2 + 1.0 / 0.5**2))
    wanted = np.log1p(0.10) / 1.2816
    assert spreads[1] <= wanted * 1.03
    assert spreads[0] > wanted * 0.97
