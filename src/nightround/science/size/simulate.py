"""Rooms drawn from the size staircase's own model, with the truth kept beside them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from nightround.science.size.data import FEMALE, MALE, UNKNOWN, Floats, Integers, SizeData
from nightround.science.size.maturity_priors import MaturityPrior
from nightround.science.size.priors import REFERENCE_LOG_MM, SPIDER_PRIORS, CoefficientPrior, SizePriors

NEVER: Final = 10**6
_AHEAD: Final = 30
_EARLIER_MOULTS: Final = 4


@dataclass(frozen=True, slots=True)
class TrueRoom:
    """A simulated room: data, and the truth.

    log_size      (n, K + 30) true log sizes, thirty instars more than the data know; a mature male stays
    mature_from   (n,) first instar in which an animal is mature (`NEVER`: not by the last one drawn)
    sex           (n,) its true sex
    matures_at    (J, 2) log size at which half of the moults mature: females, males
    spreads       true spreads by name: "start", "step", "animal", then channel names
    """

    data: SizeData
    log_size: Floats
    mature_from: Integers
    sex: Integers
    matures_at: Floats
    coefficients: dict[str, Floats]
    centre: Floats
    own: Floats
    spreads: dict[str, float]

    @property
    def last(self) -> Integers:
        """The last instar on record of each animal (n,)."""
        return self.data.n_instars - 1

    def log_part(self, part: str, log_carapace: Floats) -> Floats:
        """Log size of a part of each animal (n,) at these log carapace lengths (n,); legs of males apart."""
        if part == "carapace_length":
            return log_carapace
        taxon = self.data.taxon_of_animal
        slope = self.coefficients[f"slope:{part}"][taxon]
        result: Floats = self.coefficients[f"offset:{part}"][taxon] + slope * (
            log_carapace - REFERENCE_LOG_MM
        )
        return result


@dataclass(frozen=True, slots=True)
class RoomPlan:
    """What kind of room to draw.

    reading_rates   chance that a channel is read in an instar, by channel name
    known_sex       share of the animals whose sex is known; the others' shows when a male matures
    males           share of the animals that are males
    maturing        whether anything matures
    """

    n_taxa: int = 8
    animals_per_taxon: int = 12
    most_instars: int = 10
    reading_rates: dict[str, float] | None = None
    known_sex: float = 1.0
    males: float = 0.0
    maturing: bool = True

    @property
    def rates(self) -> dict[str, float]:
        """Reading rates, the usual ones if none are given."""
        return self.reading_rates or {"carapace_length_shed": 0.4, "leg_span": 0.3}


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
    known_sex: float = 1.0,
    males: float = 0.0,
) -> TrueRoom:
    """Draw one group's taxa from the priors at usual spreads (or `fixed` coefficients), then a room.

    Without `males` all animals are females who, if `maturing`, mature unseen. The centre of a taxon, where
    its step is stated, stands for a middle size; the fit places its own by readings.
    """
    plan = RoomPlan(n_taxa, animals_per_taxon, most_instars, reading_rates, known_sex, males, maturing)
    spreads = {"start": start_sd, "step": step_sd, "animal": animal_sd}
    spreads |= {name: priors.channels[priors.channel_index(name)].error for name in plan.rates}
    coefficients = {
        prior.name: np.full(n_taxa, fixed[prior.name])
        if fixed and prior.name in fixed
        else prior.mean
        + np.hypot(prior.sd, prior.group_sd) * rng.standard_normal()
        + prior.taxon_sd * rng.standard_normal(n_taxa)
        for prior in _wanted(priors, plan.rates)
    }
    matures_at = sizes_of_maturity(rng, priors.maturity, np.zeros(n_taxa, dtype=np.int64))
    centre = coefficients["start"] + 0.5 * coefficients["step"] * most_instars / 2.0
    groups = np.zeros(n_taxa, dtype=np.int64)
    return _room(rng, plan, priors, spreads, coefficients, matures_at, centre, groups, state_centre=False)


def simulate_prior_room(
    rng: np.random.Generator, plan: RoomPlan, *, n_groups: int = 2, priors: SizePriors = SPIDER_PRIORS
) -> TrueRoom:
    """Draw everything from the priors: spreads, world, groups, taxa, sizes of maturity, animals, readings.

    Taxa are dealt out to the groups in turn. The centre where a taxon's step is stated is told in the data,
    so that drawn and fitted coefficients mean the same.
    """
    groups = np.arange(plan.n_taxa, dtype=np.int64) % n_groups
    spreads = {s.name: float(s.median * np.exp(s.log_sd * rng.standard_normal())) for s in priors.spreads}
    for name in plan.rates:
        channel = priors.channels[priors.channel_index(name)]
        spreads[name] = 0.0
        while spreads[name] < channel.least_error:
            spreads[name] = channel.error * np.exp(priors.channel_error_log_sd * rng.standard_normal())
    coefficients = {}
    for prior in _wanted(priors, plan.rates):
        of_taxa, of_groups = np.exp(priors.pooling_log_sd * rng.standard_normal(2))
        world = prior.mean + prior.sd * rng.standard_normal()
        group = world + of_groups * prior.group_sd * rng.standard_normal(n_groups)
        coefficients[prior.name] = group[groups] + of_taxa * prior.taxon_sd * rng.standard_normal(plan.n_taxa)
    matures_at = sizes_of_maturity(rng, priors.maturity, groups)
    centre = np.full(plan.n_taxa, REFERENCE_LOG_MM)
    return _room(rng, plan, priors, spreads, coefficients, matures_at, centre, groups, state_centre=True)


def sizes_of_maturity(rng: np.random.Generator, prior: MaturityPrior, group_of_taxon: Integers) -> Floats:
    """Log sizes (J, 2) at which half of the moults of females and of males are the maturing one."""
    scales, shares = (np.array(column) for column in zip(*prior.scales, strict=True))
    scale = rng.choice(scales, p=shares)
    n_groups, n_taxa = int(group_of_taxon.max(initial=0)) + 1, len(group_of_taxon)

    def pooled(mean: float, sd: float, group_sd: float, taxon_sd: float) -> Floats:
        group = mean + sd * rng.standard_normal() + scale * group_sd * rng.standard_normal(n_groups)
        return np.asarray(group[group_of_taxon] + scale * taxon_sd * rng.standard_normal(n_taxa))

    female = pooled(prior.mean, prior.sd, prior.group_sd, prior.taxon_sd)
    difference = pooled(
        prior.difference_mean, prior.difference_sd, prior.difference_group_sd, prior.difference_taxon_sd
    )
    return np.column_stack([female, female + difference])


def _wanted(priors: SizePriors, rates: dict[str, float]) -> list[CoefficientPrior]:
    wanted = {c.name: c for c in priors.coefficients}
    for name in rates:
        channel = priors.channels[priors.channel_index(name)]
        part = priors.part(channel.part)
        for prior in (part.offset, part.slope, channel.bias):
            if prior is not None:
                wanted[prior.name] = prior
    return list(wanted.values())


def _room(
    rng: np.random.Generator,
    plan: RoomPlan,
    priors: SizePriors,
    spreads: dict[str, float],
    coefficients: dict[str, Floats],
    matures_at: Floats,
    centre: Floats,
    groups: Integers,
    *,
    state_centre: bool,
) -> TrueRoom:
    n = plan.n_taxa * plan.animals_per_taxon
    taxon = np.repeat(np.arange(plan.n_taxa), plan.animals_per_taxon)
    sex = np.where(rng.random(n) < plan.males, MALE, FEMALE)
    own = spreads["animal"] * rng.standard_normal(n)
    start = coefficients["start"][taxon] + spreads["start"] * rng.standard_normal(n)
    at = matures_at[taxon, np.where(sex == MALE, 1, 0)] if plan.maturing else np.full(n, np.inf)
    size, mature_from = _grow(rng, plan, priors, spreads, coefficients, centre, (taxon, sex, own, start, at))
    n_instars = rng.integers(1, plan.most_instars + 1, n)
    n_instars = np.where(sex == MALE, np.minimum(n_instars, mature_from + 1), n_instars)
    shown = (sex == MALE) & (mature_from < n_instars)
    told = np.where(shown | (rng.random(n) < plan.known_sex), sex, UNKNOWN)
    noted = np.where(shown, mature_from, -1)
    exists = np.arange(size.shape[1])[None, :] < n_instars[:, None]
    legs = coefficients["male_legs"][taxon, None] * (
        shown[:, None] & (np.arange(size.shape[1]) >= noted[:, None])
    )
    readings = _read(rng, priors, taxon, exists, size, legs, coefficients, plan.rates, spreads)
    data = SizeData(
        taxon, groups, n_instars, told, noted, *readings, priors, centre if state_centre else None
    )  # fmt: skip
    return TrueRoom(data, size, mature_from, sex, matures_at, coefficients, centre, own, spreads)


def _matures(
    rng: np.random.Generator, x: Floats, at: Floats, width: float
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    with np.errstate(over="ignore"):
        return np.asarray(rng.random(len(x)) < 1.0 / (1.0 + np.exp(-(x - at) / width)))


def _grow(
    rng: np.random.Generator,
    plan: RoomPlan,
    priors: SizePriors,
    spreads: dict[str, float],
    coefficients: dict[str, Floats],
    centre: Floats,
    animals: tuple[Integers, Integers, Floats, Floats, Floats],
) -> tuple[Floats, Integers]:
    """Draw sizes of all instars, and the first mature one."""
    taxon, sex, own, start, at = animals
    n, k = len(taxon), plan.most_instars + _AHEAD
    of = {name: values[taxon] for name, values in coefficients.items()}
    extra = np.where(sex == MALE, of["male_last"], of["female_last"])
    prior = priors.maturity
    size = np.empty((n, k))
    size[:, 0] = start
    mature = np.zeros(n, dtype=np.bool_)
    for back in range(_EARLIER_MOULTS):
        mature |= _matures(rng, start - back * prior.usual_step, at, prior.width)
    mature_from = np.where(mature, 0, NEVER)
    for instar in range(1, k):
        x = size[:, instar - 1]
        error = spreads["step"] * rng.standard_normal(n)
        young = x + of["step"] + own - of["decline"] * (x - centre[taxon]) + error
        now = ~mature & _matures(rng, young, at, prior.width)
        old = np.where(sex == MALE, x, x + of["mature_step"] + error)
        size[:, instar] = np.where(mature, old, young + extra * now)
        mature_from = np.where(now, instar, mature_from)
        mature = mature | now
    return size, mature_from


def _read(
    rng: np.random.Generator,
    priors: SizePriors,
    taxon: Integers,
    exists: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    size: Floats,
    legs: Floats,
    coefficients: dict[str, Floats],
    rates: dict[str, float],
    spreads: dict[str, float],
) -> tuple[Integers, Integers, Integers, Floats]:
    animals, instars, channels, values = [], [], [], []
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
        if channel.part == "leg_span":
            log_value = log_value + legs[animal, instar]
        if channel.bias is not None:
            log_value = log_value + coefficients[channel.bias.name][taxon[animal]]
        log_value = log_value + spreads[name] * rng.standard_normal(len(animal))
        animals.append(animal)
        instars.append(instar)
        channels.append(np.full(len(animal), index))
        values.append(np.exp(log_value))
    joined = (np.concatenate(rows) for rows in (animals, instars, channels, values))
    return tuple(joined)  # type: ignore[return-value]
