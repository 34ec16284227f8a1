"""Weighings that do not fit a home's predicted course, and how many more would make its loss known.

A weighing that does not fit is asked about; `science.water.weighed` gives it next to no weight by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.water.air import RoomAir
from nightround.findings.water.evidence import Described
from nightround.foundation.quantities import both
from nightround.foundation.wording import day_words
from nightround.reports.water import Questioned
from nightround.science.water import evidence
from nightround.science.water.calibrate import Calibrated, Weighing
from nightround.science.water.predicted import predict, set_stage, wettest_content
from nightround.science.water.substrate import curves

FloatArray = NDArray[np.float64]

# A weighing is asked about when it is so many of its own errors off (choice).
OFF: Final = 4.0
STARTS: Final = 5
FEWEST: Final = 3
TEN_PERCENT: Final = 0.10
Z_80: Final = 1.2816
MOST_MORE: Final = 12
USUAL_SPACING_DAYS: Final = 7.0


def questioned(
    homes: Sequence[Described], answers: Sequence[Calibrated], air: RoomAir, now_hour: int
) -> list[tuple[Questioned, ...]]:
    """Return for each home the weighings of its present filling that do not fit the others."""
    found: list[tuple[Questioned, ...]] = [()] * len(homes)
    rows = [row for row, home in enumerate(homes) if _last_weighings(home) >= FEWEST]
    if not rows:
        return found
    spells = []
    for row in rows:
        each = homes[row].evidence
        assert each is not None
        spells.append(replace(each.spells[-1], felt=()))
    stage = set_stage(tuple(spells), air.hourly(now_hour // 24 + 1), now_hour)
    log_m = np.log([[answers[row].quantile(0.5)] for row in rows])
    dry = [curves(spell.parts).air_dry for spell in spells]
    wet = [wettest_content(spell) for spell in spells]
    content = np.linspace(dry, wet, STARTS + 1, axis=1)[:, 1:]
    run = predict(stage, log_m, content)
    for at, row in enumerate(rows):
        weighings = spells[at].ordered
        order = sorted(range(len(weighings)), key=lambda n: _key(spells[at].weighings[n]))
        entries = [homes[row].entries[len(homes[row].entries) - len(weighings) + n] for n in order]
        given = [_given_until(spells[at].given, spells[at].area_mm2, one) for one in weighings]
        lost = run.lost_over_m[at, : len(weighings), 0] * np.exp(log_m[at, 0])
        found[row] = _fewest(entries, weighings, given, lost, answers[row].sd_log)
    return found


def _last_weighings(home: Described) -> int:
    return len(home.evidence.spells[-1].weighings) if home.evidence else 0


def _key(one: Weighing) -> tuple[int, bool]:
    return one.hour, one.after


def _given_until(given: Sequence[evidence.Given], area_mm2: float, one: Weighing) -> tuple[float, float]:
    """Water given before a weighing, and its variance [g, g2]."""
    before = [g.amount(area_mm2) for g in given if g.hour < one.hour or (g.hour == one.hour and one.after)]
    return sum(ml for ml, _ in before), sum(sd**2 for _, sd in before)


Entry = tuple[int, date, float]


def _fewest(
    entries: Sequence[Entry],
    weighings: Sequence[Weighing],
    given: Sequence[tuple[float, float]],
    lost: FloatArray,
    sd_log: float,
) -> tuple[Questioned, ...]:
    """The questions of the start that leaves the fewest."""
    tried = []
    for start in range(lost.shape[1]):
        level = np.array([one.g for one in weighings]) - np.array([ml for ml, _ in given]) + lost[:, start]
        doubt = _doubt(weighings, [variance for _, variance in given], lost[:, start], sd_log)
        asked, off = _off(level, doubt)
        tried.append((len(asked), off, start, asked))
    _, _, _, asked = min(tried)
    return tuple(_question(entries, at, by, stays) for at, by, stays in asked)


def _doubt(
    weighings: Sequence[Weighing], variance: Sequence[float], lost: FloatArray, sd_log: float
) -> FloatArray:
    """Standard deviation of the difference between two weighings [W, W]: scale, pours, days, multiplier."""
    scale = np.array([one.sd_g for one in weighings]) ** 2
    hours = np.array([one.hour for one in weighings], dtype=np.float64)
    days = np.maximum(np.abs(hours[:, None] - hours) / 24.0, 1.0)
    between = np.abs(lost[:, None] - lost)
    poured = np.array(variance)
    spread = (evidence.DAY_SPREAD * between) ** 2 / days + (sd_log * between) ** 2
    squared = scale[:, None] + scale + np.abs(poured[:, None] - poured) + spread
    return np.asarray(np.sqrt(squared), dtype=np.float64)


def _off(level: FloatArray, doubt: FloatArray) -> tuple[list[tuple[int, float, bool]], float]:
    """Weighings off the last that fits: (which, by how much [g], whether all later ones are off too)."""
    asked: list[tuple[int, float, bool]] = []
    fits, score = 0, 0.0
    for at in range(1, len(level)):
        by = float(level[at] - level[fits])
        far = abs(by) / float(doubt[at, fits])
        score += min(far, OFF)
        if far > OFF:
            later = at + 1 < len(level)
            stays = later and abs(level[at + 1] - level[at]) < abs(level[at + 1] - level[fits])
            asked.append((at, by, bool(stays)))
            if not stays:
                continue
        fits = at
    return asked, score


def _question(entries: Sequence[Entry], at: int, by: float, stays: bool) -> Questioned:
    number, day, grams = entries[at]
    before = entries[at - 1][1]
    amount, weight = both(abs(by), "g"), both(grams, "g")
    if not stays:
        side = "more" if by > 0.0 else "less"
        words = (
            f"{weight} on {day_words(day)} is {amount} {side} than the home's other weighings say: "
            "misread, another home on the scale, or something left on or off it? It hardly counts"
        )
    elif by > 0.0:
        words = (
            f"about {both(by, 'ml')} more water than is on record between {day_words(before)} and "
            f"{day_words(day)}: a watering that nobody noted? Weighings from then on count anew"
        )
    else:
        words = (
            f"{amount} less than is on record between {day_words(before)} and {day_words(day)}: lid left "
            "open, or something taken out? Weighings from then on count anew"
        )
    return Questioned(number, day, words)


def more_to_ten(
    lost_ml: FloatArray,
    multiplier: FloatArray,
    sd_log: float,
    spacing_days: float,
    scale_sd_g: float,
    weighed: bool,
) -> int | None:
    """Return how many more weighings bring the loss to ±10 % (80 %); 0: it is there, None: more than 12.

    lost_ml [D, E]   each day's loss of each member without watering;  multiplier [E]
    weighed          its present mass is known
    The expected information of weighings so many days apart. Their errors: the scale, days that nobody
    measured, and what of the members' loss comes from present water or dry substrate, not the multiplier.
    """
    wanted = (Z_80 / np.log1p(TEN_PERCENT)) ** 2
    if sd_log <= 0.0 or 1.0 / sd_log**2 >= wanted:
        return 0
    total = np.concatenate([np.zeros((1, multiplier.size)), np.cumsum(lost_ml, axis=0)])
    off = multiplier - multiplier.mean()
    slope = total @ off / max(float(off @ off), 1e-12)
    other = total - total.mean(axis=1, keepdims=True) - slope[:, None] * off
    told = slope * float(np.median(multiplier))
    drift = evidence.DAY_SPREAD**2 * np.append(0.0, np.cumsum(np.median(lost_ml, axis=1) ** 2))
    for more in range(1, MOST_MORE + 1):
        days = np.rint(spacing_days * np.arange(0 if weighed else 1, more + 1)).astype(np.int64)
        if len(days) < 2:
            continue
        if days[-1] > len(lost_ml):
            return None
        error = np.diag(np.full(len(days), scale_sd_g**2)) + np.minimum.outer(drift[days], drift[days])
        error += other[days] @ other[days].T / multiplier.size
        inverse = np.linalg.inv(error)
        gain = float(told[days] @ inverse @ told[days] - (inverse @ told[days]).sum() ** 2 / inverse.sum())
        if 1.0 / sd_log**2 + gain >= wanted:
            return more
    return None


def spacing_of(home: Described) -> tuple[float, float]:
    """The keeper's usual days between weighings of this home and the scale's error [g]."""
    weighings = home.evidence.spells[-1].weighings if home.evidence else ()
    hours = sorted(one.hour for one in weighings)
    gaps = [gap for gap in np.diff(hours) / 24.0 if gap >= 1.0]
    spacing = float(np.clip(np.median(gaps), 1.0, 30.0)) if gaps else USUAL_SPACING_DAYS
    scale = float(np.median([one.sd_g for one in weighings])) if weighings else evidence.SCALE_SD_G
    return spacing, scale
