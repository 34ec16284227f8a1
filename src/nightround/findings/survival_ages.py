"""Ages worked back from size: how old this room's animals of known hatching were when they were that large.

An animal of unknown age gets an age interval from its first dated size, if at least three of its taxon, of
known hatching, passed that size here. Warmth and food are taken to have been alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.clock_effects import FOUR_IN_FIVE
from nightround.findings.survival_lives import WIDEST_HATCHING_DAYS, Life, Lives
from nightround.reports.size import SizeReport, Step
from nightround.science.survival.data import FEWEST

LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True)
class Course:
    """One animal of known hatching: middle age [days] and log carapace of each instar, half its length."""

    age: tuple[float, ...]
    log_mm: tuple[float, ...]
    half_days: tuple[float, ...]


def with_ages(lives: Lives, sizes: Mapping[str, SizeReport]) -> Lives:
    """Return the lives, with a hatching worked back from size where none is known and one can be told."""
    courses: dict[str, list[Course]] = {}
    for life in lives.followed:
        course = course_of(life, sizes.get(life.code))
        if course is not None:
            courses.setdefault(life.taxon, []).append(course)
    found = (
        _aged(life, sizes.get(life.code), courses.get(life.taxon, ())) if life.hatched is None else life
        for life in lives.followed
    )
    return replace(lives, followed=tuple(found))


def course_of(life: Life, size: SizeReport | None) -> Course | None:
    """The ages of one animal's instars; None without a hatching, or with fewer than two instars measured."""
    if life.hatched is None or life.worked_back or size is None:
        return None
    hatched = sum(day.toordinal() for day in life.hatched) / 2.0
    steps = [step for step in size.steps if step.began is not None]
    if sum(step.measured for step in steps) < 2:
        return None
    begins = [step.began.toordinal() - hatched for step in steps if step.began is not None]
    ends = [*begins[1:], float(life.alive_to.toordinal() - hatched)]
    rows = [
        ((begin + end) / 2.0, float(np.log(step.carapace_mm)), (end - begin) / 2.0)
        for begin, end, step in zip(begins, ends, steps, strict=True)
        if end > begin >= 0.0
    ]
    rising = [row for at, row in enumerate(rows) if at == 0 or row[1] > rows[at - 1][1]]
    if len(rising) < 2:
        return None
    age, log_mm, half = (tuple(column) for column in zip(*rising, strict=True))
    return Course(age, log_mm, half)


def _aged(life: Life, size: SizeReport | None, courses: Sequence[Course]) -> Life:
    seen = first_size(size)
    if seen is None:
        return life
    day, step = seen
    ages = age_at(step, courses)
    if ages is None:
        return life
    youngest, oldest = ages
    hatched = day - timedelta(days=round(oldest)), min(day - timedelta(days=round(youngest)), life.alive_to)
    if (hatched[1] - hatched[0]).days > WIDEST_HATCHING_DAYS:
        return life
    return replace(life, hatched=hatched, worked_back=True)


def first_size(size: SizeReport | None) -> tuple[date, Step] | None:
    """The day of an animal's first dated size, and the instar it was of."""
    if size is None:
        return None
    steps = {step.instar: step for step in size.steps if step.measured}
    days = [(reading.day, reading.instar) for reading in size.readings
            if reading.day is not None and reading.instar in steps and reading.on != "shed_skin"]  # fmt: skip
    if not days:
        return None
    day, instar = min(days)
    return day, steps[instar]


def age_at(step: Step, courses: Sequence[Course]) -> tuple[float, float] | None:
    """Youngest and oldest age [days] at a size, 95 %; None where fewer than three passed it.

    Log ages of those that passed it are taken for normal; added are where in its instar it stood, and the
    doubt of its size.
    """
    x = float(np.log(step.carapace_mm))
    doubt = float(np.log(step.high_mm / step.low_mm)) / (2.0 * FOUR_IN_FIVE)
    logs, inside, slopes = [], [], []
    for course in courses:
        if not course.log_mm[0] <= x <= course.log_mm[-1]:
            continue
        log_age = np.log(np.maximum(course.age, 1.0))
        at = min(int(np.searchsorted(course.log_mm, x)), len(log_age) - 1) or 1
        logs.append(float(np.interp(x, course.log_mm, log_age)))
        slopes.append(float((log_age[at] - log_age[at - 1]) / (course.log_mm[at] - course.log_mm[at - 1])))
        half = float(np.interp(x, course.log_mm, course.half_days))
        inside.append(half / float(np.exp(logs[-1])))
    n = len(logs)
    if n < FEWEST:
        return None
    from scipy.special import stdtrit

    variance = (
        float(np.var(logs, ddof=1)) * (1.0 + 1.0 / n)
        + float(np.mean(inside)) ** 2 / 3.0
        + (float(np.mean(slopes)) * doubt) ** 2
    )
    reach = float(stdtrit(n - 1, 0.5 + LEVEL / 2.0)) * variance**0.5
    middle = float(np.mean(logs))
    return float(np.exp(middle - reach)), float(np.exp(middle + reach))
