"""A run of refusals: put down to a coming moult, or a reason to look at the animal. The one place for both.

Whether premoult explains it is a chance worked out from all that was offered, taken and seen
(docs/appetite.md). From `streak_premoult_odds` on it is left alone for `try_again_days` and then offered one
pre-killed prey; below, it is looked at from outside: water first, then warmth, then whether it hides. Neither
is a diagnosis.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean

from nightround.plans.situation import Situation
from nightround.plans.words import ago, count, percent
from nightround.reports.tonight import RuleUsed

WARMTH_DAYS = 7


@dataclass(frozen=True, slots=True)
class Streak:
    """Offers in a row refused or left uneaten, enough of them that something is to be said.

    since, last   days of the first and of the last of them
    premoult      chance that premoult has begun (None: nothing says how near a moult is)
    own           chance that it fasts for a reason of its own; what is left is hardening, or chance
    explained     whether the run is put down to a coming moult
    """

    run: int
    since: date
    last: date
    premoult: float | None
    own: float | None
    explained: bool
    rules: tuple[RuleUsed, ...]


def streak_of(s: Situation) -> Streak | None:
    """Return its run of refusals since the last moult when it is a streak; a mature male has none."""
    least, limit = s.ask("refusal_streak"), s.ask("streak_premoult_odds")
    if s.refusals is None or s.animal.mature_male or s.refusals.run < (least.number or 3):
        return None
    note = s.forecast.appetite if s.forecast else None
    premoult = note.in_premoult if note is not None else None
    own = note.unexplained if note is not None else None
    explained = premoult is not None and premoult >= (limit.number or 1.0)
    run = s.refusals
    return Streak(run.run, run.since, run.last, premoult, own, explained, (least.used, limit.used))


def before_a_moult(s: Situation) -> bool:
    """Whether a streak of refusals is put down to a coming moult."""
    streak = streak_of(s)
    return streak is not None and streak.explained


def unexplained(s: Situation) -> Streak | None:
    """Return the streak that calls for a look: neither a coming moult nor the last one explains it.

    A look since settles it. Where hardening or chance is likelier than a fast of its own, nothing is asked.
    """
    streak = streak_of(s)
    if streak is None or streak.explained or _looked_at(s, streak):
        return None
    if streak.premoult is not None and streak.own is not None:
        return streak if streak.own > 1.0 - streak.premoult - streak.own else None
    return streak


def _looked_at(s: Situation, streak: Streak) -> bool:
    """Whether it was looked at after the last refusal, or lately in the course of the run."""
    if s.looked_on is None:
        return False
    lately = (s.on - s.looked_on).days < (s.ask("look_again_days").number or 0.0)
    return s.looked_on > streak.last or (lately and s.looked_on >= streak.since)


def told(s: Situation, streak: Streak) -> str:
    """Say the run, and how far a coming moult explains it."""
    words = f"Took none of the last {streak.run} offers, since {ago(streak.since, s.on)}"
    if streak.premoult is None:
        return f"{words}; nothing says how near a moult is"
    share = s.elapsed_share
    passed = f"; {percent(share)} of the usual interval is past" if share is not None else ""
    begun = f"{percent(streak.premoult)} that premoult has begun"
    return f"{words}, and a coming moult does not explain it well: {begun}{passed}"


def what_to_see(s: Situation) -> tuple[str, ...]:
    """Return what to look at, in this order, with what is on record: water, warmth, hiding."""
    return (
        f"Water first: {_drink(s)}. A filled dish or drops, whatever else",
        f"Then warmth: {_warmth(s)}",
        "Then whether it hides or is webbed in: a reason to wait, not to open anything",
    )


def _drink(s: Situation) -> str:
    days = (*s.animal.drink_given, *s.animal.drank)
    return (
        f"last chance to drink on record {ago(max(days), s.on)}" if days else "no chance to drink on record"
    )


def _warmth(s: Situation) -> str:
    """The mean of its place's readings over the last days; silent about what is right for it."""
    place = s.record.places.get(s.animal.place)
    since, found = s.on - timedelta(days=WARMTH_DAYS - 1), []
    for reading in reversed(place.readings if place is not None else ()):
        if reading.when.last is None or reading.when.last < since:
            break
        if reading.temperature_c is not None and reading.statistic in ("mean", "reading"):
            found.append(reading.temperature_c)
    if not found:
        return f"no reading where it stands in the last {count(WARMTH_DAYS, 'day')}: take one"
    return f"{s.animal.place} read {fmean(found):.1f} °C on average over the last {count(WARMTH_DAYS, 'day')}"
