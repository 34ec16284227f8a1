"""The size staircase on its own rooms, and what it must never do with what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.refusal import Refusal
from nightround.science.size.data import MALE, SizeData, slips
from nightround.science.size.fit import MOST_SWEEPS, SizeFit, fit_size, with_readings
from nightround.science.size.forecast import next_size, size_at
from nightround.science.size.priors import REFERENCE_LOG_MM, SPIDER_PRIORS
from nightround.science.size.simulate import TrueRoom, simulate_room

NOTHING = np.zeros(0, dtype=int)
NOTHING_MATURES = replace(
    SPIDER_PRIORS,
    maturity=replace(
        SPIDER_PRIORS.maturity, mean=50.0, sd=0.1, group_sd=1e-3, taxon_sd=1e-3, difference_sd=1e-3
    ),
)


def room_of(n_instars: list[int], taxon: list[int] | None = None) -> SizeData:
    """Animals with no reading at all."""
    n = len(n_instars)
    taxa = np.array(taxon if taxon is not None else [0] * n)
    return SizeData(
        taxa, np.zeros(int(taxa.max()) + 1, dtype=int), np.array(n_instars),
        np.zeros(n, dtype=int), np.full(n, -1),
        NOTHING, NOTHING, NOTHING, np.zeros(0),
    )  # fmt: skip


def read(data: SizeData, channel: str, *rows: tuple[int, int, float]) -> SizeData:
    """Add readings (animal, instar, value)."""
    animal, instar, value = zip(*rows, strict=True)
    return with_readings(data, channel, np.array(animal), np.array(instar), np.array(value))


def covered(room: TrueRoom, low: np.ndarray, high: np.ndarray, part: str) -> np.ndarray:
    n = room.data.n_instars
    truth = room.log_size[np.arange(len(n)), n]
    if part != "carapace_length":
        taxon = room.data.taxon_of_animal
        slope = room.coefficients[f"slope:{part}"][taxon]
        truth = room.coefficients[f"offset:{part}"][taxon] + slope * (truth - REFERENCE_LOG_MM)
    return np.asarray((np.exp(truth) >= low) & (np.exp(truth) <= high))


def test_next_size_windows_hold_what_they_say() -> None:
    """80 % windows of the next carapace and leg span hold 76-84 % on rooms drawn from the model (seeded).

    Rooms with carapace and span, with span only, and with mass and a few carapaces; also by what is known.
    """
    hits: dict[str, list[np.ndarray]] = {}
    rates = (
        {"carapace_length_shed": 0.4, "leg_span": 0.3},
        {"leg_span": 0.5},
        {"mass": 0.5, "carapace_length": 0.1},
    )
    for seed in range(390):
        kind = seed % 3
        room = simulate_room(
            np.random.default_rng(7000 + seed), n_taxa=4, animals_per_taxon=5, reading_rates=rates[kind]
        )
        fit = fit_size(room.data)
        for part in ("carapace_length",) if kind == 2 else ("carapace_length", "leg_span"):
            low, high = next_size(fit, part).quantiles((0.1, 0.9)).T
            inside = covered(room, low, high, part)
            hits.setdefault(part, []).append(inside)
            hits.setdefault(f"{part} in kind {kind}", []).append(inside)
            if part == "carapace_length":
                measured = next_size(fit, part).measured
                hits.setdefault("measured", []).append(inside[measured])
                hits.setdefault("never measured", []).append(inside[~measured])
    share = {name: float(np.concatenate(rows).mean()) for name, rows in hits.items()}
    by_room = [row.mean() for row in hits["carapace_length"]]
    assert float(np.std(by_room) / len(by_room) ** 0.5) < 0.01
    for name in ("carapace_length", "leg_span"):
        assert 0.76 <= share[name] <= 0.84, share
    for name, value in share.items():
        assert 0.72 <= value <= 0.88, (name, share)


def test_spreads_and_coefficients_are_recovered() -> None:
    """Rooms of a thousand young animals give back the spreads within 8 % and the taxa's coefficients.

    Spreads are the mean of six rooms: in one room the step's spread and a channel's error trade 5 %.
    Coefficients agree within their errors. Animals start small, so that none is near maturity.
    """
    found = []
    for seed in range(6):
        room = simulate_room(
            np.random.default_rng(seed), n_taxa=20, animals_per_taxon=50, animal_sd=0.03, maturing=False,
            most_instars=8, start_sd=0.3, fixed={"start": 0.3},
        )  # fmt: skip
        fit = fit_size(room.data)
        found.append([fit.spreads.step, fit.spreads.animal, *fit.spreads.channels])
    assert np.array([0.05, 0.03, 0.02, 0.10]) == pytest.approx(np.mean(found, axis=0), rel=0.08)
    decline = room.coefficients["decline"]
    true = {
        # The step is stated at the taxon's centre, which the fit and the simulator place differently.
        "step": room.coefficients["step"] - decline * (fit.inside.packed.centre - room.centre),
        "decline": decline,
        "slope:leg_span": room.coefficients["slope:leg_span"],
    }
    for name, truth in true.items():
        at = fit.coefficient_names.index(name)
        z = (fit.coefficient_mean[:, at] - truth) / fit.coefficient_sd[:, at]
        assert 0.5 < np.sqrt((z**2).mean()) < 1.5, name


def test_smoothed_sizes_are_as_sure_as_they_claim() -> None:
    """Standardised errors of the smoothed sizes have mean 0 and sd 1 over a room of a thousand animals."""
    room = simulate_room(np.random.default_rng(6), n_taxa=20, animals_per_taxon=50, maturing=False)
    fit = fit_size(room.data)
    z = (fit.log_size_mean - room.log_size[:, : fit.log_size_mean.shape[1]]) / fit.log_size_sd
    z = z[np.isfinite(z)]
    assert abs(z.mean()) < 0.15
    assert 0.9 < z.std() < 1.1


def test_a_room_never_measured_answers_with_the_published_prior() -> None:
    """No reading at all: wide, n = 0, the step of the published tables, and no refusal."""
    fit = fit_size(room_of([3, 1]))
    assert [0] == fit.n_readings.tolist()
    assert [0] == fit.n_animals_measured.tolist()
    now, after = size_at(fit, "carapace_length"), next_size(fit, "carapace_length")
    assert not now.measured.any()
    low, high = now.quantiles((0.1, 0.9))[1]
    assert high / low > 8.0
    assert 0.25 == pytest.approx(float(after.mean[1] - now.mean[1]), abs=0.06)
    assert fit.sweeps < MOST_SWEEPS


def test_leg_span_alone_gives_next_leg_span() -> None:
    """Spans only: the next span is far surer than the next carapace, which rests on the prior ratio."""
    data = read(room_of([4, 3]), "leg_span_stretched", (0, 0, 20.0), (0, 3, 50.0), (1, 0, 15.0), (1, 2, 27.0))
    fit = fit_size(data)
    span, carapace = next_size(fit, "leg_span"), next_size(fit, "carapace_length")
    assert np.all(span.sd < 0.17)
    assert np.all(carapace.sd > 1.4 * span.sd)
    assert np.all(span.median() > np.array([50.0, 27.0]))
    assert np.all(span.median() < np.array([50.0, 27.0]) * 1.7)


def test_mass_alone_says_something_about_size_but_not_much() -> None:
    """One mass of 5 g: a carapace of some 12 to 24 mm, a wide answer; and the answer is offered in grams."""
    fit = fit_size(read(room_of([1]), "mass", (0, 0, 5.0)))
    low, high = size_at(fit, "carapace_length").quantiles((0.05, 0.95))[0]
    assert 8.0 < low < 15.0 < high < 35.0
    assert 5.0 == pytest.approx(float(size_at(fit, "mass").median()[0]), rel=0.15)


def test_parts_never_measured_have_believable_sizes() -> None:
    """A carapace of 20 mm alone: leg span 90-190 mm, body 35-60 mm, mass 4-25 g.

    Bounds: grown tarantulas, from memory.
    """
    fit = fit_size(read(room_of([1]), "carapace_length_shed", (0, 0, 20.0)))
    believable = {"leg_span": (90, 190), "body_length": (35, 60), "mass": (4, 25), "carapace_width": (15, 20)}
    for part, (least, most) in believable.items():
        low, middle, high = size_at(fit, part).quantiles((0.1, 0.5, 0.9))[0]
        assert least < middle < most, part
        assert low < middle < high


def test_a_shed_skin_counts_for_the_instar_before_the_moult() -> None:
    """The same skin of 10 mm placed on instar 1 of 2 leaves the present, larger instar to the step."""
    fit = fit_size(read(room_of([2]), "carapace_length_shed", (0, 0, 10.0)))
    assert 10.0 == pytest.approx(float(np.exp(fit.log_size_mean[0, 0])), rel=0.02)
    assert 1.15 < float(np.exp(fit.log_size_mean[0, 1])) / 10.0 < 1.45


def test_bent_legs_read_low() -> None:
    """A span of 60 mm read on bent legs stands for a larger animal than one read stretched."""
    bent = fit_size(read(room_of([1]), "leg_span_bent", (0, 0, 60.0)))
    stretched = fit_size(read(room_of([1]), "leg_span_stretched", (0, 0, 60.0)))
    assert size_at(bent, "leg_span").median()[0] > 1.1 * size_at(stretched, "leg_span").median()[0]


def test_a_male_known_to_be_mature_has_no_next_size() -> None:
    """Males after the ultimate moult do not moult again: no number is given, not a zero."""
    data = read(room_of([3]), "carapace_length", (0, 2, 15.0))
    data = replace(data, sex=np.array([MALE]), mature_instar=np.array([2]))
    assert np.isnan(next_size(fit_size(data), "carapace_length").quantiles()).all()


def test_females_that_mature_unseen_are_told_by_their_small_steps() -> None:
    """Chances to be mature separate the two, and their mean is within 6 % of the truth in 13 of 16 rooms.

    In two of the 16 the fit settles on a law of growth that takes mature females' steps for growth: over all
    rooms 0.25 is said where 0.30 is true, so the pooled mean cannot be held to 0.05, as it once was for four.
    """
    rates = {"carapace_length_shed": 0.7, "leg_span": 0.3}
    said, truly = [], []
    for seed in range(16):
        room = simulate_room(
            np.random.default_rng(seed), n_taxa=10, animals_per_taxon=25, reading_rates=rates,
            fixed={"start": 0.8}, start_sd=0.5,
        )  # fmt: skip
        fit = fit_size(room.data)
        seen = fit.measured.sum(axis=1) >= 2
        said.append(fit.mature_now[seen])
        truly.append((room.mature_from <= room.last)[seen])
    chance, mature = np.concatenate(said), np.concatenate(truly)
    assert 0.1 < mature.mean() < 0.6
    assert chance[mature].mean() > 0.6 > 0.3 > chance[~mature].mean()
    off = [abs(float(c.mean() - m.mean())) for c, m in zip(said, truly, strict=True)]
    assert sum(each < 0.06 for each in off) >= 13


def test_a_male_shows_his_maturity() -> None:
    """A male not noted as mature is not, one noted is; a large animal of unknown sex may be a female."""
    data = read(room_of([1, 1, 1]), "carapace_length", (0, 0, 22.0), (1, 0, 22.0), (2, 0, 22.0))
    data = replace(data, sex=np.array([MALE, MALE, 0]), mature_instar=np.array([-1, 0, -1]))
    chance = fit_size(data).mature_now
    assert [0.0, 1.0] == chance[:2].tolist()
    assert 0.3 < chance[2] < 0.95


@pytest.mark.parametrize(("facts", "least"), [({}, 30), ({"maturing": False, "fixed": {"start": 1.0}}, 29)])
def test_a_slip_of_the_pen_does_not_carry_the_fit_away(facts: dict[str, Any], least: int) -> None:
    """Of 30 carapaces written ten times too large `least` are set aside; 99 % of others move < 0.25 sd.

    The one missed without maturity stands amid a series whose spans are large for its carapaces; what it does
    to others counts too. The rest are animals that waver between growth and maturity.
    """
    moved, found = [], 0
    for seed in range(30):
        room = simulate_room(
            np.random.default_rng(seed), n_taxa=2, animals_per_taxon=20,
            reading_rates={"carapace_length_shed": 0.8, "leg_span": 0.3}, **facts,
        )  # fmt: skip
        value = room.data.reading_value.copy()
        often = np.bincount(room.data.reading_animal)[room.data.reading_animal] >= 4
        slip = int(np.nonzero((room.data.reading_channel == 1) & often)[0][3])
        value[slip] *= 10.0
        spoiled = replace(room.data, reading_value=value)
        found += [slip] == np.nonzero(slips(spoiled))[0].tolist()
        before, after = (next_size(fit_size(data), "carapace_length") for data in (room.data, spoiled))
        others = np.arange(room.data.n_animals) != room.data.reading_animal[slip]
        moved.append(np.abs((after.mean - before.mean) / before.sd)[others])
    assert found >= least
    assert float((np.concatenate(moved) < 0.25).mean()) > 0.99


def test_of_two_readings_far_apart_neither_is_believed() -> None:
    """8 mm and then 800 mm at the same part: no telling which, so the animal is as good as never measured."""
    fit = fit_size(read(room_of([2]), "carapace_length", (0, 0, 8.0), (0, 1, 800.0)))
    assert fit.slips.all()
    assert [0] == fit.n_readings.tolist()
    assert fit.log_size_sd[0, 0] > 0.5


def test_real_growth_is_never_called_a_slip() -> None:
    """Rooms drawn from the model with wide starts have no slips (one reading in 10,000 at most)."""
    found = total = 0
    for seed in range(8):
        rates = {"carapace_length_shed": 0.3, "leg_span": 0.3, "mass": 0.2}
        room = simulate_room(
            np.random.default_rng(seed), n_taxa=20, animals_per_taxon=50, reading_rates=rates
        )
        found += int(slips(room.data).sum())
        total += len(room.data.reading_value)
    assert total > 30_000
    assert found <= total / 10_000


def test_unseen_moults_and_bad_readings_are_outvoted() -> None:
    """Unrecorded moults in 30 % of animals, 3 % of readings 40 % off: it settles, the step stays right."""
    room = simulate_room(
        np.random.default_rng(3),
        n_taxa=5,
        animals_per_taxon=40,
        fixed={"step": 0.25, "decline": 0.0, "start": 0.7},
    )
    rng = np.random.default_rng(4)
    data = room.data
    value = np.where(rng.random(len(data.reading_value)) < 0.03, data.reading_value * 1.4, data.reading_value)
    lost = (rng.random(data.n_animals) < 0.3) & (data.n_instars > 2)
    at = np.where(lost, rng.integers(1, np.maximum(data.n_instars, 2)), 99)
    instar = data.reading_instar - (data.reading_instar >= at[data.reading_animal])
    spoiled = replace(data, reading_value=value, reading_instar=instar, n_instars=data.n_instars - lost)
    fit = fit_size(spoiled)
    assert fit.sweeps < MOST_SWEEPS
    step = fit.coefficient_mean[:, fit.coefficient_names.index("step")]
    assert 0.25 == pytest.approx(float(step.mean()), abs=0.02)


def _same(first: SizeFit, second: SizeFit, order: np.ndarray) -> None:
    np.testing.assert_allclose(first.log_size_mean[order], second.log_size_mean, atol=2e-3)
    np.testing.assert_allclose(first.log_size_sd[order], second.log_size_sd, rtol=0.02)


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
def test_order_of_animals_readings_and_taxa_does_not_matter(seed: int, shuffler: object) -> None:
    """Shuffling animals, readings and the numbering of taxa changes no answer."""
    room = simulate_room(np.random.default_rng(seed), n_taxa=3, animals_per_taxon=4, most_instars=5)
    data, rng = room.data, np.random.default_rng(seed + 1)
    animals, readings, taxa = (rng.permutation(k) for k in (data.n_animals, len(data.reading_value), 3))
    place = np.argsort(animals)
    shuffled = SizeData(
        taxa[data.taxon_of_animal[animals]], data.group_of_taxon, data.n_instars[animals], data.sex[animals],
        data.mature_instar[animals], place[data.reading_animal[readings]], data.reading_instar[readings],
        data.reading_channel[readings], data.reading_value[readings],
    )  # fmt: skip
    _same(fit_size(data), fit_size(shuffled), animals)


@settings(max_examples=25)
@given(
    st.integers(0, 10_000),
    st.sampled_from(["carapace_length", "carapace_length_shed", "leg_span", "mass"]),
    st.floats(1.005, 1.3),
)
def test_a_bigger_reading_never_makes_the_animal_smaller(seed: int, channel: str, factor: float) -> None:
    """Any reading made larger makes the animal larger in that instar; in the last one also later.

    Nothing matures here: a larger animal is the more likely mature, and then grows little.
    """
    room = simulate_room(
        np.random.default_rng(seed), n_taxa=2, animals_per_taxon=5, most_instars=5,
        reading_rates={"carapace_length": 0.3, "carapace_length_shed": 0.2, "leg_span": 0.3, "mass": 0.3},
        priors=NOTHING_MATURES, fixed={"start": 1.0},
    )  # fmt: skip
    data = room.data
    rows = np.nonzero(data.reading_channel == SPIDER_PRIORS.channel_index(channel))[0]
    if len(rows) == 0:
        return
    row = rows[seed % len(rows)]
    value = data.reading_value.copy()
    value[row] *= factor
    before = fit_size(data)
    after = fit_size(replace(data, reading_value=value), hold_spreads=before.spreads)
    again = fit_size(data, hold_spreads=before.spreads)
    animal, instar = data.reading_animal[row], data.reading_instar[row]
    assert after.log_size_mean[animal, instar] > again.log_size_mean[animal, instar]
    if instar == data.n_instars[animal] - 1:
        grown, before_it = next_size(after, "carapace_length"), next_size(again, "carapace_length")
        assert grown.mean[animal] > before_it.mean[animal]


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_unknown_is_not_zero_nor_small(seed: int) -> None:
    """Leaving a reading out widens the answer; it never acts as a reading of nothing."""
    room = simulate_room(np.random.default_rng(seed), n_taxa=2, animals_per_taxon=5, most_instars=5)
    data = room.data
    if len(data.reading_value) < 2:
        return
    row = seed % len(data.reading_value)
    keep = np.arange(len(data.reading_value)) != row
    held = fit_size(data)
    less = fit_size(_only(data, keep), hold_spreads=held.spreads)
    more = fit_size(data, hold_spreads=held.spreads)
    animal, instar = data.reading_animal[row], data.reading_instar[row]
    assert less.log_size_sd[animal, instar] > more.log_size_sd[animal, instar] * 0.999
    away = abs(less.log_size_mean[animal, instar] - more.log_size_mean[animal, instar])
    assert away < 5.0 * less.log_size_sd[animal, instar]


def _only(data: SizeData, keep: np.ndarray) -> SizeData:
    return replace(
        data,
        reading_animal=data.reading_animal[keep],
        reading_instar=data.reading_instar[keep],
        reading_channel=data.reading_channel[keep],
        reading_value=data.reading_value[keep],
    )


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda d: replace(d, reading_value=np.array([0.0])), "unknown is never zero"),
        (lambda d: replace(d, reading_value=np.array([np.nan])), "unknown is never zero"),
        (lambda d: replace(d, reading_instar=np.array([2])), "among the animal's instars"),
        (lambda d: replace(d, n_instars=np.array([0])), "at least one instar"),
        (lambda d: replace(d, mature_instar=np.array([5])), "mature_instar"),
        (lambda d: replace(d, reading_channel=np.array([99])), "reading_channel"),
        (lambda d: replace(d, sex=np.array([0, 0])), "arrays of 1 animals"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(spoil: Callable[[SizeData], SizeData], words: str) -> None:
    """Each fault is refused with what was wanted."""
    data = read(room_of([2]), "mass", (0, 1, 3.0))
    with pytest.raises(Refusal, match=words):
        spoil(data)


def test_an_instar_not_on_record_is_refused() -> None:
    """Sizes beyond the record are asked of next_size."""
    fit = fit_size(read(room_of([2]), "mass", (0, 1, 3.0)))
    with pytest.raises(Refusal, match="next_size"):
        size_at(fit, "mass", np.array([2]))
