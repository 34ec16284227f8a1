"""Rooms drawn from the size staircase's own model, with the truth kept beside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightround.science.size.data import FEMALE, Floats, Integers, SizeData
from nightround.science.size.priors import REFERENCE_LOG_MM, SPIDER_PRIORS, SizePriors


@dataclass(frozen=True, slots=True)
class TrueRoom:
    """A simulated room: data, and the true log sizes (n, K + 1), one instar more than the data know.

    matures_at   (n,) log size from which an animal is mature (inf: never)
    """

    data: SizeData
    log_size: Floats
    matures_at: Floats
    coefficients: dict[str, Floats]
    centre: Floats


def simulate_room(
    rng: np.random.Generator,
    *,
    n_taxa: int = 8,
    animals_per_taxon: int = 12,
    most_instars: int = 10,
    reading_rates: dict[str, float] | None = None,
    step_sd: float = 0.05,
    animal_sd: float = 0.02,
    start_sd: float = 0.6,
    priors: SizePriors = SPIDER_PRIORS,
    fixed: dict[str, float] | None = None,
    maturing: bool = True,
) -> TrueRoom:
    """Draw taxa from the priors (or `fixed` coefficients), animals, staircases and readings.

    reading_rates   chance that a channel is read in an instar, by channel name
    All animals are females who, if `maturing`, mature unseen and then grow by `mature_step`. The centre of a
    taxon, where its step is stated, stands for a middle size; the fit places its own by readings.
    """
    rates = {"carapace_length_shed": 0.4, "leg_span": 0.3} if reading_rates is None else reading_rates
    n = n_taxa * animals_per_taxon
    taxon = np.repeat(np.arange(n_taxa), animals_per_taxon)
    coefficients = _draw_coefficients(rng, priors, n_taxa, rates, fixed or {})
    n_instars = rng.integers(1, most_instars + 1, n)
    start = coefficients["start"][taxon] + start_sd * rng.standard_normal(n)
    centre = coefficients["start"] + 0.5 * coefficients["step"] * most_instars / 2.0
    size = np.empty((n, most_instars + 1))
    size[:, 0] = start
    own = coefficients["step"][taxon] + animal_sd * rng.standard_normal(n)
    matures_at = _sizes_of_maturity(rng, priors, taxon, n_taxa) if maturing else np.full(n, np.inf)
    for k in range(most_instars):
        step = own - coefficients["decline"][taxon] * (size[:, k] - centre[taxon])
        step = np.where(size[:, k] >= matures_at, coefficients["mature_step"][taxon], step)
        size[:, k + 1] = size[:, k] + step + step_sd * rng.standard_normal(n)
    data = _read(rng, priors, taxon, n_instars, size, coefficients, rates)
    return TrueRoom(data, size, matures_at, coefficients, centre)


def _sizes_of_maturity(rng: np.random.Generator, priors: SizePriors, taxon: Integers, n_taxa: int) -> Floats:
    """The log size at which each animal, a female, is mature: seen by nobody, as in a keeper's room."""
    prior = priors.maturity
    of_taxon = prior.mean + prior.sd * rng.standard_normal(n_taxa)
    result: Floats = of_taxon[taxon] + prior.width * rng.logistic(size=len(taxon))
    return result


def _draw_coefficients(
    rng: np.random.Generator,
    priors: SizePriors,
    n_taxa: int,
    rates: dict[str, float],
    fixed: dict[str, float],
) -> dict[str, Floats]:
    wanted = {c.name: c for c in priors.coefficients}
    for name in rates:
        channel = priors.channels[priors.channel_index(name)]
        part = priors.part(channel.part)
        for prior in (part.offset, part.slope, channel.bias):
            if prior is not None:
                wanted[prior.name] = prior
    drawn = {}
    for name, prior in wanted.items():
        world = prior.mean + np.hypot(prior.sd, prior.group_sd) * rng.standard_normal()
        values = world + prior.taxon_sd * rng.standard_normal(n_taxa)
        drawn[name] = np.full(n_taxa, fixed[name]) if name in fixed else values
    return drawn


def _read(
    rng: np.random.Generator,
    priors: SizePriors,
    taxon: Integers,
    n_instars: Integers,
    size: Floats,
    coefficients: dict[str, Floats],
    rates: dict[str, float],
) -> SizeData:
    animals, instars, channels, values = [], [], [], []
    exists = np.arange(size.shape[1])[None, :] < n_instars[:, None]
    for name, rate in rates.items():
        index = priors.channel_index(name)
        channel = priors.channels[index]
        animal, instar = np.nonzero(exists & (rng.random(size.shape) < rate))
        log_value = size[animal, instar]
        if f"slope:{channel.part}" in coefficients:
            slope = coefficients[f"slope:{channel.part}"][taxon[animal]]
            log_value = coefficients[f"offset:{channel.part}"][taxon[animal]] + slope * (
                log_value - REFERENCE_LOG_MM
            )
        if channel.bias is not None:
            log_value = log_value + coefficients[channel.bias.name][taxon[animal]]
        log_value = log_value + channel.error * rng.standard_normal(len(animal))
        animals.append(animal)
        instars.append(instar)
        channels.append(np.full(len(animal), index))
        values.append(np.exp(log_value))
    n = len(taxon)
    return SizeData(
        taxon,
        np.zeros(int(taxon.max()) + 1, dtype=np.int64),
        n_instars,
        np.full(n, FEMALE),
        np.full(n, -1),
        np.concatenate(animals),
        np.concatenate(instars),
        np.concatenate(channels),
        np.concatenate(values),
        priors,
    )
