"""What futures say: quantiles of sizes, dates and maturity, from drawn futures (`forward`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.science.size.data import Floats
from nightround.science.size.forward import MOULTS_PAST_MATURITY, NEVER, Futures

THREE: Final = (0.1, 0.5, 0.9)


def quantiles(values: Floats, levels: tuple[float, ...], keep: NDArray[np.bool_] | None = None) -> Floats:
    """Quantiles (n, levels) of draws (S, n), of those kept; inf where not reached, nan where none is kept."""
    if keep is not None:
        values = np.where(keep, values, np.nan)
    ordered = np.sort(values, axis=0)
    count = np.sum(~np.isnan(values), axis=0)
    at = np.ceil(np.array(levels)[:, None] * count).astype(np.int64) - 1
    found: Floats = np.take_along_axis(ordered, np.clip(at, 0, len(ordered) - 1), axis=0).T
    found[count == 0] = np.nan
    return found


def size_after(
    futures: Futures, part: str, moults: int, levels: tuple[float, ...] = THREE
) -> tuple[Floats, Floats]:
    """Size (n, levels) of a part after so many moults from now, and the share (n,) of draws with so many.

    0 moults: the size now. Sizes in mm (mass in g), among those draws.
    """
    if moults >= len(futures.day):
        n = futures.female.shape[1]
        return np.full((n, len(levels)), np.nan), np.zeros(n)
    there = np.isfinite(futures.day[moults])
    values = np.exp(futures.log_part(part, moults))
    return quantiles(values, levels, there), np.asarray(there.mean(axis=0), dtype=np.float64)


def size_on(futures: Futures, part: str, day: float, levels: tuple[float, ...] = THREE) -> Floats:
    """Size (n, levels) of a part at the end of the day that many days from now."""
    return quantiles(np.exp(log_size_on(futures, part, day)), levels)


def log_size_on(futures: Futures, part: str, day: float) -> Floats:
    """Log size (S, n) of a part that many days from now: that after the last moult by then."""
    value = futures.log_part(part, 0)
    for moult in range(1, len(futures.day)):
        value = np.where(futures.day[moult] <= day, futures.log_part(part, moult), value)
    return value


def day_reached(futures: Futures, part: str, size: float) -> Floats:
    """Days (S, n) from now until a part is first at least `size`; 0 now already, inf not in these futures."""
    found = np.full(futures.female.shape, np.inf)
    for moult in range(len(futures.day) - 1, -1, -1):
        large = futures.log_part(part, moult) >= np.log(size)
        found = np.where(large & np.isfinite(futures.day[moult]), futures.day[moult], found)
    return found


@dataclass(frozen=True, slots=True)
class MaturityOutlook:
    """Of one sex, for n animals: nan where no draw is of that sex.

    chance        chance to be of that sex
    already       given the sex, chance to be mature now
    next_moult    given the sex, chance that the next moult is the maturing one
    day, size     (n, levels) days from now to the maturing moult and carapace [mm] after it, among draws that
                  are not mature yet; inf where not reached in the futures drawn
    final         (n, levels) carapace [mm] after the last moult (males) or `MOULTS_PAST_MATURITY` moults past
                  the maturing one (females)
    """

    chance: Floats
    already: Floats
    next_moult: Floats
    day: Floats
    size: Floats
    final: Floats


def maturity_outlook(
    futures: Futures, *, female: bool, levels: tuple[float, ...] = THREE, part: str = "carapace_length"
) -> MaturityOutlook:
    """Maturity of every animal as if it were of one sex, from the draws in which it is."""
    of_sex = futures.female if female else ~futures.female
    count = np.maximum(of_sex.sum(axis=0), 1)
    some = of_sex.any(axis=0)

    def share(event: NDArray[np.bool_]) -> Floats:
        return np.where(some, (of_sex & event).sum(axis=0) / count, np.nan)

    at = futures.mature_at
    young = of_sex & (at > 0)
    day, size = np.full(at.shape, np.inf), np.full(at.shape, np.inf)
    for moult in range(1, len(futures.day)):
        now = at == moult
        day = np.where(now, futures.day[moult], day)
        size = np.where(now, np.exp(futures.log_part(part, moult)), size)
    return MaturityOutlook(
        np.asarray(of_sex.mean(axis=0), dtype=np.float64),
        share(at == 0),
        share(at == 1),
        quantiles(day, levels, young),
        quantiles(size, levels, young),
        quantiles(final_size(futures, part), levels, of_sex & (at < NEVER)),
    )


def final_size(futures: Futures, part: str) -> Floats:
    """Size (S, n) of a part after the last moult drawn: all moults drawn go past maturity (no horizon)."""
    past = futures.mature_at + np.where(futures.female, MOULTS_PAST_MATURITY, 0)
    value = np.exp(futures.log_part(part, 0))
    for moult in range(1, len(futures.day)):
        drawn = np.isfinite(futures.day[moult]) & (moult <= past)
        value = np.where(drawn, np.exp(futures.log_part(part, moult)), value)
    return value
