"""The water of described homes from now on, nobody watering: members of their posterior, run together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.water.air import RoomAir
from nightround.findings.water.evidence import Described
from nightround.reports.water import Questioned
from nightround.science.water.calibrate import Calibrated, HomeEvidence, Members, calibrate
from nightround.science.water.columns import make_columns
from nightround.science.water.demand import Demand, homes_air
from nightround.science.water.evidence import FELT_THRESHOLDS
from nightround.science.water.long_steps import follow
from nightround.science.water.predicted import drained_mm
from nightround.science.water.ventilation import Ventilation

FloatArray = NDArray[np.float64]

AHEAD_DAYS: Final = 60
STEP_HOURS: Final = 12
STEPS_A_DAY: Final = 24 // STEP_HOURS
# A layer under this share of what it keeps after draining feels dry, as the fingers of `calibrate` have it.
DRY: Final = FELT_THRESHOLDS[0]
# Quantile of what is lacking that is poured (choice).
CAREFUL: Final = 0.25
# Homes without weighings and felt moisture are followed from so far back: their start is unknown either way.
PLAIN_DAYS: Final = 40
# How the saturated vapour's density grows with warmth near 22 C [1/C] (Hyland-Wexler), for members' weather.
PER_C: Final = 0.061


@dataclass(frozen=True)
class Course:
    """One home from now on: E members, D + 1 days (0 is now).

    wetness [2, D + 1, E]   of surface and bottom over what each keeps after draining, means by area
    water_mm [2, C, E]      now, top and rest of each end;  drained_mm [2, C]
    lost_ml [D, E]          of each day
    questioned              weighings that do not fit
    """

    described: Described
    calibrated: Calibrated
    wetness: FloatArray
    drained_mm: FloatArray
    lost_ml: FloatArray
    questioned: tuple[Questioned, ...] = ()

    def days_until_dry(self, layer: int) -> FloatArray:
        """Days until a layer (0 surface, 1 bottom) is dry, by member; infinite where later than looked."""
        return first_below(self.wetness[layer], DRY)


def first_below(values: FloatArray, threshold: float) -> FloatArray:
    """First day, between days too, at which each member [D + 1, E] is under a threshold."""
    under = values < threshold
    found = np.full(values.shape[1], np.inf)
    ever = under.any(axis=0)
    at = under.argmax(axis=0)
    members = np.flatnonzero(ever)
    after, before = values[at[members], members], values[np.maximum(at[members] - 1, 0), members]
    part = np.where(before > after, (before - threshold) / np.where(before > after, before - after, 1.0), 0.0)
    found[members] = np.where(at[members] == 0, 0.0, at[members] - 1 + np.clip(part, 0.0, 1.0))
    return found


def calibrated(homes: Sequence[Described], air: RoomAir, now_hour: int) -> list[Calibrated]:
    """Posterior of each home, in order: those with evidence over their whole spell, others lately."""
    found: dict[int, Calibrated] = {}
    spoke = [bool(_speaks(home)) for home in homes]
    for chosen in (True, False):
        rows = [row for row, each in enumerate(spoke) if each is chosen]
        if not rows:
            continue
        days_now = now_hour // 24
        since = min(homes[row].since_day for row in rows) if chosen else max(0, days_now - PLAIN_DAYS)
        evidence = [_shifted(homes[row], since * 24) for row in rows]
        answers = calibrate(evidence, air.hourly(days_now + 1, since), now_hour - since * 24)
        found |= dict(zip(rows, answers, strict=True))
    return [found[row] for row in range(len(homes))]


def _speaks(home: Described) -> bool:
    spells = home.evidence.spells if home.evidence else ()
    return any(spell.felt for spell in spells) or any(len(spell.weighings) > 1 for spell in spells)


def _shifted(home: Described, hours: int) -> HomeEvidence:
    """The evidence counted from a later hour; what comes before it is left out."""
    assert home.evidence is not None
    if hours == 0:
        return home.evidence
    spells = []
    for spell in home.evidence.spells:
        if spell.end is not None and spell.end <= hours:
            continue
        spells.append(
            replace(
                spell,
                start=max(0, spell.start - hours),
                end=None if spell.end is None else spell.end - hours,
                air=tuple((hour - hours, air) for hour, air in spell.air),
                given=tuple(replace(g, hour=g.hour - hours) for g in spell.given if g.hour >= hours),
                weighings=tuple(replace(w, hour=w.hour - hours) for w in spell.weighings if w.hour >= hours),
                felt=tuple(replace(f, hour=f.hour - hours) for f in spell.felt if f.hour >= hours),
            )
        )
    return HomeEvidence(tuple(spells))


def courses(
    homes: Sequence[Described],
    answers: Sequence[Calibrated],
    air: RoomAir,
    days: int = AHEAD_DAYS,
    vents: Sequence[Ventilation] | None = None,
) -> list[Course]:
    """Run all homes ahead. `vents` takes the place of their openings: what a change would do."""
    if not homes:
        return []
    lengths = [len(home.filling.ends) for home in homes]
    of = [row for row, length in enumerate(lengths) for _ in range(length)]
    parts = [homes[row].filling.parts or () for row in of]
    depths = [depth for home in homes for _, depth in home.filling.ends]
    columns = make_columns(parts, depths)
    seen = [home.air for home in homes if home.air is not None] if vents is None else list(vents)
    asked = homes_air([seen[row] for row in of], [air.row(homes[row].home.place) for row in of])
    climate = air.hourly(air.now + 1 + days, air.now + 1)
    demand = Demand(asked, climate, STEP_HOURS)(0, days * STEPS_A_DAY)
    crust = np.broadcast_to(asked.crust_per_mm(columns.crust_mm), demand.shape)
    multiplier = np.concatenate([
        np.broadcast_to(answer.members.multiplier[:, None], (answer.members.multiplier.size, length))
        for answer, length in zip(answers, lengths, strict=True)
    ], axis=1)  # fmt: skip
    start = np.concatenate([answer.members.water_mm.transpose(0, 2, 1) for answer in answers], axis=2)
    hours = np.full(days * STEPS_A_DAY, float(STEP_HOURS))
    kept = follow(
        columns, start, np.zeros(columns.count, dtype=np.int64), demand, crust, multiplier, hours, [],
        _weather(air, homes, days, multiplier.shape[0]),
    )[::STEPS_A_DAY]  # fmt: skip
    drained = np.array([drained_mm(mix, depth) for mix, depth in zip(parts, depths, strict=True)]).T
    found = []
    for row, (home, answer) in enumerate(zip(homes, answers, strict=True)):
        mine = np.array(of) == row
        share = np.array([part for part, _ in home.filling.ends])
        wetness = np.einsum("dlec,lc->lde", kept[..., mine], share / drained[:, mine])
        total = np.einsum("dlec,c->de", kept[..., mine], share) * home.filling.area_mm2 * 1e-3
        found.append(Course(home, answer, wetness, drained[:, mine], total[:-1] - total[1:]))
    return found


def _weather(air: RoomAir, homes: Sequence[Described], days: int, members: int) -> FloatArray:
    """Factor of each step's demand by member [S, E]: warmer or colder, drier or moister than expected.

    One level for the days to come, spread evenly over a normal law in an order of its own, so that it goes
    with no multiplier.
    """
    rows = sorted({air.row(home.home.place) for home in homes})
    level = np.array([NormalDist().inv_cdf((each + 0.5) / members) for each in range(members)])
    warm, moist = (np.random.default_rng(seed).permutation(level) for seed in (1, 2))
    coming = air.humidity[rows, air.now + 1 : air.now + 1 + days].mean()
    warmer = np.exp(PER_C * float(air.temperature_sd[rows].mean()) * warm)
    drier = np.clip((1.0 - coming - float(air.humidity_sd[rows].mean()) * moist) / (1.0 - coming), 0.2, 3.0)
    return np.broadcast_to(warmer * drier, (days * STEPS_A_DAY, members)).copy()


def after_dose(course: Course, target: float) -> float:
    """Millilitres that bring the bottom to a target share of what it keeps, if it is as wet as it may be.

    Too little is felt in a few days, too much drowns.
    """
    members: Members = course.calibrated.members
    share = np.array([part for part, _ in course.described.filling.ends])[:, None]
    lacking = np.maximum(target * course.drained_mm[1][:, None] - members.water_mm[1], 0.0)
    each = (lacking * share).sum(axis=0) * course.described.filling.area_mm2 * 1e-3
    return float(np.quantile(each, CAREFUL))
