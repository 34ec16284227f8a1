"""The moult clock against independent computations: dense algebra, differences, brute-force sampling."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from nightround.foundation.refusal import Refusal
from nightround.science.clock.blocks import make_layout, solve
from nightround.science.clock.design import make_design
from nightround.science.clock.draw import RoomShape, draw_room
from nightround.science.clock.fit import fit
from nightround.science.clock.forecast import WITHIN_DAYS, forecast
from nightround.science.clock.priors import COVARIATES, FIXED, READ_PLACE, hyper_mean, hyper_sd
from nightround.science.clock.propagate import Hyper, propagate
from nightround.science.clock.sites import Noise
from nightround.science.thermal import FloatArray
from science.clock_rooms import ON, Piece, expected, room


def small_room(seed: int = 4) -> RoomShape:
    """A shape small enough for dense algebra."""
    return RoomShape(groups=2, taxa=4, animals=14, places=2, record_days=500, late_share=0.3)


def test_block_elimination_equals_dense_algebra() -> None:
    """Means, variances and the log normaliser equal those of the whole precision matrix inverted."""
    design = make_design(draw_room(np.random.default_rng(4), small_room()).data)
    layout = make_layout(design)
    theta = hyper_mean() + 0.3 * hyper_sd()
    spreads = Hyper.of(theta).spreads
    rng = np.random.default_rng(1)
    precision, pull = rng.uniform(0.1, 20.0, design.count), rng.normal(0.0, 40.0, design.count)
    solved = solve(design, layout, spreads, design.basis, precision, pull)
    animals, taxa = design.data.animals, design.data.taxa
    rows = np.arange(design.count)
    matrix = np.zeros((design.count, animals + 2 * taxa + layout.prior_mean.size))
    matrix[rows, design.animal] = 1.0
    for part in range(2):
        matrix[rows, animals + 2 * design.taxon + part] = design.basis[:, part]
    matrix[:, animals + 2 * taxa :] = np.einsum("nd,ndp->np", design.basis, layout.map[design.taxon])
    prior = np.concatenate(
        [
            np.full(animals, spreads.animal**-2),
            np.tile([spreads.taxon**-2, spreads.slope**-2], taxa),
            np.where(layout.group, spreads.group**-2, layout.prior_precision),
        ]
    )
    prior_mean = np.concatenate([np.zeros(animals + 2 * taxa), layout.prior_mean])
    posterior = np.diag(prior) + matrix.T @ (precision[:, None] * matrix)
    right = prior * prior_mean + matrix.T @ pull
    covariance = np.linalg.inv(posterior)
    mean = covariance @ right
    np.testing.assert_allclose(solved.mean, matrix @ mean, atol=1e-9)
    np.testing.assert_allclose(solved.variance, ((matrix @ covariance) * matrix).sum(axis=1), atol=1e-10)
    dense = 0.5 * (
        np.log(prior).sum() - np.linalg.slogdet(posterior)[1] + right @ mean - (prior * prior_mean**2).sum()
    )
    assert dense == pytest.approx(solved.log_normaliser, rel=1e-9)


def test_gradient_of_the_evidence_equals_differences() -> None:
    """The gradient that the search for the mode uses is that of the log evidence, for all seven.

    Not to the last digit: messages of ambiguous rows are bounded, so the evidence is not quite stationary.
    """
    design = make_design(draw_room(np.random.default_rng(4), small_room()).data)
    layout = make_layout(design)
    theta = hyper_mean() + 0.2 * hyper_sd() * np.array([1, -1, 1, -1, 1, -1, 1])

    def evidence(at: FloatArray) -> float:
        return propagate(design, layout, at, tolerance=1e-8).log_evidence

    slope = propagate(design, layout, theta, tolerance=1e-8, gradient=True).gradient
    for index in range(theta.size):
        step = np.zeros(theta.size)
        step[index] = 1e-3
        difference = (evidence(theta + step) - evidence(theta - step)) / 2e-3
        assert difference == pytest.approx(slope[index], rel=0.03, abs=0.25)


# Three animals of one taxon, 25 C: every kind of likelihood occurs once. The hidden animal is 2.
PIECES = [
    Piece(0, start=(500, 500), end=(555, 555)),
    Piece(0, start=(555, 555), end=(620, 633)),
    Piece(0, start=(620, 633), end=(690, 690)),
    Piece(0, start=(690, 690), looked=700),
    Piece(1, end=(800, 800), watched=780),
    Piece(1, start=(800, 800), looked=870),
    Piece(2, start=(930, 930), looked=999, watched=960),
]


def by_brute_force(draws: int) -> tuple[FloatArray, float]:
    """P(within n days) of animal 2 by drawing everything from the priors and weighing by the likelihood.

    Written from the model's description, without the clock's code: 14 unknowns.
    """
    rng = np.random.default_rng(20)
    theta = hyper_mean() + hyper_sd() * rng.normal(size=(draws, hyper_mean().size))
    sigma, animal, taxon, _, group = np.exp(theta[:, 1:6]).T
    missed = 1.0 / (1.0 + np.exp(-theta[:, 6]))
    centre = rng.normal(FIXED["intercept"].mean, FIXED["intercept"].sd, draws)
    centre += rng.normal(size=draws) * np.sqrt(taxon**2 + group**2)
    centre += rng.normal(0.0, READ_PLACE.sd, draws)
    eta = centre[:, None] + rng.normal(size=(draws, 3)) * animal[:, None]
    wide = Noise.of(0.3, 0.02)
    spreads = [sigma, np.sqrt(sigma**2 / 2.0 + 0.10**2), np.sqrt(sigma**2 + 1.2**2)]
    weights = [1.0 - missed - wide.weight[2], missed, np.full(draws, wide.weight[2])]
    shifts = [0.0, np.log(2.15), 0.0]

    def survival(length: float, who: int) -> FloatArray:
        log_length = np.log(length) if length > 0 else -np.inf
        parts = [
            w * ndtr((eta[:, who] + d - log_length) / s)
            for w, d, s in zip(weights, shifts, spreads, strict=True)
        ]
        return np.asarray(sum(parts))

    def window(low: float, high: float, who: int) -> FloatArray:
        return survival(low, who) - survival(high, who)

    weight = window(54.5, 55.5, 0) * survival(10.5, 0)
    late = np.zeros(draws)
    for cell in range(28):
        low, high = 620.0 + cell / 2.0, 620.0 + (cell + 1) / 2.0
        late += window(low - 555.5, high - 555.5, 0) * window(
            690.0 - (low + high) / 2, 691.0 - (low + high) / 2, 0
        )
    weight *= late * survival(70.5, 1)
    mean_length = sum(
        w * np.exp(eta[:, 1] + d + s**2 / 2) for w, d, s in zip(weights, shifts, spreads, strict=True)
    )
    weight *= survival(20.5, 1) / mean_length
    weight *= survival(69.5, 2) / survival(29.5, 2)
    # Among intervals still running, the odd parts keep their shares up to the median; then Bayes comes in.
    late = ndtr((np.log(69.5) - eta[:, 2]) / sigma)
    trust = np.clip((late - 0.5) / 0.3, 0.0, 1.0)
    anchor = np.minimum(np.log(69.5), eta[:, 2])
    kept = [
        w * ndtr((eta[:, 2] + d - anchor) / s) ** (trust - 1.0)
        for w, d, s in zip(weights, shifts, spreads, strict=True)
    ]

    def running(days: float) -> FloatArray:
        parts = [
            k * ndtr((eta[:, 2] + d - np.log(69.5 + days)) / s)
            for k, d, s in zip(kept, shifts, spreads, strict=True)
        ]
        return np.asarray(sum(parts))

    now = running(0.0)
    ahead = np.array([1.0 - running(days) / now for days in WITHIN_DAYS])
    size = weight.sum() ** 2 / (weight**2).sum()
    return ahead @ weight / weight.sum(), float(size)


def test_forecast_equals_brute_force_on_every_kind_of_interval() -> None:
    """Odds within 1 to 365 days agree within 0.02 with importance sampling from the priors."""
    data = room(PIECES)
    # Covariates are all zero, known: newcomer and the rest say nothing here.
    assert set(COVARIATES) == {"ration", "winter", "legs_lost", "newcomer"}
    result = forecast(fit(data), np.array([2]), ON, expected())
    brute, size = by_brute_force(400_000)
    assert size > 1000
    np.testing.assert_allclose(result.within[0], brute, atol=0.02)


def test_an_unknown_last_moult_does_not_bias_the_median() -> None:
    """Arrivals of unknown phase: fitted medians of six rooms average within 4 % of the truth."""
    medians, gaps = zip(*(unknown_phase(seed) for seed in range(8, 14)), strict=True)
    assert 60.0 == pytest.approx(float(np.mean(medians)), rel=0.04)
    assert float(np.mean(gaps)) < 0.6 * 60.0


def unknown_phase(seed: int) -> tuple[float, float]:
    """Fitted median length, and median gap, of a room of 400 arrivals whose last moult is not known."""
    rng = np.random.default_rng(seed)
    noise = 0.3
    pieces, gaps = [], []
    for animal in range(400):
        # An arrival falls into an interval with density proportional to its length, anywhere in it.
        length = float(np.exp(np.log(60.0) + noise**2 + noise * rng.normal()))
        gap = int(rng.uniform() * length)
        gaps.append(gap + 0.5)
        pieces.append(Piece(animal, end=(300 + gap, 300 + gap), watched=300))
    fitted = fit(room(pieces))
    medians = [np.exp(point.cavity_mean).mean() for point in fitted.points]
    return float(fitted.weight @ medians), float(np.median(gaps))


def test_q10_is_recovered_from_days_and_windows() -> None:
    """Animals at 20, 24 and 28 C, moults known to the day: Q10 2.5 comes back, no Jacobian left out."""
    rng = np.random.default_rng(3)
    pieces = []
    temperature = np.array([20.0, 24.0, 28.0])
    for animal in range(150):
        rate = 2.5 ** ((temperature[animal % 3] - 25.0) / 10.0)
        moment = 100.0 + rng.uniform(0.0, 1.0)
        for _ in range(4):
            after = moment + float(np.exp(np.log(40.0) + 0.25 * rng.normal())) / rate
            pieces.append(Piece(animal, start=(int(moment),) * 2, end=(int(after),) * 2))
            moment = after
    data = room(pieces)
    at = np.arange(150) % 3
    stays = type(data.stays)(data.stays.animal, at, data.stays.from_day)
    climate = type(data.climate)(data.climate.first_day, np.repeat(temperature[:, None], 1000, axis=1))
    fitted = fit(type(data)(**{**vars(data), "stays": stays, "climate": climate}))
    # Places have their own small offsets, so three of them say less than 600 intervals seem to.
    q10 = np.exp(fitted.hyper()[:, 0])
    mean = float(fitted.weight @ q10)
    spread = float(np.sqrt(fitted.weight @ (q10 - mean) ** 2))
    assert abs(mean - 2.5) < 0.15 + 2.0 * spread
    assert spread < 0.6


def test_no_history_gives_the_published_prior() -> None:
    """One animal, nothing known but that it is here: wide odds, centred on weeks to months."""
    result = forecast(fit(room([Piece(0, watched=999, looked=999)])), np.array([0]), ON, expected())
    low, high = result.quantile_days[0, 1], result.quantile_days[0, 17]
    assert 0.0 < low < 15.0
    assert high > 60.0
    assert np.isnan(result.usual_share[0])


def test_contradicting_rows_are_refused() -> None:
    """An interval that ends before it begins is refused with its row."""
    with pytest.raises(Refusal, match="must end after it began"):
        room([Piece(0, start=(500, 500), end=(400, 400))])
    with pytest.raises(Refusal, match="at most one running interval"):
        room([Piece(0, start=(500, 500), looked=600), Piece(0, start=(600, 600), looked=700)])


def test_a_last_moult_chance_bounds_the_forecast() -> None:
    """With a chance of 0.3 that the last moult was final, no horizon promises more than 0.7."""
    data = room([Piece(0, start=(960, 960), looked=999), Piece(1, start=(400, 400), end=(450, 450))])
    given = type(data)(**{**vars(data), "chance_last": np.array([0.3, 0.0])})
    result = forecast(fit(given), np.array([0]), ON, expected())
    assert result.cumulative[0, -1] < 0.71
    assert np.isnan(result.quantile_days[0, -1])
    assert np.isfinite(result.quantile_days[0, 9])
