"""Ages at death and at maturity from the record, held against claims of life span and years to maturity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from nightround.findings.claims_read import YEAR_DAYS, Limits, amount_words
from nightround.findings.claims_words import Found, of_e
from nightround.foundation.wording import counted, day_words
from nightround.record.make_histories import moult_windows
from nightround.record.model import Animal, Record
from nightround.reports.claims import Evidence
from nightround.science.claims.settle import Fate, Needed, needed
from nightround.science.claims.waits import (
    SINCE_HATCHING_DAYS,
    Held,
    Waits,
    against_middle,
    against_range,
)

_NEVER: Final = float("inf")
LIFE_ASSUMED: Final = (
    "every death counts, of whatever cause; sold and escaped animals count to their last sign of life",
    "an animal whose age is still open counts as inside the range: that can only weaken evidence",
)
MATURE_ASSUMED: Final = (
    "a male's maturing moult is the one before he was seen mature; of a female only the day by which she was "
    "is known",
)


@dataclass(frozen=True, slots=True)
class Age:
    """Ages in days of one animal: see `science.claims.waits`; `why` where it cannot speak of ranges."""

    animal: Animal
    entry: float
    without: float
    by: float
    why: str = ""


def since_sexed(record: Record, ages: Sequence[Age]) -> list[Age]:
    """Let watching begin when the sex was first written, for claims about one sex.

    Those that died too young to be sexed are not among the females: the others were known to live so long.
    """
    return [_since_sexed(record, age) for age in ages]


def _since_sexed(record: Record, age: Age) -> Age:
    days = [
        entry.when.last
        for number in age.animal.entries
        if (entry := record.entries.get(number)) is not None and getattr(entry.body, "sex", None)
    ]
    known = min((day for day in days if day is not None), default=None)
    hatched = age.animal.hatched.first
    if known is None or hatched is None or age.entry == _NEVER:
        return age
    told = max(age.entry, _days(hatched, known))
    if told > SINCE_HATCHING_DAYS and age.by <= told:
        return replace(age, entry=_NEVER, why="its sex was written only when it had happened")
    return replace(age, entry=told)


def life_ages(record: Record, animals: Sequence[Animal]) -> list[Age]:
    """Return the ages at death; unknown hatching leaves the time in care, which an age is at least."""
    return [_life(record, animal) for animal in animals]


def _life(record: Record, animal: Animal) -> Age:
    begun = _watched_from(record, animal)
    seen = animal.ended.first if animal.status == "dead" and animal.ended else animal.last_life
    hatched_first, hatched_last = animal.hatched.first, animal.hatched.last
    if hatched_first is None or hatched_last is None:
        care = _days(begun, seen) if begun and seen else 0.0
        return Age(animal, _NEVER, max(0.0, care), _NEVER, "its hatching is not known: only its time in care")
    entry = max(0.0, _days(hatched_first, begun)) if begun else _NEVER
    without = max(0.0, _days(hatched_last, seen)) if seen else 0.0
    dead = animal.ended.last if animal.status == "dead" and animal.ended else None
    by = max(without, _days(hatched_first, dead)) if dead else _NEVER
    return Age(animal, entry, without, by, "" if begun else "when it came is not known")


def maturity_ages(record: Record, animals: Sequence[Animal]) -> list[Age]:
    """Return the ages at maturity, as far as a male's last moult and the day it was noted tell them."""
    return [_maturity(record, animal) for animal in animals]


def _maturity(record: Record, animal: Animal) -> Age:
    life = _life(record, animal)
    first, last = animal.hatched.first, animal.hatched.last
    if first is None or last is None:
        return Age(animal, _NEVER, 0.0, _NEVER, "its hatching is not known")
    windows = moult_windows(record, animal)
    noted = animal.matured.last if animal.matured else None
    begun = _watched_from(record, animal)
    before = [window for window in windows if noted is None or window.first <= noted]
    if noted and begun and not any(window.first >= begun for window in before):
        return Age(animal, _NEVER, 0.0, _NEVER, "it may have been mature when it came")
    if animal.sex != "male":
        return Age(animal, life.entry, 0.0, max(0.0, _days(first, noted)) if noted else _NEVER, life.why)
    # He does not moult again once mature: up to his latest moult he was young.
    without = max(0.0, _days(last, before[-1].first)) if before else 0.0
    by = _NEVER
    if noted is not None:
        by = max(without, _days(first, min(noted, before[-1].last) if before else noted))
    return Age(animal, life.entry, without, by, life.why)


def _watched_from(record: Record, animal: Animal) -> date | None:
    known = animal.arrived.last or animal.promoted.last
    if known is not None:
        return known
    days = [record.entries[number].when.last for number in animal.entries if number in record.entries]
    return min((day for day in days if day is not None), default=None)


def _days(first: date, last: date) -> float:
    return float((last - first).days)


def judge_ages(record: Record, ages: list[Age], limits: Limits, kind: str) -> Found:
    """Hold ages against a claim: extremes by what is sure, typical ranges by fair bets."""
    if limits.sense == "maximum" or (limits.sense == "minimum" and kind != "life_span"):
        return _extreme(record, ages, limits, kind)
    held_by = against_middle if limits.sense == "middle" else against_range
    waits = _waits(ages)
    held = held_by(waits, limits.low, limits.high)
    assumed = [*(LIFE_ASSUMED if kind == "life_span" else MATURE_ASSUMED), *limits.assumed]
    if limits.sense == "minimum":
        assumed.append("a shortest life is read as: nine in ten live so long")
    settle, day = _settle(record, ages, waits, held, limits, kind)
    return Found(
        of_e(held.against, held.support), _summary(held, limits, kind), held.against, held.support, None,
        int(held.counted.sum()), _evidence(ages, held, kind), settle, day, tuple(assumed),
    )  # fmt: skip


def _waits(ages: Sequence[Age]) -> Waits:
    rows = [(age.entry, age.without, age.by) for age in ages]
    columns = np.array(rows, dtype=np.float64).reshape(len(rows), 3).T
    return Waits(columns[0], columns[1], columns[2])


def _extreme(record: Record, ages: list[Age], limits: Limits, kind: str) -> Found:
    """A stated maximum falls to one animal surely older; a minimum to one surely earlier."""
    top = limits.sense == "maximum"
    beyond = [age for age in ages if (age.without > limits.high if top else age.by < limits.low)]
    known = [age for age in ages if age.without > 0 or age.by != _NEVER]
    evidence = tuple(
        Evidence(
            age.animal.code, _age_words(age, kind), "against" if age in beyond else "open", _entries(age)
        )
        for age in sorted(known, key=lambda age: -age.without)[:12]
    )
    limit = amount_words(limits.high if top else limits.low, kind)
    if beyond:
        words = f"{counted(len(beyond), 'animal')} surely {'past' if top else 'before'} {limit}"
        return Found(
            "contradicted", words, None, None, 1.0, len(known), evidence, (), None, limits.assumed
        )  # fmt: skip
    words = f"none of {counted(len(known), 'animal')} is surely {'past' if top else 'before'} {limit}"
    settle, day = _first_past(record, ages, limits.high, limit) if top else ((), None)
    told = (*limits.assumed, "records can contradict a stated extreme; that nobody passed it proves nothing")
    return Found("no_evidence", words, None, None, 0.0, len(known), evidence, settle, day, told)


def _first_past(
    record: Record, ages: list[Age], high: float, limit: str
) -> tuple[tuple[str, ...], date | None]:
    here = [age for age in ages if age.animal.here and age.by == _NEVER]
    if not here:
        return (f"an animal kept past {limit}",), None
    oldest = max(here, key=lambda age: age.without)
    day = _on(record, high - oldest.without)
    when = f", about {day_words(day)} if it lives" if day else ""
    return (f"{oldest.animal.code} alive past {limit}{when}",), day


def _on(record: Record, days: float) -> date | None:
    """Return the day so many days ahead; None beyond what a calendar holds."""
    try:
        return record.on + timedelta(days=round(max(0.0, days)))
    except OverflowError:
        return None


def _settle(
    record: Record, ages: list[Age], waits: Waits, held: Held, limits: Limits, kind: str
) -> tuple[tuple[str, ...], date | None]:
    """What would settle it, and about when at the earliest."""
    held_by = against_middle if limits.sense == "middle" else against_range
    living = np.array([age.animal.here for age in ages], dtype=np.bool_)
    ages_now = np.array([_age_now(record, age) for age in ages])
    fates: list[Fate] = ["above"] if limits.high != _NEVER else []
    fates += ["below"] if limits.low > 0 else []
    fates += ["inside"]
    if held.against >= 20.0:
        return (), None
    told, days = [], []
    for fate in fates:
        if fate == "inside" and held.support >= 20.0:
            continue
        found = needed(waits, living, ages_now, limits.low, limits.high, fate, held_by)
        if found is None:
            continue
        told.append(_needed_words(record, found, limits, kind))
        # A death may come any day: a date is told only for what cannot come sooner.
        if fate != "below" and not found.new and np.isfinite(found.days):
            days.append(found.days)
    return tuple(told), _on(record, min(days)) if days else None


def _age_now(record: Record, age: Age) -> float:
    """Age on the record's day, at least, of an animal that is alive."""
    hatched = age.animal.hatched.last
    return age.without if hatched is None else max(age.without, _days(hatched, record.on))


def _needed_words(record: Record, found: Needed, limits: Limits, kind: str) -> str:
    event = "die" if kind == "life_span" else "mature"
    low, high = (
        amount_words(limits.low, kind),
        amount_words(limits.high, kind) if limits.high < _NEVER else "",
    )
    inside = f"from {low} to {high}" if high else f"from {low} on"
    if limits.low <= 0:
        inside = f"up to {high}"
    doing = {
        "above": f"pass {high}" + ("" if kind == "life_span" else " without being mature"),
        "below": f"{event} before {low}",
        "inside": f"{event} {inside}",
    }[found.fate]
    settles = "supported" if found.fate == "inside" else "contradicted"
    who = f"{counted(found.number, 'more animal')} that {doing if found.number != 1 else _one(doing)}"
    if found.new:
        who += f", {found.new} of them beyond those watched now"
    elif found.fate != "below" and np.isfinite(found.days):
        day = _on(record, found.days)
        who += f" (not before {day_words(day)})" if day else ""
    return f"{settles} by {who}, if all go this way and none is added"


def _one(doing: str) -> str:
    verb, _, rest = doing.partition(" ")
    return f"{'passes' if verb == 'pass' else verb + 's'} {rest}"


def _summary(held: Held, limits: Limits, kind: str) -> str:
    n = int(held.counted.sum())
    event = "died" if kind == "life_span" else "matured"
    if not n:
        return f"no animal was watched from early enough to speak of ages when they {event}"
    passed = "outlived it" if kind == "life_span" else "passed it without being mature"
    parts = [
        f"{int(held.below.sum())} {event} before it" if limits.low > 0 else "",
        f"{int(held.above.sum())} {passed}" if limits.high != _NEVER else "",
        f"{int(held.inside.sum())} {event} inside it",
        f"{int(held.open.sum())} still open",
    ]
    return f"of {counted(n, 'animal')}: " + ", ".join(filter(None, parts))


def _evidence(ages: list[Age], held: Held, kind: str) -> tuple[Evidence, ...]:
    found = []
    for at, age in enumerate(ages):
        if not held.counted[at]:
            why = age.why or "watched only from an age at which the claim lets some be gone already"
            found.append(Evidence(age.animal.code, why, "nothing", _entries(age)))
            continue
        out = held.below[at] or held.above[at]
        speaks = "against" if out else "for" if held.inside[at] else "open"
        found.append(Evidence(age.animal.code, _age_words(age, kind), speaks, _entries(age)))  # type: ignore[arg-type]
    order = {"against": 0, "for": 1, "open": 2, "nothing": 3}
    return tuple(sorted(found, key=lambda each: (order[each.speaks], each.animal)))


def _age_words(age: Age, kind: str) -> str:
    event = "died" if kind == "life_span" else "mature"
    low, high = (f"{value / YEAR_DAYS:.1f}" for value in (age.without, min(age.by, 1e6)))
    if age.by == _NEVER:
        state = "alive" if kind == "life_span" else "not mature"
        least = "at least " if age.entry == _NEVER else ""
        if kind != "life_span" and age.without <= 0:
            return "not known to be mature; no moult tells how long it was not"
        return f"{state} at {least}{low} years"
    return f"{event} at {low} years" if low == high else f"{event} between {low} and {high} years"


def _entries(age: Age) -> tuple[int, ...]:
    return age.animal.entries[:1] + age.animal.entries[-1:]
