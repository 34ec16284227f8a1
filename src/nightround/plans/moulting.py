"""Whether to leave it alone: on its back, with a sac, hardening after a moult, or near the next one.

The rule, in this order (the first that holds is the reason; a sign or a known moult outranks odds):
1. on its back, until something later says that this is over: nothing at all, not even water;
2. with an egg sac;
3. hardening: from the last day on which it may have moulted until black fangs are seen, else until the days
   for its size have passed; soft fangs seen later start the days anew; seen on its back without a moult on
   record since counts as a moult that day;
4. a sign of premoult (dark patch, moult mat, sealed burrow; a fat abdomen only together with refusals), for
   half the interval, at least 7 and at most `signs_hold_days` days;
5. odds: P(moult within h days) reaches `premoult_odds`, where h = `premoult_share` of the whole interval, at
   least 2 and at most `premoult_days_most` days: an interval of 20 days asks for 4, one of a year for 14;
6. a streak of refusals that a coming moult explains (`plans.refusals`), for `try_again_days` after the last.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from nightround.foundation.wording import day_words
from nightround.plans.refusals import streak_of
from nightround.plans.rules import RuleValue
from nightround.plans.situation import Situation
from nightround.plans.words import HANDS_OFF, NO_DIGGING, ago, count, percent
from nightround.reports.tonight import Job, RuleUsed

Cause = Literal["back", "sac", "hardening", "sign", "odds", "refusals"]

LEAST_PREMOULT_DAYS = 2.0
LEAST_SIGN_DAYS = 7.0


@dataclass(frozen=True, slots=True)
class Leave:
    """Why it is left alone, until about when, and how sure that is."""

    cause: Cause
    reason: str
    until: date | None
    sureness: str
    rules: tuple[RuleUsed, ...] = ()
    why: tuple[str, ...] = ()


def leave_alone(s: Situation) -> Leave | None:
    """Return why it is to be left alone tonight, None when it is not."""
    return _back(s) or _sac(s) or _hardening(s) or _sign(s) or _odds(s) or _refusals(s)


def _back(s: Situation) -> Leave | None:
    day = s.signs.back
    if day is None:
        return None
    reason = f"On its back, seen {ago(day, s.on)}: moulting"
    return Leave("back", reason, None, "as seen; a moult takes hours")


def _sac(s: Situation) -> Leave | None:
    if not s.animal.with_sac:
        return None
    return Leave("sac", "With an egg sac", None, "as recorded; common practice, no source")


def hardening_rule(s: Situation) -> RuleValue:
    """Return the days without prey after a moult for its size."""
    return s.ask(f"hardening_{s.size_class}_days")


def _hardening(s: Situation) -> Leave | None:
    signs, rule = s.signs, hardening_rule(s)
    if signs.black_fangs is not None:
        return None
    starts = [day for day in (s.moulted_on, signs.soft_fangs, signs.back_over) if day is not None]
    if not starts or rule.number is None:
        return None
    start = max(starts)
    end = s.day_after(start, rule.number)
    if s.on > end:
        return None
    if start == signs.soft_fangs:
        what = f"Fangs were still soft {ago(start, s.on)}"
    elif start == s.moulted_on:
        what = f"Moulted {ago(start, s.on)}"
    else:
        what = f"Was on its back {ago(start, s.on)}: take it for a moult"
    reason = f"{what}; no prey until black fangs are seen, else until {day_words(end, s.on)}"
    size = "size unknown: the longest" if s.size_class == "unknown" else f"its size: {s.size_class}"
    sure = f"{rule.used.value} ({size}); black fangs would end it sooner"
    return Leave("hardening", reason, end, sure, (rule.used,))


def _sign(s: Situation) -> Leave | None:
    hold, signs = s.ask("signs_hold_days"), s.signs
    days = _hold_days(s, hold.number or 0.0)
    found = [
        (day, words)
        for day, words in (
            (signs.dark_patch, "dark patch"),
            (signs.moult_mat, "moult mat"),
            (signs.sealed, "sealed its retreat"),
            (signs.fat if s.refusals and s.refusals.run >= 2 else None, "fat abdomen and refusals"),
        )
        if day is not None and (s.on - day).days <= days
    ]
    if not found:
        return None
    day = max(day for day, _ in found)
    words = ", ".join(words for _, words in found)
    until = s.day_after(day, days)
    reason = f"A moult may be near: {words}, seen {ago(day, s.on)}{_chance(s, 14)}"
    sure = "signs of premoult as seen (B); they do not date the moult"
    return Leave("sign", reason, until, sure, (hold.used,))


def _hold_days(s: Situation, most: float) -> float:
    """Days for which a sign holds: half the interval, so that a missed moult starves no spiderling."""
    return most if s.interval_days is None else min(most, max(s.interval_days / 2, LEAST_SIGN_DAYS))


def premoult_days(s: Situation, most: float) -> float:
    """Return how many days ahead the odds count: a share of the interval, between 2 and `most`."""
    share = s.ask("premoult_share").number or 0.0
    if s.interval_days is None:
        return most
    return min(max(share * s.interval_days, LEAST_PREMOULT_DAYS), most)


def _odds(s: Situation) -> Leave | None:
    limit, most = s.ask("premoult_odds"), s.ask("premoult_days_most")
    days = premoult_days(s, most.number or 0.0)
    chance = s.moult_within(days)
    if chance is None or limit.number is None or chance < limit.number:
        return None
    until = s.day_after(s.on, s.median_days) if s.median_days is not None else None
    reason = f"A moult is near: {percent(chance)} within {count(round(days), 'day')}{_since(s)}"
    rules = (limit.used, s.ask("premoult_share").used, most.used)
    return Leave("odds", reason, until, rests_on(s), rules, _reasons(s))


def _refusals(s: Situation) -> Leave | None:
    streak = streak_of(s)
    if streak is None or streak.premoult is None or not streak.explained:
        return None
    again = s.ask("try_again_days")
    until = s.day_after(streak.last, again.number or 0)
    if s.on >= until:
        return None
    begun = f"{percent(streak.premoult)} that premoult has begun{_since(s)}"
    reason = f"Took none of the last {streak.run} offers: {begun}{_chance(s, 30)}"
    return Leave("refusals", reason, until, rests_on(s), (*streak.rules, again.used), _reasons(s))


def watched(s: Situation) -> float | None:
    """Return the chance of a moult in the wider premoult time when it is high enough to be careful."""
    days = premoult_days(s, s.ask("watch_days_most").number or 0.0)
    chance = s.moult_within(days)
    limit = s.ask("watch_odds").number
    return chance if chance is not None and limit is not None and chance >= limit else None


def rests_on(s: Situation) -> str:
    """Say what the odds rest on."""
    if s.next_moult is None:
        return "no forecast"
    n, k = s.next_moult.n_animals, s.next_moult.n_intervals
    if n == 0:
        return "published figures only, none of these animals' own (n = 0)"
    return f"odds from {count(n, 'animal')} of its kind, {count(k, 'interval')}"


def _reasons(s: Situation) -> tuple[str, ...]:
    """What the forecast rests on, in one line: 'refused 3 of 3 since 12 Nov; 78 % of the usual warmth'."""
    reasons = s.next_moult.reasons if s.next_moult is not None else ()
    return ("; ".join(reasons),) if reasons else ()


def _since(s: Situation) -> str:
    return f", {count(s.days_since_moult, 'day')} since the last" if s.days_since_moult is not None else ""


def _chance(s: Situation, days: int) -> str:
    chance = s.moult_within(days)
    return f"; {percent(chance)} within {days} days" if chance is not None else ""


_RANKS: dict[Cause, float] = {"back": 0, "hardening": 30, "sign": 31, "odds": 32, "refusals": 33, "sac": 34}


def leave_job(s: Situation, leave: Leave) -> Job:
    """Return the job of leaving it alone: no prey, no disturbance; water goes on except on its back."""
    if leave.cause == "back":
        return _nothing(s, leave)
    near = ("Water goes on, gently and away from the animal",) if leave.cause != "sac" else (
        "Water goes on, gently and away from animal and sac",
    )  # fmt: skip
    return Job(
        action="leave_alone",
        title="Leave it alone: no prey, no disturbance",
        reason=leave.reason,
        why=(*leave.why, *near),
        rank=_RANKS[leave.cause],
        until=leave.until,
        sureness=leave.sureness,
        rules=leave.rules,
        cautions=(NO_DIGGING,) if s.signs.sealed is not None else (),
    )


def _nothing(s: Situation, leave: Leave) -> Job:
    why: tuple[str, ...] = ()
    if s.open_offers:
        why = (
            "Prey was offered and nobody has seen what became of it: if live prey is beside the spider, "
            "lifting it out without touching spider, web or home is the one exception",
        )
    return Job(
        action="leave_alone",
        title="Do nothing at all: no prey, no water, no touch",
        reason=leave.reason,
        why=why,
        rank=_RANKS["back"],
        sureness=leave.sureness,
        cautions=(HANDS_OFF,),
    )
