"""What the room's fits say of one taxon: growth ratio, time between moults, adult size, age at maturity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.clock_effects import FOUR_IN_FIVE
from nightround.findings.survival import Followed, by_age, curve_of
from nightround.findings.survival_groups import SEXES
from nightround.findings.survival_lives import Life
from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted
from nightround.record.model import Record
from nightround.reports.size import SizeReport
from nightround.reports.taxon import Finding
from nightround.science.clock.priors import REFERENCE_LOG_SIZE
from nightround.science.size.priors import sources_of
from nightround.science.survival.data import ALIVE, DIED, FEWEST

if TYPE_CHECKING:
    from nightround.findings.moult import ClockOdds
    from nightround.findings.size import RoomFit

# From this chance on an animal counts as mature without having been noted so (a female, by her size).
SURELY_MATURE: Final = 0.9
_PARTS: Final = {"leg_span": "leg span", "carapace_length": "carapace length"}


def growth_ratio(room: RoomFit, taxon: str) -> Finding:
    """By how much the carapace grows at a moult, at the middle size that the taxon was measured at."""
    key, name = "growth_ratio", "Growth of the carapace at a moult"
    fit = room.fit
    rows = [row for row, history in enumerate(room.histories) if history.taxon == taxon]
    steps = [int((fit.measured[row, 1:] & fit.measured[row, :-1]).sum()) for row in rows]
    animals = sum(count > 0 for count in steps)
    if sum(steps) < FEWEST:
        return Finding(
            key, name, "ratio", None, f"{sum(steps)} of {FEWEST} moults measured on both sides of the moult"
        )
    at, column = int(fit.data.taxon_of_animal[rows[0]]), fit.coefficient_names.index("step")
    mean, sd = float(fit.coefficient_mean[at, column]), float(fit.coefficient_sd[at, column])
    low, value, high = np.exp(mean + FOUR_IN_FIVE * sd * np.array([-1.0, 0.0, 1.0])).tolist()
    centre = float(np.exp(fit.inside.packed.centre[at]))
    decline = float(fit.coefficient_mean[at, fit.coefficient_names.index("decline")])
    words = [f"at a carapace of {both(centre, 'mm')}"]
    if decline > 0.0:
        words.append(f"at twice that size × {float(np.exp(mean - decline * np.log(2.0))):.2f}")
    estimate = Estimate(
        value, low, high, "ratio", animals, sum(steps), "size staircase, taxa pooled in groups",
        sources=(OWN_RECORDS, *sources_of(fit.data.priors, "step", "decline")),
        assumptions=("moults that nobody recorded are not counted",),
    )  # fmt: skip
    return Finding(key, name, "ratio", estimate, words=tuple(words))


def intermoult(odds: ClockOdds | None, taxon: str) -> Finding:
    """Usual days from moult to moult at 25 C, at the taxon's middle size."""
    key, name = "intermoult_25", "Days from moult to moult at 25 °C (77 °F)"
    animals, intervals = odds.room.counts.get(taxon, (0, 0)) if odds is not None else (0, 0)
    if odds is None or intervals < FEWEST:
        return Finding(
            key, name, "day", None, f"{intervals} of {FEWEST} intervals with both moults on record"
        )
    at, fitted = odds.room.taxa.index(taxon), odds.fitted
    mean, sd = (
        float(each)
        for each in fitted.mixed(
            np.array([point.solved.kappa[at, 0] for point in fitted.points]),
            np.array([point.solved.kappa_cov[at, 0, 0] for point in fitted.points]),
        )
    )
    low, value, high = np.exp(mean + FOUR_IN_FIVE * sd * np.array([-1.0, 0.0, 1.0])).tolist()
    estimate = Estimate(
        value, low, high, "day", animals, intervals, "moult clock, taxa pooled in groups",
        sources=(OWN_RECORDS,), assumptions=("the median of usual intervals; single ones vary more",),
    )  # fmt: skip
    words: tuple[str, ...] = ()
    if fitted.design.data.taxon_size_sd[at] == 0.0:
        size = float(np.exp(fitted.design.taxon_size[at] + REFERENCE_LOG_SIZE))
        words = (f"at a carapace of {both(size, 'mm')}",)
    return Finding(key, name, "day", estimate, words=words)


def years_to_maturity(lives: Sequence[Life]) -> list[Finding]:
    """Median age at maturity by sex: the product limit, maturing as its event, deaths and exits censored."""
    found = []
    for sex, who in SEXES.items():
        maturing = [_maturing(life) for life in lives if life.sex == sex]
        curve = curve_of("age", who, "", maturing)
        key, name = f"age_at_maturity_{sex}", f"Age at maturity, {who}"
        if curve.median is None or curve.deaths < FEWEST:
            missing = f"{curve.deaths} of {FEWEST} seen to mature at a known age"
            if curve.deaths >= FEWEST:
                missing = (
                    f"{counted(curve.deaths, 'animal')} matured, but more than half were not followed to it"
                )
            found.append(Finding(key, name, "day", None, missing))
            continue
        median = curve.median
        estimate = Estimate(
            median.value, median.low, median.high, "day", curve.n, curve.deaths,
            "product limit with late entry, maturing as the event", median.level, (OWN_RECORDS,),
            ("animals whose sex is not known yet are left out: it leans early", *median.assumptions),
        )  # fmt: skip
        found.append(Finding(key, name, "day", estimate))
    return found


def _maturing(life: Life) -> Followed | None:
    """Age at which it was seen mature; none for one that came mature, or whose age is not known."""
    followed = by_age(life)
    if followed is None or life.hatched is None:
        return None
    if life.matured is None:
        return Followed(life.code, followed.entry, followed.left, None, ALIVE)
    middle = sum(day.toordinal() for day in life.hatched) / 2.0
    age = life.matured.toordinal() - middle
    return None if age <= followed.entry else Followed(life.code, followed.entry, age, age, DIED)


def adult_sizes(record: Record, sizes: Mapping[str, SizeReport], taxon: str) -> list[Finding]:
    """Usual adult size by sex, of adults measured since their last moult on record."""
    found = []
    for sex, who in SEXES.items():
        for part, words in _PARTS.items():
            logs = [
                (float(np.log(size.value)), float(np.log(size.high / size.low)) / (2.0 * FOUR_IN_FIVE))
                for code, animal in sorted(record.animals.items())
                if animal.taxon == taxon and animal.sex == sex
                and (size := _adult(sizes.get(code), part)) is not None
            ]  # fmt: skip
            found.append(_adult_finding(sex, who, part, words, logs))
    return found


def _adult(size: SizeReport | None, part: str) -> Estimate | None:
    """Present size of a part, if the animal is mature and the part was measured since its last moult."""
    if size is None or not size.steps or (size.mature_chance or 0.0) < SURELY_MATURE:
        return None
    last = size.steps[-1].instar
    if not any(reading.instar == last and reading.item == part for reading in size.readings):
        return None
    return size.leg_span_now if part == "leg_span" else size.carapace_now


def _adult_finding(sex: str, who: str, part: str, words: str, logs: Sequence[tuple[float, float]]) -> Finding:
    key, name = f"adult_{part}_{sex}", f"Adult {words}, {who}"
    n = len(logs)
    if n < FEWEST:
        return Finding(key, name, "mm", None, f"{n} of {FEWEST} adults measured since their last moult")
    values, doubts = np.array(logs).T
    sd = float(np.sqrt(np.var(values, ddof=1)))
    own = float(np.sqrt(np.mean(doubts**2)))
    # Few animals may look alike by chance: their spread is taken no smaller than the doubt of one of them.
    half = _t_quantile(n - 1) * max(sd, own) / n**0.5
    low, value, high = np.exp(values.mean() + half * np.array([-1.0, 0.0, 1.0])).tolist()
    estimate = Estimate(
        value, low, high, "mm", n, n, "mean of log sizes, t interval", sources=(OWN_RECORDS,),
        assumptions=(f"mature: noted so, or a female {100 * SURELY_MATURE:.0f} % likely to be, by her size",),
    )  # fmt: skip
    smallest, largest = (both(float(np.exp(each)), "mm") for each in (values.min(), values.max()))
    return Finding(key, name, "mm", estimate, words=(f"{smallest} to {largest} among them",))


def _t_quantile(freedom: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.9))
