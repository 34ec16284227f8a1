"""Looks from outside: something does not fit, a moult is overdue, or nobody has seen it for long."""

from __future__ import annotations

from datetime import date

from nightround.plans.hazards import hazard_of
from nightround.plans.moulting import Leave, hardening_rule, rests_on
from nightround.plans.refusals import told, unexplained, what_to_see
from nightround.plans.situation import Situation
from nightround.plans.words import ASK_VET, HANDS_OFF, NO_DIGGING, ago, count, percent
from nightround.reports.tonight import Job, RuleUsed

LOOK_RANK = 20.0
BACK_DAYS = 1

_Reason = tuple[float, str, str, tuple[RuleUsed, ...], tuple[str, ...]]


def look_job(s: Situation, leave: Leave | None) -> Job | None:
    """Return one look with all its reasons, the most pressing first; None when nothing calls for it."""
    asked: tuple[_Reason | None, ...] = (_back(s),)
    if s.signs.back is None:
        asked = (_back_over(s), _shrunken(s), _unseen(s), _overdue(s), _streak(s, leave), _long(s))
    found = [reason for reason in asked if reason is not None]
    if not found:
        return None
    found.sort(key=lambda reason: reason[0])
    cautions = tuple(dict.fromkeys(caution for reason in found for caution in reason[4]))
    first = found[0]
    streak = unexplained(s) if leave is None else None
    see = what_to_see(s) if streak is not None and s.signs.back is None else ()
    return Job(
        action="look",
        title="Look from outside first" if s.signs.back is None else "Look from outside, without touching",
        reason=first[1],
        why=(*(reason[1] for reason in found[1:]), *see),
        rank=first[0],
        sureness=first[2],
        rules=tuple(dict.fromkeys(rule for reason in found for rule in reason[3])),
        cautions=cautions,
    )


def _settled(s: Situation) -> bool:
    """Whether a look that found it is recent enough to settle a doubt."""
    days = s.ask("look_again_days").number or 0.0
    return s.looked_on is not None and (s.on - s.looked_on).days < days


def _back(s: Situation) -> _Reason | None:
    day = s.signs.back
    if day is None or (s.on - day).days <= BACK_DAYS:
        return None
    words = f"On its back since {ago(day, s.on)} at least, and nothing on record since"
    return (1.0, words, "as recorded", (), (HANDS_OFF, NO_DIGGING, ASK_VET))


def _back_over(s: Situation) -> _Reason | None:
    day = s.signs.back_over
    if day is None or (s.on - day).days > (hardening_rule(s).number or 0.0):
        return None
    words = f"It was on its back {ago(day, s.on)}, and no moult is on record: is there a shed skin?"
    return (LOOK_RANK, words, "as recorded", (), (NO_DIGGING,))


def _shrunken(s: Situation) -> _Reason | None:
    day = s.signs.shrunken
    if day is None or (s.looked_on and s.looked_on > day):
        return None
    words = f"Abdomen shrunken, seen {ago(day, s.on)}: has it water to drink?"
    return (LOOK_RANK + 0.5, words, "as seen", (), (ASK_VET,))


def _unseen(s: Situation) -> _Reason | None:
    rule = s.ask("unseen_odds")
    if rule.number is None or s.unseen < rule.number:
        return None
    since = f" {ago(s.animal.last_look, s.on)}" if s.animal.last_look else ""
    words = f"It may have moulted unseen since the last look{since}: {percent(s.unseen)}"
    return (LOOK_RANK + 1 - round(s.unseen / 2, 3), words, rests_on(s), (rule.used,), (NO_DIGGING,))


def _overdue(s: Situation) -> _Reason | None:
    rule = s.ask("overdue_level")
    level = s.forecast.elapsed_level if s.forecast else None
    if level is None or rule.number is None or level < rule.number or _settled(s):
        return None
    elapsed = f"{count(s.days_since_moult, 'day')} since the last moult: " if s.days_since_moult else ""
    words = f"{elapsed}beyond the {percent(rule.number)} point of the expected; was a moult missed?"
    return (LOOK_RANK + 2, words, rests_on(s), (rule.used,), (NO_DIGGING,))


def _streak(s: Situation, leave: Leave | None) -> _Reason | None:
    """A run of refusals that no coming moult explains; whatever says to leave it alone comes before it."""
    streak = unexplained(s) if leave is None else None
    if streak is None:
        return None
    sure = "a run of refusals has many causes; fasts of months are on record (C)"
    return (LOOK_RANK + 3, told(s, streak), sure, streak.rules, (NO_DIGGING, *_hands_out(s), ASK_VET))


def _hands_out(s: Situation) -> tuple[str, ...]:
    """The mark of its kind beside the words to look into its home, where there is one."""
    mark = hazard_of(s.animal.taxon, s.taxon)
    return (f"Keep hands out of its home. {mark}",) if mark else ()


def _life(s: Situation) -> date | None:
    days = [day for day in (s.animal.last_life, s.animal.last_look, s.animal.arrived.last) if day is not None]
    return max(days, default=None)


def _long(s: Situation) -> _Reason | None:
    key = "not_seen_sling_days" if s.stage == "sling" else "not_seen_days"
    if s.signs.sealed is not None:
        key = "not_seen_sealed_days"
    rule, last = s.ask(key), _life(s)
    if rule.number is None:
        return None
    if last is None:
        words = "No sign of life on record"
        return (LOOK_RANK + 5, words, "as recorded", (rule.used,), (NO_DIGGING,))
    days = (s.on - last).days
    if days <= rule.number:
        return None
    tried = sum(1 for day in s.animal.not_found if day > last)
    words = f"No sign of life for {count(days, 'day')}"
    if tried:
        words += f", looked for and not seen {count(tried, 'time')}"
    urgency = round(min(days / rule.number, 10.0) / 10, 3)
    return (LOOK_RANK + 5 - urgency, words, "as recorded", (rule.used,), (NO_DIGGING,))
