"""Fit the size staircase: `fit_size(SizeData) -> SizeFit`.

    x_{k+1} = x_k + step_j + v_i − decline_j·(x_k − x̄_j) + last + e,      x = log carapace length [mm]
    x_{k+1} = x_k + mature_step_j + e                                      once mature (females)
    log reading = offset_j + slope_j·(x − log 8 mm) + bias + error         (one row per measuring channel)

Coefficients of the taxon are pooled in groups and the world; all spreads are estimated by empirical Bayes:
the marginal likelihood (Fisher's identity gives its gradient from one sweep) times weak priors (`priors`).
Readings and steps more than three spreads off count less (Huber weights), so that a slip of the pen or an
unseen moult cannot carry the fit away. Method: Shumway & Stoffer (1982), J. Time Series Analysis 3:253-264;
Huber (1964), Ann. Math. Statist. 35:73-101 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nightround.science.size.data import Floats, Integers, Packed, SizeData, implied_log_carapace, pack
from nightround.science.size.layout import ANIMAL, FIRST_COEFFICIENT, Layout, lay_out
from nightround.science.size.maturity import Stages
from nightround.science.size.stages import Judged, first_stages, judge, own_share
from nightround.science.size.sweep import HUBER, Point, Spreads, Swept, sweep

MOST_SWEEPS: Final = 80
STILL: Final = 0.006
# The size of maturity is learned at every third sweep until it keeps still, at most so long.
LEARN_EVERY: Final = 3
LEARN_UNTIL: Final = 18
SETTLED: Final = 0.05


@dataclass(frozen=True, slots=True)
class SizeFit:
    """A fitted staircase. Arrays of animals are in the order of `SizeData`.

    log_size_mean, log_size_sd   (n, K) smoothed log carapace length [log mm]; nan beyond an animal's instars
    measured                     (n, K) a reading of that instar exists
    coefficient_mean, coefficient_sd   (J, p), named by `coefficient_names`
    spread_log_sd                posterior sd of the log of the step and animal spreads
    slips                        (m,) readings set aside as slips of the pen (see `data.slips`)
    n_animals_measured, n_readings     (J,) what each taxon's answer rests on; 0: the published prior only
    mature_now                   (n,) chance that it is mature by now (1 where noted)
    sweeps                       sweeps used (`MOST_SWEEPS`: stopped before it was still)
    """

    data: SizeData
    log_size_mean: Floats
    log_size_sd: Floats
    measured: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
    coefficient_names: tuple[str, ...]
    coefficient_mean: Floats
    coefficient_sd: Floats
    spreads: Spreads
    spread_log_sd: tuple[float, float]
    channel_names: tuple[str, ...]
    slips: np.ndarray[tuple[int], np.dtype[np.bool_]]
    n_animals_measured: Integers
    n_readings: Integers
    log_likelihood: float
    sweeps: int
    mature_now: Floats
    inside: FitInside


@dataclass(frozen=True, slots=True)
class FitInside:
    """What forecasts need beyond the answers: packed data, layout, linearisation and the last sweep."""

    packed: Packed
    layout: Layout
    point: Point
    swept: Swept
    place: Integers
    judged: Judged


def first_spreads(data: SizeData, packed: Packed, layout: Layout) -> Spreads:
    """Return the prior medians of all spreads."""
    median = {spread.name: spread.median for spread in data.priors.spreads}
    return Spreads(
        median["start"],
        median["step"],
        median["animal"],
        np.array([data.priors.channels[c].error for c in packed.channels]),
        layout.array("taxon_sd"),
        layout.array("group_sd"),
    )


def _first_point(data: SizeData, packed: Packed, layout: Layout) -> Point:
    """Start from what the readings imply under the prior allometry, filled in with prior steps."""
    n, k = packed.active.shape
    slopes = {
        channel.part: np.full(data.n_taxa, layout.coefficients[channel.slope - FIRST_COEFFICIENT].mean)
        for channel in layout.channels
        if channel.slope is not None
    }
    step = layout.array("mean")[layout.must("step") - FIRST_COEFFICIENT]
    owner, instar = data.reading_animal[packed.kept], data.reading_instar[packed.kept]
    implied = implied_log_carapace(data)[packed.kept]
    cell = owner * k + instar
    count = np.bincount(owner, minlength=n)
    base = np.bincount(owner, implied - step * instar, minlength=n) / np.maximum(count, 1)
    base = np.where(count > 0, base, layout.array("mean")[layout.must("start") - FIRST_COEFFICIENT])
    state = (base[:, None] + step * np.arange(k)[None, :])[packed.order]
    known = np.bincount(cell, minlength=n * k).reshape(n, k)[packed.order] > 0
    read = np.bincount(cell, implied, minlength=n * k) / np.maximum(np.bincount(cell, minlength=n * k), 1)
    state = np.where(known, read.reshape(n, k)[packed.order], state)
    decline = layout.array("mean")[layout.must("decline") - FIRST_COEFFICIENT]
    trust = tuple(np.ones((n, k)) for _ in packed.channels)
    ones = np.ones((n, k))
    errors = np.array([data.priors.channels[c].error for c in packed.channels])
    guess = first_stages(data.priors.maturity, packed, layout, errors, state, data.group_of_taxon)
    return Point(np.full(data.n_taxa, decline), slopes, state, guess.after, 0.0 * ones, ones, ones, trust)


def _next_point(
    packed: Packed, layout: Layout, spreads: Spreads, point: Point, swept: Swept, stages: Stages | None
) -> Point:
    mean = swept.pooled.mean
    decline = np.clip(mean[:, layout.must("decline") - FIRST_COEFFICIENT], -0.3, 0.9)
    slopes = {
        channel.part: mean[:, channel.slope - FIRST_COEFFICIENT]
        for channel in layout.channels
        if channel.slope is not None
    }
    step_trust = np.ones_like(point.step_trust)
    if stages is None:
        mature, extra, own = point.mature, point.extra, point.step_share
    else:
        # Learning the extra from steps that it helps to call maturing would confirm itself.
        mean_extra = swept.u_mean[:, layout.must("female_last") - ANIMAL, None]
        mature, extra = stages.after, stages.maturing * mean_extra
        own = own_share(packed, layout, spreads, swept, stages)
    step_trust[:, :-1] = _huber(swept.step_residual * np.sqrt(own[:, :-1]) / spreads.step)
    if stages is None:
        step_trust = np.sqrt(step_trust * point.step_trust)
    trusts = []
    for position, residual in enumerate(swept.reading_residual):
        trust = np.ones_like(point.state)
        where = np.nonzero(packed.weight[position])
        scale = spreads.channels[position] / np.sqrt(packed.weight[position][where])
        trust[where] = _huber(residual / scale)
        trusts.append(trust)
    return Point(decline, slopes, swept.state, mature, extra, own, step_trust, tuple(trusts))


def _huber(standardised: Floats) -> Floats:
    result: Floats = np.minimum(1.0, HUBER / np.maximum(np.abs(standardised), 1e-12))
    return result


def _score_step(
    sd: Floats, square: Floats, count: Floats, share: Floats, median: Floats, log_sd: Floats
) -> Floats:
    """One damped scoring step of log sd: gradient of the marginal posterior over its expected information."""
    away = np.log(sd / median)
    gradient = square / sd**2 - count - away / log_sd**2
    step = gradient / (2.0 * share + 1.0 / log_sd**2)
    result: Floats = sd * np.exp(np.clip(step, -0.7, 0.7))
    return result


def _next_spreads(
    data: SizeData, packed: Packed, layout: Layout, spreads: Spreads, point: Point, swept: Swept
) -> Spreads:
    prior = {spread.name: spread for spread in data.priors.spreads}

    def one(name: str, sd: float, square: float, count: float, share: float) -> float:
        row = prior[name]
        arrays = (np.array([value]) for value in (sd, square, count, share, row.median, row.log_sd))
        return float(_score_step(*arrays)[0])

    step = _step_sums(packed, spreads, point, swept)
    n = len(packed.taxon)
    animal_share = float(((1.0 - swept.animal_variance / spreads.animal**2) ** 2).sum())
    start_share = float(((1.0 - np.minimum(swept.start_variance / spreads.start**2, 1.0)) ** 2).sum())
    taxa, groups = (
        np.full(layout.width - FIRST_COEFFICIENT, data.n_taxa * 1.0),
        float(len(swept.pooled.group_mean)),
    )
    pooling = np.full(len(layout.coefficients), data.priors.pooling_log_sd)
    return Spreads(
        one("start", spreads.start, float((swept.start_square + swept.start_variance).sum()), n, start_share),
        one("step", spreads.step, *step),
        one(
            "animal",
            spreads.animal,
            float((swept.animal_square + swept.animal_variance).sum()),
            n,
            animal_share,
        ),
        _next_errors(data, packed, spreads, point, swept),
        _score_step(
            spreads.taxon,
            swept.pooled.taxon_square,
            taxa,
            swept.pooled.taxon_share,
            layout.array("taxon_sd"),
            pooling,
        ),
        _score_step(
            spreads.group,
            swept.pooled.group_square,
            np.full(len(taxa), groups),
            swept.pooled.group_share,
            layout.array("group_sd"),
            pooling,
        ),
    )


def _step_sums(packed: Packed, spreads: Spreads, point: Point, swept: Swept) -> tuple[float, float, float]:
    steps = packed.has_next[:, :-1]
    trust, own = point.step_trust[:, :-1][steps], point.step_share[:, :-1][steps]
    residual, variance = swept.step_residual[steps], swept.step_variance[steps]
    share = float(((1.0 - np.minimum(variance * trust * own / spreads.step**2, 1.0)) ** 2).sum())
    return float((own * (trust**2 * residual**2 + trust * variance)).sum()), float(steps.sum()), share


def _next_errors(data: SizeData, packed: Packed, spreads: Spreads, point: Point, swept: Swept) -> Floats:
    errors = spreads.channels.copy()
    for position, channel in enumerate(packed.channels):
        weight = packed.weight[position]
        trust, scale = point.reading_trust[position][weight > 0], weight[weight > 0]
        variance = swept.reading_variance[position] * scale * trust
        # Trust squared (Huber's proposal 2): one wrong reading must not widen its whole channel.
        square = float((swept.reading_residual[position] ** 2 * scale * trust**2 + variance).sum())
        share = float(((1.0 - np.minimum(variance / errors[position] ** 2, 1.0)) ** 2).sum())
        arrays = (
            errors[position],
            square,
            float(len(scale)),
            share,
            data.priors.channels[channel].error,
            data.priors.channel_error_log_sd,
        )
        learned = float(_score_step(*(np.array([value]) for value in arrays))[0])
        errors[position] = max(learned, data.priors.channels[channel].least_error)
    return errors


def _vector(spreads: Spreads) -> Floats:
    scalars = np.array([spreads.start, spreads.step, spreads.animal])
    result: Floats = np.log(np.concatenate([scalars, spreads.channels, spreads.taxon, spreads.group]))
    return result


def _spreads(vector: Floats, like: Spreads) -> Spreads:
    sd = np.exp(vector)
    c, p = len(like.channels), len(like.taxon)
    return Spreads(
        float(sd[0]), float(sd[1]), float(sd[2]), sd[3 : 3 + c], sd[3 + c : 3 + c + p], sd[3 + c + p :]
    )


def fit_size(data: SizeData, *, start: SizeFit | None = None, hold_spreads: Spreads | None = None) -> SizeFit:
    """Fit the staircase to all animals at once.

    start          an earlier fit of the same taxa and channels to begin from (its spreads)
    hold_spreads   use these spreads and estimate none

    Returns the smoothed sizes and everything forecasts need. Nothing measured at all: the published prior for
    spiders, wide, with n = 0. Cost: linear in animals · instars, about ten sweeps.
    """
    packed = pack(data)
    layout = lay_out(data, packed)
    spreads = hold_spreads or (start.spreads if start is not None else first_spreads(data, packed, layout))
    if len(spreads.channels) != len(packed.channels) or len(spreads.taxon) != len(layout.coefficients):
        spreads = first_spreads(data, packed, layout)
    point = _first_point(data, packed, layout)
    stages: Stages | None = None
    mixer, settled = Mixer(), False
    sweeps = 0
    while True:
        swept = sweep(packed, layout, spreads, point, data.group_of_taxon)
        sweeps += 1
        if sweeps % LEARN_EVERY == 0 and sweeps <= LEARN_UNTIL and not settled:
            judged = judge(data.priors.maturity, packed, layout, spreads, point, swept, data.group_of_taxon)
            settled = _change(packed, stages, judged.stages) < SETTLED
            stages = judged.stages
        fresh = stages if sweeps <= LEARN_UNTIL else None
        following = _next_point(packed, layout, spreads, point, swept, fresh)
        moved = _moved(packed, point, following)
        if hold_spreads is None:
            target = _vector(_next_spreads(data, packed, layout, spreads, point, swept))
            here = _vector(spreads)
            moved = max(moved, float(np.abs(target - here).max()))
        if (moved < STILL and (settled or sweeps > LEARN_UNTIL)) or sweeps >= MOST_SWEEPS:
            break
        point = following
        if hold_spreads is None:
            spreads = _spreads(mixer.mix(here, target), spreads)
    judged = judge(data.priors.maturity, packed, layout, spreads, point, swept, data.group_of_taxon)
    return _collect(data, packed, layout, spreads, point, swept, judged, sweeps)


def _moved(packed: Packed, point: Point, following: Point) -> float:
    """Largest change that matters: decline, slopes, and a tenth of the change of a state."""
    changes = [float(np.abs(following.decline - point.decline).max(initial=0.0))]
    changes += [
        float(np.abs(following.slopes[part] - point.slopes[part]).max(initial=0.0)) for part in point.slopes
    ]
    changes.append(0.1 * float(np.abs((following.state - point.state)[packed.active]).max(initial=0.0)))
    return max(changes)


def _change(packed: Packed, before: Stages | None, after: Stages) -> float:
    """Largest change of a chance to be mature."""
    if before is None:
        return 1.0
    return float(np.abs(after.after - before.after)[packed.active].max(initial=0.0))


class Mixer:
    """Anderson mixing of a fixed-point map (Walker & Ni 2011, SIAM J. Numer. Anal. 49; from memory)."""

    def __init__(self, memory: int = 5) -> None:
        self._memory = memory
        self._points: list[Floats] = []
        self._steps: list[Floats] = []

    def mix(self, here: Floats, target: Floats) -> Floats:
        """Return the next point from this point and its image."""
        self._points = [*self._points, here][-self._memory :]
        self._steps = [*self._steps, target - here][-self._memory :]
        if len(self._points) < 3:
            return target
        d_step = np.diff(np.array(self._steps), axis=0).T
        d_point = np.diff(np.array(self._points), axis=0).T
        gamma, *_ = np.linalg.lstsq(d_step, self._steps[-1], rcond=1e-4)
        mixed = target - (d_point + d_step) @ gamma
        result: Floats = here + np.clip(mixed - here, -0.7, 0.7)
        return result


def _collect(
    data: SizeData,
    packed: Packed,
    layout: Layout,
    spreads: Spreads,
    point: Point,
    swept: Swept,
    judged: Judged,
    sweeps: int,
) -> SizeFit:
    place = np.empty_like(packed.order)
    place[packed.order] = np.arange(len(packed.order))
    active = packed.active
    mean = np.where(active, swept.state, np.nan)[place]
    sd = np.where(active, np.sqrt(np.maximum(swept.state_variance, 0.0)), np.nan)[place]
    measured = np.zeros(active.shape, dtype=np.bool_)
    for weight in packed.weight:
        measured |= weight > 0
    owner = data.reading_animal[packed.kept]
    any_reading = np.bincount(owner, minlength=data.n_animals) > 0
    diagonal = np.einsum("jpp->jp", swept.pooled.covariance)
    step_share = _step_sums(packed, spreads, point, swept)[2]
    animal_share = float(((1.0 - swept.animal_variance / spreads.animal**2) ** 2).sum())
    prior = {spread.name: spread.log_sd for spread in data.priors.spreads}
    log_sds = (
        (2.0 * step_share + prior["step"] ** -2) ** -0.5,
        (2.0 * animal_share + prior["animal"] ** -2) ** -0.5,
    )
    return SizeFit(
        data,
        mean,
        sd,
        measured[place],
        tuple(c.name for c in layout.coefficients),
        swept.pooled.mean,
        np.sqrt(diagonal),
        spreads,
        log_sds,
        tuple(data.priors.channels[c].name for c in packed.channels),
        ~packed.kept,
        np.bincount(data.taxon_of_animal[any_reading], minlength=data.n_taxa),
        np.bincount(data.taxon_of_animal[owner], minlength=data.n_taxa),
        swept.log_likelihood,
        sweeps,
        judged.stages.now[place],
        FitInside(packed, layout, point, swept, place, judged),
    )


def with_readings(
    data: SizeData, channel: str, animal: Integers, instar: Integers, value: Floats
) -> SizeData:
    """Return the data with further readings of one channel (mm or g)."""
    index = data.priors.channel_index(channel)
    return replace(
        data,
        reading_animal=np.concatenate([data.reading_animal, animal]),
        reading_instar=np.concatenate([data.reading_instar, instar]),
        reading_channel=np.concatenate([data.reading_channel, np.full(len(value), index)]),
        reading_value=np.concatenate([data.reading_value, value]),
    )
