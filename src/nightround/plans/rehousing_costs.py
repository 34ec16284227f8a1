"""What each animal's stay and move costs in each fortnight, in weeks in a home that does not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightround.findings.spans import RoomSpans
from nightround.plans.fit import Build, FitRange, build_of, fit_range, openings_of
from nightround.plans.moulting import leave_alone, watched
from nightround.plans.quarantine import quarantined
from nightround.plans.rehousing_ways import Choice, Fits, HomeKind, body_of
from nightround.plans.rules import RuleBook
from nightround.plans.situation import Situation, sound
from nightround.plans.sizes import size_of
from nightround.record.model import Animal, Record
from nightround.reports.forecast import ForecastReport
from nightround.reports.size import SizeReport
from nightround.science.housing.problem import NOBODY, HousingProblem

Floats = NDArray[np.float64]

PERIOD_DAYS: Final = 14
MOVE_WEEKS: Final = 6.0
"""A move weighs as much as so many weeks in a home that does not fit; chosen for this program."""
HOME_WEEKS: Final = 2.0
"""A home of the middle price weighs so much; chosen for this program."""
DANGER: Final = 3.0
"""A week in a home that it may leave or be hurt by a fall in weighs as much as so many; chosen."""
MOST_DANGER, MOST_MISFIT, MOST_BLOCKED = 0.05, 0.5, 0.8
SAC_DAYS: Final = 70
"""Sacs hatch after five to ten weeks (B) or later: no move is planned sooner."""
PUT_OFF_WEEKS: Final = 2.0
"""What it costs when premoult or hardening puts a move off; chosen for this program."""
_LATER: Final = 0.02
"""A move planned a fortnight later leaves more to be known first; chosen for this program."""


@dataclass(frozen=True)
class Planned:
    """The animals that can be planned, in the rows of the problem.

    danger, misfit   (n, V, T) chances by way; `own_misfit` (n, T) in the home each has
    blocked          (n, T) chance of premoult or hardening; `earliest` first day a move is thought of
    own              leg spans that the home each has fits
    holes            width of a round hole that holds a carapace, as a share of its length; at most so many mm
    """

    animals: tuple[Animal, ...]
    builds: tuple[Build, ...]
    rows: NDArray[np.int64]
    fits: tuple[tuple[FitRange, ...], ...]
    own: tuple[FitRange, ...]
    misfit: Floats
    danger: Floats
    own_misfit: Floats
    blocked: Floats
    earliest: tuple[date, ...]
    problem: HousingProblem
    holes: tuple[tuple[float, float], ...]


def not_planned(record: Record, animal: Animal, spans: RoomSpans) -> str:
    """Return why an animal cannot be planned, '' when it can: what is unknown is never guessed."""
    home = record.homes.get(animal.home)
    if home is None:
        return "its home is not on record"
    if body_of(home) is None:
        return f"floor and height of {home.code} are not on record"
    if animal.code not in spans.codes or not spans.measured(animal.code):
        return "it was never measured"
    return ""


def planned(
    record: Record,
    spans: RoomSpans,
    sizes: Mapping[str, SizeReport],
    forecast: ForecastReport | None,
    choice: Choice,
    book: RuleBook,
) -> Planned:
    """Work out the problem of a room. Days of `spans` are the begins of the fortnights."""
    animals = tuple(a for a in record.living() if not not_planned(record, a, spans))
    builds = tuple(build_of(record, animal, book) for animal in animals)
    rows = np.array([spans.row(animal.code) for animal in animals], dtype=np.int64)
    fitting = Fits(record, book, choice)
    fits = tuple(fitting.of(animal, build) for animal, build in zip(animals, builds, strict=True))
    own = tuple(_own_fit(record, a, b, book) for a, b in zip(animals, builds, strict=True))
    misfit, danger = _chances(spans, rows, fits, [way.most_span_mm for way in choice.ways])
    # Gaps of the home it has are covered tonight, not moved away from.
    own_misfit, own_danger = (
        each[:, 0] for each in _chances(spans, rows, [(fit,) for fit in own], [inf], gaps=False)
    )
    blocked = blocked_chance(spans, rows, [Premoult.of(book, animal) for animal in animals])
    earliest = _earliest(record, animals, sizes, forecast, book)
    isolated = quarantined(record, book)
    problem = HousingProblem(
        stay=_weeks(misfit, danger),
        own=_weeks(own_misfit, own_danger),
        enter=_entering(spans, rows, choice, misfit, danger, blocked, earliest),
        kind=np.array([way.kind for way in choice.ways], dtype=np.int64),
        own_kind=np.array([_kind_left(a, record, choice, isolated) for a in animals], dtype=np.int64),
        empty=np.array([len(kind.homes) for kind in choice.kinds], dtype=np.int64),
        price=_prices(choice),
        most=np.array([len(animals) if kind.for_sale else 0 for kind in choice.kinds], dtype=np.int64),
        ready=_ready(choice),
    )
    return Planned(
        animals, builds, rows, fits, own, misfit, danger, own_misfit, blocked, earliest, problem,
        tuple(_holes(book, animal) for animal in animals),
    )  # fmt: skip


def _holes(book: RuleBook, animal: Animal) -> tuple[float, float]:
    share = book.ask("carapace_width_share", animal).number or 0.0
    return share, book.ask("opening_most_mm", animal).number or inf


def _weeks(misfit: Floats, danger: Floats) -> Floats:
    return PERIOD_DAYS / 7.0 * (misfit + (DANGER - 1.0) * danger)


def _own_fit(record: Record, animal: Animal, build: Build, book: RuleBook) -> FitRange:
    home = record.homes[animal.home]
    return fit_range(home.body, openings_of(home) or (), build, book, animal)


def _chances(
    spans: RoomSpans,
    rows: NDArray[np.int64],
    fits: Sequence[Sequence[FitRange]],
    most: Sequence[float],
    *,
    gaps: bool = True,
) -> tuple[Floats, Floats]:
    """Chances (n, V, T) that a home does not fit, and that it may be left or be too far to fall in.

    most   leg span by way for which there is air enough; `gaps`: whether openings count
    """
    n, ways, periods = len(rows), len(most), len(spans.days)
    misfit, danger = np.zeros((n, ways, periods)), np.zeros((n, ways, periods))
    for at, row in enumerate(rows):
        if not fits[at]:
            continue
        told = [
            (each.low_mm, min(each.high_mm, top), *_dangers(each, gaps))
            for each, top in zip(fits[at], most, strict=True)
        ]
        ranges, same = np.unique(np.array(told, dtype=np.float32), axis=0, return_inverse=True)
        low, high, drop, gap = (ranges[:, column, None, None] for column in range(4))
        span, carapace = spans.span_mm[None, :, row], spans.carapace_mm[None, :, row]
        risky = (span < drop) | (carapace <= gap)
        danger[at] = risky.mean(axis=1)[same]
        misfit[at] = ((span < low) | (span > high) | risky).mean(axis=1)[same]
    return misfit, danger


def _dangers(fit: FitRange, gaps: bool) -> tuple[float, float]:
    """Leg span under which a fall is too far, carapace up to which it may leave."""
    drop = max((end.limit_mm for end in fit.ends if end.aspect == "drop"), default=0.0)
    return drop, (fit.escape_carapace_mm or 0.0) if gaps else 0.0


@dataclass(frozen=True, slots=True)
class Premoult:
    """Days around a moult on which an animal is not moved, by the room's rules."""

    share: float
    most_days: float
    limits_mm: tuple[float, ...]
    hardening_days: tuple[float, ...]

    @staticmethod
    def of(book: RuleBook, animal: Animal) -> Premoult:
        """Read the rules that count for one animal."""

        def number(key: str) -> float:
            return book.ask(key, animal).number or 0.0

        classes = ("sling", "small", "medium")
        return Premoult(
            number("premoult_share"),
            number("premoult_days_most"),
            tuple(number(f"{name}_below_span_mm") for name in classes),
            tuple(number(f"hardening_{name}_days") for name in (*classes, "large")),
        )


LEAST_PREMOULT_DAYS: Final = 2.0


def blocked_chance(spans: RoomSpans, rows: NDArray[np.int64], rules: Sequence[Premoult]) -> Floats:
    """Chance (n, T) that a day of the fortnight lies in premoult or hardening, by the moults drawn."""
    share = np.array([each.share for each in rules])
    most = np.array([each.most_days for each in rules])
    moult = spans.moult_day[:, :, rows].astype(np.float64)
    found = np.zeros((len(rows), len(spans.days)))
    last = np.zeros(moult.shape[1:])
    harden = _hardening(spans, rows, rules)
    starts, ends = [], []
    for number in range(len(moult)):
        with np.errstate(invalid="ignore"):
            interval = np.where(np.isfinite(moult[number]), moult[number] - last, 0.0)
        # The running interval began before tonight: it is at least as long as what is to come of it.
        before = np.clip(share * interval * (2.0 if number == 0 else 1.0), LEAST_PREMOULT_DAYS, most)
        starts.append(moult[number] - before)
        ends.append(moult[number] + harden)
        last = np.where(np.isfinite(moult[number]), moult[number], last)
    for column, day in enumerate(spans.ahead):
        total = np.zeros(last.shape)
        for start, end in zip(starts, ends, strict=True):
            over = np.minimum(end, day + PERIOD_DAYS) - np.maximum(start, day)
            total += np.where(np.isfinite(start), np.clip(over, 0.0, None), 0.0)
        found[:, column] = np.minimum(total / PERIOD_DAYS, 1.0).mean(axis=0)
    return found


def _hardening(spans: RoomSpans, rows: NDArray[np.int64], rules: Sequence[Premoult]) -> Floats:
    """Hardening days (n,) by the class of the middle span half way through: one figure an animal."""
    middle = np.median(spans.span_mm[:, rows, len(spans.days) // 2], axis=0)
    return np.array(
        [
            rule.hardening_days[int(np.searchsorted(rule.limits_mm, span, side="right"))]
            for rule, span in zip(rules, middle, strict=True)
        ]
    )


def _earliest(
    record: Record,
    animals: Sequence[Animal],
    sizes: Mapping[str, SizeReport],
    forecast: ForecastReport | None,
    book: RuleBook,
) -> tuple[date, ...]:
    """First day on which each may be moved as far as tonight's signs, odds and arrivals say."""
    rows = {row.animal: row for row in forecast.animals if sound(row)} if forecast is not None else {}
    found = []
    for animal in animals:
        size = size_of(animal, sizes.get(animal.code))
        s = Situation(record, book, animal, rows.get(animal.code), size, False, None)
        found.append(_may_move(s))
    return tuple(found)


def _may_move(s: Situation) -> date:
    settle = s.ask("settle_days").number or 0.0
    begun = [d for d in (s.animal.arrived.last, *(stay.first for stay in s.animal.stays)) if d is not None]
    days = [s.on, *(s.day_after(day, settle) for day in begun)]
    if s.animal.with_sac:
        days.append(s.on + timedelta(days=SAC_DAYS))
    leave = leave_alone(s)
    if leave is not None:
        days.append(leave.until or s.on + timedelta(days=PERIOD_DAYS))
    elif watched(s) is not None:
        days.append(s.on + timedelta(days=PERIOD_DAYS))
    return max(days)


def _entering(
    spans: RoomSpans,
    rows: NDArray[np.int64],
    choice: Choice,
    misfit: Floats,
    danger: Floats,
    blocked: Floats,
    earliest: Sequence[date],
) -> Floats:
    """Cost (n, V, T) of moving in: dearer the likelier it is put off, and late in a male's life."""
    late = (~spans.female[:, rows, None] & (spans.mature_day[:, rows, None] <= spans.ahead)).mean(axis=0)
    base = MOVE_WEEKS * (1.0 + 2.0 * late) + PUT_OFF_WEEKS * blocked
    ahead = np.arange(len(spans.days))[::-1]
    usual = np.array([way.order for way in choice.ways])
    cost = base[:, None, :] + _LATER * ahead + 0.01 * usual[None, :, None]
    too_soon = np.array([[day < first for day in spans.days] for first in earliest], dtype=np.bool_)
    too_soon = too_soon.reshape(len(rows), len(spans.days))
    refused = (danger > MOST_DANGER) | (misfit > MOST_MISFIT)
    refused |= ((blocked > MOST_BLOCKED) | too_soon)[:, None, :]
    return np.where(refused, np.inf, cost)


def _kind_left(animal: Animal, record: Record, choice: Choice, isolated: frozenset[str]) -> int:
    """The kind of its home, if somebody else may use it later: not from quarantine, not while shared."""
    home = record.homes[animal.home]
    if animal.code in isolated or len(home.occupants) != 1:
        return NOBODY
    return choice.kind_of_home.get(home.code, NOBODY)


def _prices(choice: Choice) -> Floats:
    known = [float(kind.price) for kind in choice.kinds if kind.price is not None]
    middle = float(np.median(known)) if known else 1.0
    return np.array([_weight(kind, middle) for kind in choice.kinds], dtype=np.float64)


def _ready(choice: Choice) -> NDArray[np.int64]:
    """First fortnight in which a bought home is there; a fortnight where the days are not known."""
    lead = [kind.supply.body.lead_days if kind.supply is not None else None for kind in choice.kinds]
    return np.array([1 if days is None else -(-days // PERIOD_DAYS) for days in lead], dtype=np.int64)


def _weight(kind: HomeKind, middle: float) -> float:
    if kind.price is None or not middle:
        return _by_size(kind.body.inner_length_mm)
    return HOME_WEEKS * float(kind.price) / middle


def _by_size(length_mm: float | None) -> float:
    """Weight of a home without a price: larger ones weigh a little more, so that none is needlessly large."""
    return 0.5 + min((length_mm or 200.0) / 400.0, 1.5)
