"""Forward simulation of every animal at once: sizes, dates and maturity of the moults to come.

Each draw takes an animal's present size and coefficients from the fit's joint posterior, its taxon's sizes of
maturity, its sex and stage from what its course told, and then moults on:

    x' = x + step + v − decline · (x − x̄) + e      growing up; then mature with the logistic chance of x',
                                                    and the maturing moult adds its sex's extra
    x' = x + mature step + e                        females after maturity; males stop

The waits between moults come from the moult clock as plain arrays (`Waits`): the first one as the clock's own
forecast, the further ones log-normal in warmth, longer with size, turned into days by the expected climate.
The spread of steps is drawn with its own doubt. Everything is vectorised over draws and animals; only moults
are stepped through.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import Refusal
from nightround.science.size.data import FEMALE, MALE, Floats, Integers
from nightround.science.size.fit import SizeFit
from nightround.science.size.layout import ANIMAL
from nightround.science.size.maturity import DIFFERENCE_GRID, FEMALE_GRID, GRID_STEP
from nightround.science.size.priors import REFERENCE_LOG_MM, CoefficientPrior

Booleans = NDArray[np.bool_]

NEVER: Final = 10**6
MOST_MOULTS: Final = 30
# Mature females of a purse-web spider moulted on yearly for three years or more (MIYA1992): final sizes are
# taken after so many moults past the maturing one.
MOULTS_PAST_MATURITY: Final = 3


@dataclass(frozen=True, slots=True)
class Waits:
    """Times between moults, from the moult clock.

    levels (L,), first_days (n, L)   rising levels and the days from now to the next moult at them; inf where
                    the next moult is not that likely ever to come
    log_warmth      (n,) log of the usual length of the running interval, in days at 25 °C, at today's size
    level_sd        (n,) doubt of that log, the same for all intervals to come of an animal
    per_log_size    (n,) growth of log length per unit of log carapace length
    interval_sd     spread of single intervals about it (log)
    warmth          (P, H + 1) days at 25 °C expected to have passed by the end of each day from now, by place
    place           (n,) each animal's place
    """

    levels: Floats
    first_days: Floats
    log_warmth: Floats
    level_sd: Floats
    per_log_size: Floats
    interval_sd: float
    warmth: Floats
    place: Integers

    def __post_init__(self) -> None:
        """Refuse tables that do not rise."""
        if np.any(np.diff(self.levels) <= 0) or np.any(np.diff(self.warmth, axis=1) < 0):
            raise Refusal("levels and warmth that rise", got="some that fall")

    def only(self, animals: Integers) -> Waits:
        """Return the waits of some of the animals."""
        return Waits(
            self.levels,
            self.first_days[animals],
            self.log_warmth[animals],
            self.level_sd[animals],
            self.per_log_size[animals],
            self.interval_sd,
            self.warmth,
            self.place[animals],
        )


@dataclass(frozen=True, slots=True)
class Futures:
    """S draws of n animals' futures; moult 0 is now. Arrays (M + 1, S, n) or (S, n).

    log_size     log carapace length after each moult to come; past a male's last moult it stays
    day          day of each moult from now (0 for now; inf: no such moult, or past the horizon)
    mature_at    number of the moult from now that matures it (0: mature already, `NEVER`: not by the end)
    female       sex drawn
    parts        part → (offset, slope, extra of mature males), each (S, n), on the log scale
    """

    log_size: Floats
    day: Floats
    mature_at: Integers
    female: Booleans
    parts: dict[str, tuple[Floats, Floats, Floats]]

    def log_part(self, part: str, moult: int) -> Floats:
        """Log size (S, n) of a part after that many moults from now."""
        x: Floats = self.log_size[moult]
        if part == "carapace_length":
            return x
        offset, slope, legs = self.parts[part]
        grown_male = ~self.female & (self.mature_at <= moult)
        return np.asarray(offset + slope * (x - REFERENCE_LOG_MM) + legs * grown_male, dtype=np.float64)


def simulate_forward(
    fit: SizeFit,
    waits: Waits,
    rng: np.random.Generator,
    *,
    draws: int = 500,
    horizon_days: float = np.inf,
    parts: tuple[str, ...] = ("leg_span",),
    animals: Integers | None = None,
) -> Futures:
    """Draw `draws` futures of every animal of the fit, or of those asked for.

    animals        (m,) indices of the animals asked for, as in the fit's data; the futures are in this order
    horizon_days   moults after it are not drawn: enough for sizes on a date; without it every draw goes on to
                   `MOULTS_PAST_MATURITY` moults past maturity, at most `MOST_MOULTS`
    Errors: Refusal when `waits` is not about the fit's animals. Cost: linear in draws · animals · moults.
    """
    if len(waits.log_warmth) != fit.data.n_animals:
        raise Refusal("waits of every animal of the fit", got=f"{len(waits.log_warmth)}")
    start = _start(fit, rng, draws, parts, animals)
    clock = _Clock.begin(waits if animals is None else waits.only(animals), rng, draws)
    x, mature_at = start.x, np.where(start.mature, 0, NEVER)
    male_stops = start.mature & ~start.female
    warmth, day = clock.first(male_stops)
    sizes, days = [x], [np.zeros_like(day)]
    since = np.zeros(x.shape, dtype=np.int64)
    for moult in range(1, MOST_MOULTS + 1):
        if moult > 1:
            warmth = warmth + clock.next_length(rng, x - start.x)
            day = clock.day(warmth)
        mature = mature_at < moult
        going = ~(mature & ~start.female) & (since < MOULTS_PAST_MATURITY)
        going &= np.isfinite(day) & (day <= horizon_days)
        if not going.any():
            break
        grown, matures = start.grow(rng, x, mature)
        x = np.where(going, grown, x)
        mature_at = np.where(going & matures, moult, mature_at)
        since = since + (going & mature & start.female)
        sizes.append(x)
        days.append(np.where(going, day, np.inf))
    return Futures(np.array(sizes), np.array(days), mature_at, start.female, start.parts)


@dataclass(frozen=True, slots=True)
class _Clock:
    """Waits, with each draw's own level."""

    waits: Waits
    first_days: Floats
    level: Floats

    @staticmethod
    def begin(waits: Waits, rng: np.random.Generator, draws: int) -> _Clock:
        n = len(waits.log_warmth)
        level = waits.log_warmth + waits.level_sd * rng.standard_normal((draws, n))
        return _Clock(waits, _first_days(waits, rng.random((draws, n))), level)

    def first(self, never: Booleans) -> tuple[Floats, Floats]:
        """Warmth and day of the next moult."""
        day = np.where(never, np.inf, self.first_days)
        warmth = np.empty_like(day)
        for place, table in enumerate(self.waits.warmth):
            mine = self.waits.place == place
            ahead = np.arange(len(table), dtype=np.float64)
            beyond = np.maximum(day[:, mine] - ahead[-1], 0.0) * _rate(table)
            warmth[:, mine] = np.interp(day[:, mine], ahead, table) + beyond
        return warmth, day

    def next_length(self, rng: np.random.Generator, grown: Floats) -> Floats:
        """Length (S, n) in warmth of a further interval of an animal that has grown by so much."""
        noise = self.waits.interval_sd * rng.standard_normal(grown.shape, dtype=np.float32)
        return np.asarray(np.exp(self.level + self.waits.per_log_size * grown + noise), dtype=np.float64)

    def day(self, warmth: Floats) -> Floats:
        """The day by which so much warmth has passed."""
        day = np.empty_like(warmth)
        for place, table in enumerate(self.waits.warmth):
            mine = self.waits.place == place
            own = warmth[:, mine]
            late = np.maximum(own - table[-1], 0.0) / _rate(table)
            day[:, mine] = np.interp(own, table, np.arange(len(table), dtype=np.float64)) + late
        return day


def _rate(table: Floats) -> float:
    """Warmth a day past the end of a table: that of its last year."""
    days = min(365, len(table) - 1)
    return max(float(table[-1] - table[-1 - days]) / days, 1e-6)


def _first_days(waits: Waits, chance: Floats) -> Floats:
    """Invert each animal's forecast at uniform draws (S, n)."""
    days = np.empty_like(chance)
    for animal in range(chance.shape[1]):
        own = waits.first_days[animal]
        reached = np.isfinite(own)
        if not reached.any():
            days[:, animal] = np.inf
            continue
        levels = np.concatenate([[0.0], waits.levels[reached]])
        ahead = np.concatenate([[0.0], own[reached]])
        drawn = np.interp(chance[:, animal], levels, ahead)
        # Past the last level reached: never if there is a higher one, else in proportion to its tail.
        past = chance[:, animal] > levels[-1]
        tail = ahead[-1] * (1.0 + (chance[:, animal] - levels[-1]) / max(1.0 - levels[-1], 1e-9))
        days[:, animal] = np.where(past, tail if reached.all() else np.inf, drawn)
    return days


@dataclass(frozen=True, slots=True)
class _Start:
    """Present sizes, coefficients, sex and stage of every draw, each (S, n)."""

    x: Floats
    female: Booleans
    mature: Booleans
    matures_at: Floats
    width: float
    centre: Floats
    coefficients: dict[str, Floats]
    step_sd: Floats
    parts: dict[str, tuple[Floats, Floats, Floats]]

    def grow(self, rng: np.random.Generator, x: Floats, mature: Booleans) -> tuple[Floats, Booleans]:
        """Size after one more moult, and whether that moult matured it."""
        of = self.coefficients
        error = self.step_sd * rng.standard_normal(x.shape, dtype=np.float32)
        young = x + of["step"] + of["animal"] - of["decline"] * (x - self.centre) + error
        z = np.clip((young - self.matures_at) / self.width, -40.0, 40.0)
        matures = ~mature & (rng.random(x.shape, dtype=np.float32) * (1.0 + np.exp(-z)) < 1.0)
        young = young + matures * np.where(self.female, of["female_last"], of["male_last"])
        return np.where(mature, x + of["mature_step"] + error, young), np.asarray(matures)


def _start(
    fit: SizeFit, rng: np.random.Generator, draws: int, parts: tuple[str, ...], animals: Integers | None
) -> _Start:
    inside = fit.inside
    packed, swept, layout = inside.packed, inside.swept, inside.layout
    # Rows of the packed arrays to draw, and where each animal answered for stands among them.
    row = np.arange(len(packed.taxon)) if animals is None else inside.place[animals]
    place = inside.place if animals is None else np.arange(len(row))
    n = len(row)
    last = (fit.data.n_instars - 1)[packed.order][row]
    covariance, mean = swept.u_covariance[row], swept.u_mean[row]
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(covariance.shape[1]))
    away = np.einsum("nqr,snr->snq", root, rng.standard_normal((draws, *mean.shape)), optimize=True)
    free = np.sqrt(np.maximum(swept.free_variance[row, last], 0.0)) * rng.standard_normal((draws, n))
    x = swept.state[row, last] + np.einsum("snq,nq->sn", away, swept.state_on_u[row, last]) + free
    u = (mean + away)[:, place]
    names = ("step", "decline", "male_last", "female_last", "mature_step")
    of = {name: u[:, :, layout.must(name) - ANIMAL] for name in names} | {"animal": u[:, :, 0]}
    female, mature, matures_at = _stages(fit, rng, draws, row, last)
    step_sd = fit.spreads.step * np.exp(fit.spread_log_sd[0] * rng.standard_normal((draws, 1)))
    legs = next((c for c in fit.data.priors.coefficients if c.name == "male_legs"), None)

    def coefficient(prior: CoefficientPrior | None) -> Floats:
        if prior is None:
            return np.zeros((draws, n))
        column = layout.column(prior.name)
        if column is not None:
            return np.asarray(u[:, :, column - ANIMAL], dtype=np.float64)
        return np.asarray(prior.mean + prior.total_variance**0.5 * rng.standard_normal((draws, n)))

    shapes = {}
    for name in parts:
        part = fit.data.priors.part(name)
        if part.offset is not None and part.slope is not None:
            legs_of_it = coefficient(legs if name == "leg_span" else None)
            shapes[name] = coefficient(part.offset), coefficient(part.slope), legs_of_it
    width = inside.judged.maturity.prior.width
    centre = packed.centre[packed.taxon[row]][place]
    return _Start(
        x[:, place],
        female[:, place],
        mature[:, place],
        matures_at[:, place],
        width,
        centre,
        of,
        step_sd,
        shapes,
    )


def _stages(
    fit: SizeFit, rng: np.random.Generator, draws: int, row: Integers, last: Integers
) -> tuple[Booleans, Booleans, Floats]:
    """Draw sizes of maturity, then sex and stage by them, of packed rows in their latest instars."""
    inside = fit.inside
    packed, judged = inside.packed, inside.judged
    n, wide = len(row), len(DIFFERENCE_GRID)
    cell = np.empty((draws, n), dtype=np.int64)
    for taxon in np.unique(packed.taxon[row]):
        mine = packed.taxon[row] == taxon
        rising = np.cumsum(judged.maturity.weights[taxon].ravel())
        chance = rng.random((draws, int(mine.sum()))) * rising[-1]
        cell[:, mine] = np.minimum(np.searchsorted(rising, chance), len(rising) - 1)
    f, d = cell // wide, cell % wide
    ratio = judged.courses.male_log[row, f + d] - judged.courses.female_log[row, f]
    sexes = packed.sex[row]
    sexed = np.where(sexes == FEMALE, 1.0, np.where(sexes == MALE, 0.0, np.nan))
    chance_female = np.where(np.isnan(sexed), 1.0 / (1.0 + np.exp(np.clip(ratio, -40.0, 40.0))), sexed)
    female = rng.random((draws, n)) < chance_female
    noted = packed.after[row, last] > 0
    mature = noted | (female & (rng.random((draws, n)) < judged.courses.stage[row, last, f]))
    at = FEMALE_GRID[f] + np.where(female, 0.0, DIFFERENCE_GRID[d])
    at = at + GRID_STEP * (rng.random((draws, n)) - 0.5)
    return np.asarray(female), np.asarray(mature), np.asarray(at)
