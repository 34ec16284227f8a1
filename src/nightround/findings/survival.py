"""Survival curves of a room's animals: by age, by time in the room, and of males after the ultimate moult.

Where every death is dated to the day the curve is the product limit with late entry; where some lie between
two looks it is Turnbull's estimate, whose band reaches from the product limit of the first possible days to
that of the last ones. Both stand in `science.survival`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.survival_lives import Life
from nightround.findings.survival_words import METHOD_DATED, METHOD_LATE, METHOD_VAGUE, median_of, words_of
from nightround.reports.taxon import Clock, CurvePoint, LifeCurve
from nightround.science.survival.data import ALIVE, DIED, FEWEST, LEFT, LOST
from nightround.science.survival.data import Lives as Arrays
from nightround.science.survival.product_limit import LEVEL, Curve, product_limit, with_later_hazard
from nightround.science.survival.turnbull import Turnbull, turnbull

Floats = NDArray[np.float64]

_STEPS: Final = (7, 14, 30.4375, 91.3125, 182.625, 365.25, 730.5, 1826.25)
_MOST_ROWS: Final = 12
# Fate of a life that goes on in another curve: followed to there like one that is alive.
_SEXED: Final = -1


@dataclass(frozen=True, slots=True)
class Followed:
    """One life on one clock, in days from its zero. `right` None: not known dead."""

    code: str
    entry: float
    left: float
    right: float | None
    fate: int

    @property
    def dated(self) -> bool:
        """Whether it is not known dead, or its death is dated to the day."""
        return self.right is None or self.right == self.left


def by_age(life: Life) -> Followed | None:
    """Age in days, counted from the middle of its hatching; None where that is not known.

    With a hatching of some days a death lies between the youngest and the oldest age it can have had.
    """
    if life.hatched is None:
        return None
    first, last = (day.toordinal() for day in life.hatched)
    followed = _from(life, (first + last) / 2.0, life.watched)
    if followed is None or followed.right is None or first == last:
        return followed
    youngest = max(followed.entry, followed.left - (last - first) / 2.0)
    return Followed(life.code, followed.entry, youngest, followed.right + (last - first) / 2.0, DIED)


def by_care(life: Life) -> Followed | None:
    """Days since it came into this room, or got its own code out of a batch."""
    return _from(life, float(life.came.toordinal()), life.watched)


def since_maturing(life: Life) -> Followed | None:
    """Days since a male was seen to be mature; None for all others."""
    if life.sex != "male" or life.matured is None:
        return None
    return _from(life, float(life.matured.toordinal()), max(life.watched, life.matured))


def _from(life: Life, zero: float, watched: date) -> Followed | None:
    """Days from a zero; nothing of a life that ended before it was watched."""
    if life.alive_to < watched and (life.dead_by is None or life.dead_by <= watched):
        return None
    entry = max(watched.toordinal() - zero, 0.0)
    left = max(life.alive_to.toordinal() - zero, entry)
    right = None if life.dead_by is None else max(life.dead_by.toordinal() - zero, left)
    return Followed(life.code, entry, left, right, life.fate)


CLOCK_OF: Final[dict[Clock, Callable[[Life], Followed | None]]] = {
    "age": by_age,
    "care": by_care,
    "mature": since_maturing,
}


def while_sexed(life: Life, clock: Clock) -> Followed | None:
    """A life from the day its sex was known: till then it could not have died as one of that sex."""
    followed = CLOCK_OF[clock](life)
    if followed is None or life.sexed is None:
        return None
    entry = followed.entry + max((life.sexed - life.watched).days, 0)
    if entry > followed.left and (followed.right is None or entry >= followed.right):
        return None
    return Followed(life.code, entry, max(followed.left, entry), followed.right, followed.fate)


def while_not_sexed(life: Life, clock: Clock) -> Followed | None:
    """A life up to the day its sex was known."""
    followed = CLOCK_OF[clock](life)
    if followed is None or life.sexed is None:
        return followed
    until = followed.entry + (life.sexed - life.watched).days
    if until <= followed.entry:
        return None
    if until > followed.left and followed.right is not None:
        return followed  # sexed after it had died: that told nothing while it lived
    return Followed(life.code, followed.entry, min(until, followed.left), None, _SEXED)


def arrays(followed: Sequence[Followed]) -> Arrays:
    """Return followed lives as science takes them."""
    right = [np.inf if each.right is None else each.right for each in followed]
    fate = [ALIVE if each.fate == _SEXED else each.fate for each in followed]
    return Arrays(
        np.array([each.entry for each in followed], dtype=np.float64),
        np.array([each.left for each in followed], dtype=np.float64),
        np.array(right, dtype=np.float64),
        np.array(fate, dtype=np.int64),
    )


def curve_of(clock: Clock, who: str, taxa: str, found: Iterable[Followed | None]) -> LifeCurve:
    """Make the curve of some lives, or what is said in its place."""
    followed = [each for each in found if each is not None]
    fates = [each.fate for each in followed]
    n, deaths, gone = len(followed), fates.count(DIED), fates.count(LEFT)
    estimate = _estimated(arrays(followed)) if n >= FEWEST else None
    drawn = estimate if estimate is not None and estimate.late.n >= FEWEST else None
    oldest = max((each.left for each in followed if each.fate == ALIVE), default=None)
    median, median_words = median_of(
        clock, n, deaths, drawn.median() if drawn else None, drawn.late.from_days if drawn else None
    )
    changed = drawn if gone else None
    return LifeCurve(
        clock, who, taxa, n, deaths, fates.count(ALIVE), gone, fates.count(LOST),
        sum(not each.dated for each in followed), oldest, max((each.left for each in followed), default=None),
        drawn.late.from_days if drawn else None, drawn.late.to_days if drawn else None,
        drawn.points() if drawn else (), drawn.table() if drawn else (),
        drawn.late.n if drawn else 0,
        changed.changed(0.5) if changed else (), changed.changed(2.0) if changed else (),
        median, median_words, words_of(clock, followed, oldest, drawn is not None),
        _method(drawn), LEVEL,
    )  # fmt: skip


def _method(drawn: Estimated | None) -> str:
    if drawn is None or drawn.early is drawn.late:
        return METHOD_DATED
    return METHOD_LATE if drawn.found is None else METHOD_VAGUE


@dataclass(frozen=True)
class Estimated:
    """The estimate of at least three lives with a death: early and late are equal where all are dated."""

    lives: Arrays
    early: Curve
    late: Curve
    found: Turnbull | None

    def points(self) -> tuple[CurvePoint, ...]:
        """The curve at each of its steps, first at its beginning."""
        steps = self.late.days if self.found is None else self.found.upto
        return self._at(np.unique(np.concatenate(([self.late.from_days], steps))))

    def table(self) -> tuple[CurvePoint, ...]:
        """The curve at round days, at most a dozen."""
        span = self.late.to_days - self.late.from_days
        step = next((each for each in _STEPS if span / each <= _MOST_ROWS), span / _MOST_ROWS)
        first = np.ceil(self.late.from_days / step)
        grid = step * np.arange(first, np.floor(self.late.to_days / step) + 1)
        return self._at(grid) if len(grid) else ()

    def _at(self, days: Floats) -> tuple[CurvePoint, ...]:
        late, early = self.late.at(days), self.early.at(days)
        value = late.survival if self.found is None else self.found.at(days)[1]
        low = np.fmin(np.where(np.isnan(early.low), 0.0, early.low), value)
        high = np.fmax(np.where(np.isnan(late.high), 1.0, late.high), value)
        rows = zip(days, value, low, high, late.at_risk, strict=True)
        return tuple(
            CurvePoint(float(day), _or_none(v), _or_none(a if v == v else v), _or_none(b), int(watched))
            for day, v, a, b, watched in rows
        )

    def changed(self, ratio: float) -> tuple[tuple[float, float], ...]:
        """The curve if those sold or given died `ratio` times as fast later."""
        lives = dated(self.lives, late=True)
        values = with_later_hazard(lives, self.late, ratio)
        return tuple(zip(self.late.days.tolist(), values.tolist(), strict=True))

    def median(self) -> tuple[float, float, float]:
        """Days that half of the lives reach, with its interval; inf: later than all that was watched."""
        value, _, high = self.late.day_of(0.5)
        low = self.early.day_of(0.5)[1]
        if self.found is not None:
            under = np.flatnonzero(self.found.survival <= 0.5 + 1e-12)
            value = float(self.found.upto[under[0]]) if len(under) else float("inf")
        return value, min(low, value), max(high, value)


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _estimated(lives: Arrays) -> Estimated | None:
    """The estimate from the day on that the product limit begins with; None under three lives or no death."""
    if not lives.died.any():
        return None
    late = product_limit(dated(lives, late=True))
    if lives.dated.all() or late.n < FEWEST:
        return Estimated(lives, late, late, None)
    since = _since(lives, late.from_days)
    early = product_limit(dated(since, late=False), from_days=late.from_days)
    return Estimated(lives, early, late, _turnbull(since))


def _since(lives: Arrays, day: float) -> Arrays:
    """The lives that are told of from a day on, none watched before it."""
    some = lives.only((lives.left_days >= day) | (lives.died & (lives.right_days >= day)))
    return Arrays(
        np.maximum(some.entry_days, day), np.maximum(some.left_days, day), some.right_days, some.fate
    )


def _turnbull(lives: Arrays) -> Turnbull | None:
    """Turnbull's estimate; None where late entry leaves it without any likelihood."""
    if len(lives) < FEWEST or not lives.died.any():
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        found = turnbull(lives)
    usable = np.isfinite(found.log_likelihood) and found.from_days <= lives.entry_days.min()
    return found if usable else None


def dated(lives: Arrays, *, late: bool) -> Arrays:
    """Every death on its last possible day, or on its first."""
    first = np.where(lives.left_days == lives.right_days, lives.left_days, lives.left_days + 1.0)
    day = np.where(lives.died, np.where(late, lives.right_days, np.minimum(first, lives.right_days)), 0.0)
    left = np.where(lives.died, day, lives.left_days)
    right = np.where(lives.died, day, lives.right_days)
    return Arrays(lives.entry_days, left, right, lives.fate)
