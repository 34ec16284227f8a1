"""Feeding tonight: exactly one of offer, leave alone or wait, and which prey, always on the gentle side."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightround.foundation.quantities import both
from nightround.foundation.wording import day_words
from nightround.plans.moulting import Leave, leave_job, rests_on, watched
from nightround.plans.refusals import before_a_moult
from nightround.plans.rules import RuleValue
from nightround.plans.situation import Situation
from nightround.plans.words import ago, count, percent, things
from nightround.reports.tonight import Job, OfferAdvice, RuleUsed

OFFER_RANK, WAIT_RANK = 40.0, 90.0


@dataclass(frozen=True, slots=True)
class PreySize:
    """The longest prey in mm with the rules behind it; None when the size of the animal is unknown."""

    most_mm: float | None
    alive: bool
    words: str
    rules: tuple[RuleUsed, ...] = ()


# Upper end of what each feeder measures alive in mm, smallest first, with the grade of the figure.
# One kind a row: the advised kind is what the usual tap writes down.
SMALL_PREY: tuple[tuple[float, str, str], ...] = (
    (2.0, "springtail", "MEM: 1–2 mm"),
    (2.6, "flightless fruit fly (melanogaster)", "A: 2.5–2.6 mm measured"),
    (3.0, "pinhead cricket", "C: 2–3 mm; or a flightless fruit fly (hydei), D: 3 mm"),
)
LARGER_PREY_FROM_MM = 4.0
_KNOWN_FEEDERS = ("cricket", "roach", "locust", "mealworm", "superworm", "waxworm")


def feeding_job(s: Situation, leave: Leave | None) -> Job:
    """Return the one feeding job of the animal tonight."""
    if leave is not None:
        return leave_job(s, leave)
    return _wait(s) or _offer(s)


def interval_rule(s: Situation) -> RuleValue:
    """Return the days between offers for its stage; adult light web-builders are fed as the young are."""
    rule = s.ask(f"feed_{s.stage}_days")
    if s.stage == "adult" and s.build.light_web and not rule.used.overruled:
        return s.ask("feed_web_days")
    return rule


def _wait(s: Situation) -> Job | None:
    unseen = s.ask("unseen_odds")
    if unseen.number is not None and s.unseen >= unseen.number:
        reason = f"{percent(s.unseen)} that it has moulted since the last look: look first, then offer"
        return _waiting(reason, "Offer nothing before you have looked", rests_on(s), (unseen.used,))
    if s.on in s.animal.passed_over:
        return _waiting("Passed over tonight", "Nothing to offer", "as recorded", ())
    rule = interval_rule(s)
    if rule.number is None:
        return _waiting("By your rule it is not offered prey", "Nothing to offer", "your rule", (rule.used,))
    settle = s.ask("settle_feed_days")
    arrived = s.animal.arrived.last
    if s.offered_on is None and arrived and settle.number and (s.on - arrived).days < settle.number:
        first = s.day_after(arrived, settle.number)
        reason = f"Arrived {ago(arrived, s.on)}; first offer from {day_words(first, s.on)}"
        return _waiting(reason, "Let it settle", "a rule, not a measurement", (settle.used,), first)
    if s.offered_on is None or s.days_since_offer is None or s.days_since_offer >= rule.number:
        return None
    due = s.day_after(s.offered_on, rule.number)
    told = "Offered tonight" if s.days_since_offer == 0 else f"Last offer {ago(s.offered_on, s.on)}"
    reason = f"{told}; next {day_words(due, s.on)}, every {rule.used.value}"
    return _waiting(reason, "Nothing to offer tonight", "a rule, not a measurement", (rule.used,), due)


def _waiting(
    reason: str, title: str, sureness: str, rules: tuple[RuleUsed, ...], until: date | None = None
) -> Job:
    return Job("wait", title, reason, rank=WAIT_RANK, until=until, sureness=sureness, rules=rules)


def _offer(s: Situation) -> Job:
    rule, advice = interval_rule(s), offer_advice(s)
    size = prey_size(s)
    if s.offered_on is None:
        reason = "No offer on record"
        urgency = 1.0
    else:
        reason = f"Last offer {ago(s.offered_on, s.on)}; every {rule.used.value}"
        urgency = round(min((s.days_since_offer or 0) / (rule.number or 1.0) / 10, 0.99), 3)
    chance = s.moult_within(14)
    if chance is not None:
        basis = f"{count(_n(s), 'animal')} like it" if _n(s) else "published figures only"
        reason += f"; {percent(chance)} to moult within 14 days ({basis})"
    return Job(
        action="offer",
        title=_title(advice),
        reason=reason,
        why=_why(s, size),
        rank=OFFER_RANK + 1 - urgency,
        offer=advice,
        sureness=f"interval by a rule ({rule.used.grade}); size: {s.size.basis}; {rests_on(s)}",
        rules=(rule.used, *size.rules),
        cautions=_cautions(s),
    )


def _n(s: Situation) -> int:
    return s.next_moult.n_animals if s.next_moult else 0


def _title(advice: OfferAdvice) -> str:
    return f"Offer {things(advice.number, advice.prey)}, {advice.size_words}"


def _why(s: Situation, size: PreySize) -> tuple[str, ...]:
    why = [size.words]
    if (chance := watched(s)) is not None:
        why.append(f"{percent(chance)} to moult in its premoult time: pre-killed, and out again tomorrow")
    elif _without_odds(s):
        why.append("No odds of a moult: pre-killed, and out again tomorrow")
    elif before_a_moult(s):
        why.append("A streak of refusals before a moult, as it seems: pre-killed, and out again tomorrow")
    if (flies := _flies(s)) and size.most_mm is not None and size.most_mm < SMALL_PREY[1][0]:
        why.append(flies)
    if s.stage == "unknown":
        why.append("Stage unknown: the longest interval of the rules")
    if s.animal.mature_male:
        why.append("Mature male: it will not moult again, and often eats little")
    return tuple(why)


def _flies(s: Situation) -> str:
    """What is usual for the smallest light web-builders, said where the advice is gentler than that."""
    rule, span = s.ask("web_fly_below_span_mm"), s.size.leg_span
    if span is None or not s.build.light_web or span.value >= (rule.number or 0.0):
        return ""
    return (
        f"Light web-builders under {rule.used.value} usually get flightless fruit flies or scavenged legs "
        f"({rule.used.grade}, {rule.used.source}); a pre-killed piece is the gentler of the two"
    )


def _without_odds(s: Situation) -> bool:
    """Whether nothing says how near a moult is: unknown is no small risk. A mature male moults no more."""
    return s.next_moult is None and not s.animal.mature_male


def _cautions(s: Situation) -> tuple[str, ...]:
    cautions = []
    if s.open_offers:
        cautions.append("First see what is left of the earlier prey and take it out")
    moulted = s.moulted_on
    fresh = moulted is not None and (s.offered_on is None or s.offered_on <= moulted)
    if fresh and s.signs.black_fangs is None:
        cautions.append("First prey since the moult: offer only if you see black fangs")
    return tuple(cautions)


def prey_size(s: Situation) -> PreySize:
    """Return the longest prey that every known length allows, each at the low end of its doubt."""
    limits: list[tuple[float, RuleValue, str]] = []
    size = s.size
    if size.body is not None:
        limits.append((size.body.low, s.ask("prey_of_body"), "body"))
        if size.carapace is not None:
            abdomen = size.body.low * (1 - size.carapace.value / size.body.value)
            limits.append((abdomen, s.ask("prey_of_abdomen"), "abdomen"))
    elif size.carapace is not None:
        limits.append((size.carapace.low, s.ask("prey_of_carapace"), "carapace"))
    elif size.leg_span is not None:
        limits.append((size.leg_span.low, s.ask("prey_of_span"), "leg span"))
    if not limits:
        return PreySize(None, False, "Size unknown: small and pre-killed, so that it can do no harm")
    lengths = [(length * (rule.number or 0.0), rule, part) for length, rule, part in limits]
    most, rule, part = min(lengths, key=lambda row: row[0])
    alive_from = s.ask("live_prey_from_body_mm")
    body = most / (s.ask("prey_of_body").number or 1.0)
    alive = body >= (alive_from.number or 0.0)
    words = f"Prey up to {both(most, 'mm')}: {rule.used.value} of its {part}, of which the low end is taken"
    return PreySize(most, alive, words, (rule.used, alive_from.used))


def offer_advice(s: Situation) -> OfferAdvice:
    """Return kind, number and size of prey: unknown size means a small pre-killed piece."""
    size = prey_size(s)
    if size.most_mm is None:
        return OfferAdvice("small pre-killed feeder", 1, None, True, "smaller than its abdomen as you see it")
    careful = not size.alive or _without_odds(s) or watched(s) is not None or before_a_moult(s)
    if size.most_mm < SMALL_PREY[0][0]:
        return OfferAdvice("small pre-killed piece", 1, size.most_mm, True, "no longer than its abdomen")
    killed = "pre-killed, " if careful else ""
    if size.most_mm < LARGER_PREY_FROM_MM:
        mm, prey, _ = [row for row in SMALL_PREY if row[0] <= size.most_mm][-1]
        number = int(s.ask("tiny_prey_number").number or 1)
        return OfferAdvice(prey, number, mm, careful, f"{killed}up to {both(mm, 'mm')}")
    number = int(s.ask("prey_number").number or 1)
    return OfferAdvice(_kind(s), number, size.most_mm, careful, f"{killed}up to {both(size.most_mm, 'mm')}")


def _kind(s: Situation) -> str:
    """The keeper's rule, else the kind of feeder it took last, else a cricket."""
    wanted = s.ask("prey_kind").text
    if wanted:
        return wanted
    for offer in reversed(s.animal.offers):
        if offer.outcome == "taken":
            for feeder in _KNOWN_FEEDERS:
                if feeder in offer.prey.lower():
                    return feeder
            break
    return "cricket"
