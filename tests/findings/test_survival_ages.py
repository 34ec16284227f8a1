"""Ages worked back from size: the formula by hand, and hatchings of an invented room taken for unknown."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
from scipy import stats

from nightround.findings.size import sizes
from nightround.findings.survival import by_age
from nightround.findings.survival_ages import Course, age_at, course_of, first_size, with_ages
from nightround.findings.survival_lives import room_lives
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.reports.size import Step
from nightround.simulate import room

STEP = Step(2, date(2024, 5, 1), 4.0, 4.0, 4.0, True)


def course(pace: float) -> Course:
    """Instars of 2, 4 and 8 mm at middle ages of 50, 150 and 450 days, times a pace; each 40 days long."""
    return Course(tuple(pace * age for age in (50.0, 150.0, 450.0)),
                  (math.log(2.0), math.log(4.0), math.log(8.0)), (20.0, 20.0, 20.0))  # fmt: skip


def test_the_interval_by_hand() -> None:
    """Three that were 4 mm at 120, 150 and 180 days: normal log ages, t of two degrees, half an instar."""
    ages = age_at(STEP, [course(0.8), course(1.0), course(1.2)])
    logs = np.log([120.0, 150.0, 180.0])
    inside = np.mean([20 / 120, 20 / 150, 20 / 180])
    reach = stats.t.ppf(0.975, 2) * math.sqrt(np.var(logs, ddof=1) * 4 / 3 + inside**2 / 3)
    assert ages is not None
    assert np.exp([logs.mean() - reach, logs.mean() + reach]) == pytest.approx(ages)


def test_fewer_than_three_that_passed_the_size_tell_no_age() -> None:
    """Two, or three of which one never was that large: nothing."""
    small = Course((50.0, 100.0), (math.log(2.0), math.log(3.0)), (20.0, 20.0))
    assert age_at(STEP, [course(0.8), course(1.2)]) is None
    assert age_at(STEP, [course(0.8), course(1.2), small]) is None


def test_hatchings_of_an_invented_room_lie_inside(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Known hatchings taken for unknown, and those not on record against the truth.

    95 % intervals: at least nine in ten of the former, all but one of the latter.
    """
    invented = room(8, animals=80, years=3.0, end=date(2026, 11, 20))
    journal = Journal.create(
        tmp_path_factory.mktemp("ages") / "room.sqlite", time_zone=invented.clock.zone_name
    )
    journal.append(invented.drafts)
    record = fold(journal.entries(), invented.end, journal.clock)
    journal.close()
    measured, lives = sizes(record), room_lives(record)
    courses = {life.code: course_of(life, measured.get(life.code)) for life in lives.followed}
    inside = []
    for life in lives.followed:
        seen = first_size(measured.get(life.code))
        if life.hatched is None or seen is None:
            continue
        alike = {code for code, animal in record.animals.items() if animal.taxon == life.taxon} - {life.code}
        others = [each for code, each in courses.items() if each is not None and code in alike]
        ages = age_at(seen[1], others)
        if ages is not None:
            true = seen[0].toordinal() - sum(day.toordinal() for day in life.hatched) / 2.0
            inside.append(ages[0] <= true <= ages[1])
    assert len(inside) >= 4 and np.mean(inside) >= 0.9
    aged = with_ages(lives, measured)
    back = [life for life in aged.followed if life.worked_back]
    outside = 0
    for life in back:
        assert life.hatched is not None and by_age(life) is not None
        outside += not life.hatched[0] <= invented.truth.animals[life.code].hatched <= life.hatched[1]
    assert len(back) >= 3 and outside <= 1
    known = {life.code: life for life in lives.followed if life.hatched is not None}
    assert all(aged_life == known.get(aged_life.code, aged_life) for aged_life in aged.followed)
