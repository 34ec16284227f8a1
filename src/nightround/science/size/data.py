"""Measurements as arrays: what the size staircase is fitted to, checked once at the door."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.size.priors import REFERENCE_LOG_MM, SPIDER_PRIORS, SizePriors

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_USUAL_STEP: Final = 0.25
_FAR: Final = 0.9
_FAR_ACROSS_PARTS: Final = 1.6
_FAR_PER_MOULT: Final = 0.2

UNKNOWN: Final = 0
FEMALE: Final = 1
MALE: Final = 2


@dataclass(frozen=True, slots=True)
class SizeData:
    """Sizes of n animals of J taxa in H groups. Nothing missing is ever filled in.

    taxon_of_animal    (n,) taxon of each animal, 0 ≤ value < J
    group_of_taxon     (J,) group of each taxon, 0 ≤ value < H
    n_instars          (n,) instars known of each animal (moults on record + 1), ≥ 1
    sex                (n,) UNKNOWN, FEMALE or MALE
    mature_instar      (n,) instar from which it was mature, −1 when not known to be mature
    reading_animal     (m,) animal of each reading
    reading_instar     (m,) instar it measures: for a shed skin the one BEFORE that moult
    reading_channel    (m,) position in `priors.channels`
    reading_value      (m,) the reading [mm, mass in g], > 0
    centre             (J,) log carapace length at which each taxon's step is stated; None: the middle of its
                       readings
    """

    taxon_of_animal: Integers
    group_of_taxon: Integers
    n_instars: Integers
    sex: Integers
    mature_instar: Integers
    reading_animal: Integers
    reading_instar: Integers
    reading_channel: Integers
    reading_value: Floats
    priors: SizePriors = SPIDER_PRIORS
    centre: Floats | None = None

    def __post_init__(self) -> None:
        """Refuse arrays that do not fit together."""
        n, m, j = len(self.n_instars), len(self.reading_value), len(self.group_of_taxon)
        _same_length("animals", n, self.taxon_of_animal, self.sex, self.mature_instar)
        _same_length("readings", m, self.reading_animal, self.reading_instar, self.reading_channel)
        _within("taxon_of_animal", self.taxon_of_animal, 0, j)
        _within("sex", self.sex, 0, 3)
        _within("reading_animal", self.reading_animal, 0, n)
        _within("reading_channel", self.reading_channel, 0, len(self.priors.channels))
        if n and int(np.min(self.n_instars)) < 1:
            raise Refusal("every animal has at least one instar", got=f"{int(np.min(self.n_instars))}")
        if np.any(self.mature_instar >= self.n_instars):
            raise Refusal("mature_instar lies among the animal's instars", got="one beyond its last")
        if m and np.any(
            (self.reading_instar < 0) | (self.reading_instar >= self.n_instars[self.reading_animal])
        ):
            raise Refusal("reading_instar lies among the animal's instars", got="one outside them")
        if not np.all(np.isfinite(self.reading_value) & (self.reading_value > 0)):
            raise Refusal(
                "sizes above zero",
                got="a size that is zero, negative or not a number",
                todo="Leave an unknown size out: unknown is never zero",
            )

    @property
    def n_animals(self) -> int:
        """Number of animals."""
        return len(self.n_instars)

    @property
    def n_taxa(self) -> int:
        """Number of taxa."""
        return len(self.group_of_taxon)


def _same_length(what: str, length: int, *arrays: NDArray[np.int64]) -> None:
    for array in arrays:
        if array.shape != (length,):
            raise Refusal(f"arrays of {length} {what}", got=f"shape {array.shape}")


def _within(name: str, array: Integers, low: int, high: int) -> None:
    if array.size and (int(array.min()) < low or int(array.max()) >= high):
        raise Refusal(f"{name} from {low} to {high - 1}", got=f"{int(array.min())} to {int(array.max())}")


@dataclass(frozen=True, slots=True)
class Packed:
    """The same, animals sorted by taxon and padded to K instars: arrays (n, K) of one channel each.

    order            (n,) position in SizeData of each packed animal
    taxon            (n,) its taxon, ascending
    first            (T,) first packed animal of each taxon that has animals; `present` names those taxa
    active, has_next (n, K) instar exists; instar exists and so does the following one
    male_last, female_last   (n, K) share of each sex's extra in the step from this instar: the maturing one
    mature_male, after       (n, K) a mature male's instar; 1 where it is known to be mature
    kept             (m,) readings that are no slips of the pen
    channels         indices of channels that have readings
    log_reading      per such channel (n, K): mean log reading, 0 where none
    weight           per such channel (n, K): 1 / variance share of that mean, 0 where none
    centre           (J,) x̄ of each taxon: mean log carapace length its readings stand for
    """

    order: Integers
    taxon: Integers
    first: Integers
    present: Integers
    active: NDArray[np.bool_]
    has_next: NDArray[np.bool_]
    male_last: Floats
    female_last: Floats
    mature_male: NDArray[np.bool_]
    after: Floats
    kept: NDArray[np.bool_]
    sex: Integers
    channels: tuple[int, ...]
    log_reading: tuple[Floats, ...]
    weight: tuple[Floats, ...]
    centre: Floats


def pack(data: SizeData) -> Packed:
    """Sort animals by taxon, pad instars, average repeated readings, and place each taxon's centre."""
    order = np.argsort(data.taxon_of_animal, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    taxon = data.taxon_of_animal[order]
    present, first = np.unique(taxon, return_index=True)
    k = int(data.n_instars.max(initial=1))
    instar = np.arange(k)[None, :]
    n_instars = data.n_instars[order][:, None]
    sex, mature_instar = data.sex[order][:, None], data.mature_instar[order][:, None]
    into_mature = (instar + 1 == mature_instar) & (mature_instar > 0)
    male_share = np.where(sex == MALE, 1.0, np.where(sex == FEMALE, 0.0, 0.5))
    kept = ~slips(data)
    channels, means, weights = _mean_readings(data, place, k, kept)
    return Packed(
        order,
        taxon,
        first,
        present,
        active=instar < n_instars,
        has_next=instar + 1 < n_instars,
        male_last=into_mature * male_share,
        female_last=into_mature * (1.0 - male_share),
        mature_male=(sex == MALE) & (mature_instar >= 0) & (instar >= mature_instar),
        after=((mature_instar >= 0) & (instar >= mature_instar)).astype(float),
        kept=kept,
        sex=data.sex[order],
        channels=channels,
        log_reading=means,
        weight=weights,
        centre=_centres(data, kept) if data.centre is None else data.centre,
    )


def slips(data: SizeData) -> NDArray[np.bool_]:
    """Return (m,) whether a reading is a slip of the pen: far from both its neighbours, which agree.

    Neighbours are the animal's readings before and after by instar (the two nearest at an end), all parts
    turned into carapace lengths by the prior allometry; far is a factor above 2.5 (5 between different
    parts), and 1.2 more for each moult between. Of only two readings far apart neither can be believed: both
    count as slips.
    """
    m = len(data.reading_value)
    found = np.zeros(m, dtype=np.bool_)
    if m < 2:
        return found
    order = np.lexsort((data.reading_value, data.reading_channel, data.reading_instar, data.reading_animal))
    names = [channel.part for channel in data.priors.channels]
    part = np.array([names.index(name) for name in names])[data.reading_channel[order]]
    animal, instar = data.reading_animal[order], data.reading_instar[order]
    level = implied_log_carapace(data)[order] - _USUAL_STEP * instar
    at = np.arange(m)
    begins = np.r_[True, animal[1:] != animal[:-1]]
    ends = np.r_[animal[1:] != animal[:-1], True]
    one = np.clip(np.where(begins, at + 1, at - 1), 0, m - 1)
    two = np.clip(np.where(begins, at + 2, np.where(ends, at - 2, at + 1)), 0, m - 1)
    several = (animal[one] == animal) & (animal[two] == animal) & (one != two) & (one != at) & (two != at)

    def apart(a: Integers, b: Integers) -> Floats:
        far = np.where(part[a] == part[b], _FAR, _FAR_ACROSS_PARTS)
        between = np.abs(instar[a] - instar[b])
        return np.asarray(np.abs(level[a] - level[b]) - far - _FAR_PER_MOULT * between, dtype=np.float64)

    same_side = np.sign(level - level[one]) == np.sign(level - level[two])
    only = ~several & (animal[one] == animal) & (np.bincount(animal)[animal] == 2)
    alone = several & same_side & (apart(at, two) > 0) & (apart(one, two) < 0)
    found[order] = (only | alone) & (apart(at, one) > 0)
    return found


def _mean_readings(
    data: SizeData, place: Integers, k: int, kept: NDArray[np.bool_]
) -> tuple[tuple[int, ...], tuple[Floats, ...], tuple[Floats, ...]]:
    channels = tuple(int(c) for c in np.unique(data.reading_channel[kept]))
    means, weights = [], []
    for channel in channels:
        rows = (data.reading_channel == channel) & kept
        cell = place[data.reading_animal[rows]] * k + data.reading_instar[rows]
        count = np.bincount(cell, minlength=data.n_animals * k).astype(float)
        total = np.bincount(cell, np.log(data.reading_value[rows]), minlength=data.n_animals * k)
        shared = data.priors.channels[channel].shared
        known = count > 0
        safe = np.where(known, count, 1.0)
        means.append((total / safe).reshape(-1, k))
        weights.append(np.where(known, 1.0 / (shared + (1.0 - shared) / safe), 0.0).reshape(-1, k))
    return channels, tuple(means), tuple(weights)


def implied_log_carapace(data: SizeData) -> Floats:
    """Return (m,) the log carapace length each reading stands for under the prior allometry alone."""
    offset = np.zeros(len(data.priors.channels))
    slope = np.ones(len(data.priors.channels))
    for index, channel in enumerate(data.priors.channels):
        part = data.priors.part(channel.part)
        if part.offset is not None and part.slope is not None:
            offset[index], slope[index] = part.offset.mean, part.slope.mean
        else:
            offset[index] = REFERENCE_LOG_MM
        if channel.bias is not None:
            offset[index] += channel.bias.mean
    c = data.reading_channel
    implied: Floats = REFERENCE_LOG_MM + (np.log(data.reading_value) - offset[c]) / slope[c]
    return implied


def _centres(data: SizeData, kept: NDArray[np.bool_]) -> Floats:
    """Mean implied log carapace length per taxon; the reference where there is none."""
    taxon = data.taxon_of_animal[data.reading_animal[kept]]
    count = np.bincount(taxon, minlength=data.n_taxa)
    total = np.bincount(taxon, implied_log_carapace(data)[kept], minlength=data.n_taxa)
    centre: Floats = np.where(count > 0, total / np.maximum(count, 1), REFERENCE_LOG_MM)
    return centre
