"""Maturity at each moult: exact sums on the grid, sexes, censoring, pooling, and chances that hold."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from nightround.science.size.data import FEMALE, MALE, UNKNOWN, SizeData, pack
from nightround.science.size.fit import SizeFit, fit_size
from nightround.science.size.forecast import last_moult_unnoticed, next_moult_matures
from nightround.science.size.maturity import (
    DIFFERENCE_GRID,
    FEMALE_GRID,
    Steps,
    _mature_at_first,
    follow,
    hazard,
    pooled_weights,
)
from nightround.science.size.maturity_priors import MATURITY
from nightround.science.size.priors import SPIDER_PRIORS
from nightround.science.size.simulate import simulate_room

SHED = SPIDER_PRIORS.channel_index("carapace_length_shed")


def animals(
    *rows: tuple[int, int, list[float]], taxon: list[int] | None = None, group: list[int] | None = None
) -> SizeData:
    """Animals as (sex, mature instar or −1, carapace of each instar)."""
    n = len(rows)
    taxa = np.array(taxon if taxon is not None else [0] * n)
    sizes = [(i, k, mm) for i, (_, _, row) in enumerate(rows) for k, mm in enumerate(row)]
    owner, instar, value = (np.array(column) for column in zip(*sizes, strict=True))
    return SizeData(
        taxa,
        np.array(group if group is not None else [0] * (int(taxa.max()) + 1)),
        np.array([len(row) for _, _, row in rows]),
        np.array([sex for sex, _, _ in rows]),
        np.array([mature for _, mature, _ in rows]),
        owner,
        instar,
        np.full(len(owner), SHED),
        value,
    )


def half_mm(fit: SizeFit, taxon: int, *, male: bool) -> float:
    grid, weights = fit.inside.judged.maturity.sizes(male)
    return float(np.exp(weights[taxon] @ grid))


def test_stages_of_a_female_equal_the_sum_over_all_her_courses() -> None:
    """Four instars, some steps read: likelihood and stages equal those summed over every chain by hand."""
    packed = pack(animals((FEMALE, -1, [9.0, 11.0, 12.0, 12.5])))
    x = np.log([[9.0, 11.0, 12.0, 12.5]])
    growing = np.array([[0.0, -1.0, -4.0]])
    maturing, mature = np.array([[-2.0, -0.5, -3.0]]), np.array([[-6.0, -1.5, -0.2]])
    told = Steps(growing, maturing, mature)
    found = follow(MATURITY, packed, x, np.zeros_like(x), told)
    chance = hazard(x[0], FEMALE_GRID, MATURITY.width)
    first = _mature_at_first(MATURITY, x[:, 0], np.array([MATURITY.width]), FEMALE_GRID)[0]
    total = np.zeros(len(FEMALE_GRID))
    stage = np.zeros((4, len(FEMALE_GRID)))
    for course in product((0, 1), repeat=4):
        if any(a > b for a, b in pairwise(course)):
            continue
        weight = first if course[0] else 1.0 - first
        for k, (now, then) in enumerate(pairwise(course)):
            if now:
                weight = weight * np.exp(mature[0, k] - growing[0, k])
            elif then:
                weight = weight * chance[k + 1] * np.exp(maturing[0, k] - growing[0, k])
            else:
                weight = weight * (1.0 - chance[k + 1])
        total += weight
        stage += np.array(course)[:, None] * weight
    np.testing.assert_allclose(np.log(total), found.female_log[0], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(stage / total, found.stage[0], rtol=1e-9, atol=1e-12)


def test_pooling_on_the_grid_equals_the_dense_tree() -> None:
    """Weights of two taxa of one group and one of another equal sums over all groups' and worlds' values."""
    rng = np.random.default_rng(5)
    f, d = len(FEMALE_GRID), len(DIFFERENCE_GRID)
    evidence = 3.0 * rng.standard_normal((3, f, d))
    prior = replace(MATURITY, scales=((1.0, 1.0),))

    def kernel(grid: np.ndarray, sd: float) -> np.ndarray:
        matrix = np.exp(-0.5 * ((grid[:, None] - grid) / sd) ** 2)
        return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))

    taxon = np.kron(kernel(FEMALE_GRID, prior.taxon_sd), kernel(DIFFERENCE_GRID, prior.difference_taxon_sd))
    group = np.kron(kernel(FEMALE_GRID, prior.group_sd), kernel(DIFFERENCE_GRID, prior.difference_group_sd))
    world = np.exp(
        -0.5 * ((FEMALE_GRID[:, None] - prior.mean) / prior.sd) ** 2
        - 0.5 * ((DIFFERENCE_GRID - prior.difference_mean) / prior.difference_sd) ** 2
    ).ravel()
    likelihood = np.exp(evidence).reshape(3, -1)
    said = taxon @ likelihood.T
    of_group = world @ (group * (group @ said[:, 2])[:, None])
    expected = likelihood[0] * ((of_group * said[:, 1]) @ taxon)
    weights = pooled_weights(prior, evidence, np.array([0, 0, 1]))
    np.testing.assert_allclose(expected / expected.sum(), weights[0].ravel(), rtol=1e-8, atol=1e-15)


def test_males_not_yet_mature_are_censored_and_mature_ones_are_not() -> None:
    """Five males of 16 mm not yet mature put the males' size above 16 mm; maturing at 9 mm puts it there."""
    young = animals(*[(MALE, -1, [8.0, 10.0, 12.6, 16.0])] * 5)
    grown = animals(*[(MALE, 2, [5.6, 7.1, 9.0])] * 5)
    assert half_mm(fit_size(young), 0, male=True) > 16.0
    assert 8.0 == pytest.approx(half_mm(fit_size(grown), 0, male=True), rel=0.12)


def test_what_one_taxon_shows_is_passed_on_most_within_its_group() -> None:
    """Males of one taxon mature at 6 mm: females of it, of its group, and elsewhere follow, ever less."""
    rows = [*[(MALE, 2, [3.8, 4.8, 6.0])] * 5, *[(UNKNOWN, -1, [2.0, 2.5])] * 2]
    data = animals(*rows, taxon=[0] * 5 + [1, 2], group=[0, 0, 1])
    fit = fit_size(data)
    own, near, far = (half_mm(fit, taxon, male=False) for taxon in range(3))
    assert own < 7.5
    assert own < near < far < float(np.exp(MATURITY.mean)) * 1.02


def test_sex_is_told_by_what_did_not_happen() -> None:
    """Where males mature about 9 mm, one of 14 mm not seen mature is a female; a young one is either."""
    rows = [(MALE, 2, [5.6, 7.1, 9.0])] * 6 + [(UNKNOWN, -1, [8.5, 11.0, 14.0]), (UNKNOWN, -1, [3.0, 3.8])]
    female = next_moult_matures(fit_size(animals(*rows))).is_female
    assert female[6] > 0.9
    assert 0.5 == pytest.approx(float(female[7]), abs=0.05)
    assert [0.0] * 6 == female[:6].tolist()


def test_a_mature_animal_matures_no_more() -> None:
    """Noted as mature: the chance to mature at the next moult is 0, and a male has none to be otherwise."""
    matures = next_moult_matures(fit_size(animals((MALE, 2, [5.6, 7.1, 9.0]), (FEMALE, 0, [14.0, 14.7]))))
    assert [0.0, 0.0] == matures.chance.tolist()
    assert np.isnan(matures.female[0])
    assert np.isnan(matures.male[1])


def test_the_last_moult_is_in_doubt_only_for_possible_males() -> None:
    """Females and noted males: 0. Of animals that may be males the larger have the larger chance, under 1."""
    males = [(MALE, 2, [5.6, 7.1, 9.0])] * 6
    rows = [*males, (FEMALE, -1, [7.0, 9.0]), (UNKNOWN, -1, [7.0, 9.0]), (UNKNOWN, -1, [3.0, 3.8])]
    chance = last_moult_unnoticed(fit_size(animals(*rows)))
    assert [0.0] * 7 == chance[:7].tolist()
    assert 0.5 > chance[7] > 0.01 > chance[8] > 0.0


def test_chances_to_mature_at_the_next_moult_hold() -> None:
    """Rooms drawn from the model: predicted and seen shares agree, in all and where the chance is high."""
    predicted, happened = [], []
    for seed in range(6):
        room = simulate_room(
            np.random.default_rng(40 + seed), n_taxa=20, animals_per_taxon=25, males=0.5, known_sex=0.5,
            fixed={"start": 1.0}, start_sd=0.4, reading_rates={"carapace_length_shed": 0.6, "leg_span": 0.3},
        )  # fmt: skip
        fit = fit_size(room.data)
        measured = fit.measured.any(axis=1) & (room.data.mature_instar < 0)
        predicted.append(next_moult_matures(fit).chance[measured])
        happened.append((room.mature_from == room.last + 1)[measured])
    chance, seen = np.concatenate(predicted), np.concatenate(happened)
    assert float(seen.mean()) == pytest.approx(float(chance.mean()), abs=0.03)
    likely = chance > 0.3
    assert likely.sum() > 150
    assert float(seen[likely].mean()) == pytest.approx(float(chance[likely].mean()), abs=0.10)
