"""What became of earlier prey, and taking out what is left: asked first, and at once when a moult is near."""

from __future__ import annotations

from nightround.plans.moulting import Leave
from nightround.plans.situation import Situation
from nightround.plans.words import ago, count, things
from nightround.record.model import Offer
from nightround.reports.tonight import Job

OUTCOME_RANK, LEFTOVERS_RANK, AT_ONCE_RANK = 10.0, 11.0, 5.0


def outcome_job(s: Situation) -> Job | None:
    """Ask what became of offers of earlier evenings whose outcome nobody has seen."""
    rule = s.ask("ask_outcome_days")
    asked = [offer for offer in s.open_offers if _asked(s, offer, rule.number or 0.0)]
    if not asked or s.signs.back is not None:
        return None
    last = asked[-1]
    day = f" {ago(last.when.last, s.on)}" if last.when.last else ""
    more = f" and {count(len(asked) - 1, 'earlier offer')}" if len(asked) > 1 else ""
    return Job(
        action="outcome",
        title="What became of the prey: gone, still there, refused, or not seen?",
        reason=f"Offered {_prey(last)}{day}{more}; nobody has looked yet",
        rank=OUTCOME_RANK,
        open_offers=tuple(offer.number for offer in asked),
        sureness="as recorded: open is neither taken nor refused",
        rules=(rule.used,),
    )


def _asked(s: Situation, offer: Offer, days: float) -> bool:
    """Whether anybody can still know: a recent offer, or the latest one however old. Others stay unknown."""
    day = offer.when.last
    if day is None or day >= s.on:
        return False
    return (s.on - day).days <= days or offer is s.last_offer


def _prey(offer: Offer) -> str:
    return things(offer.count, offer.prey) if offer.count is not None and offer.prey else offer.prey or "prey"


def left_in(s: Situation) -> tuple[Offer, ...]:
    """Offers seen uneaten lately and not taken out since; a later offer that was looked at settles it."""
    days = s.ask("ask_outcome_days").number or 0.0
    removed = max(s.animal.leftovers_removed, default=None)
    found: list[Offer] = []
    for offer in reversed(s.animal.offers):
        day = offer.when.last
        if day is None or (s.on - day).days > days or (removed is not None and removed >= day):
            break
        if offer.outcome in ("taken", "refused"):
            break
        if offer.outcome == "uneaten":
            found.append(offer)
    return tuple(reversed(found))


def leftovers_job(s: Situation, leave: Leave | None) -> Job | None:
    """Return taking leftovers out: after the rule's days, or at once when a moult is near or just past."""
    if s.signs.back is not None:
        return None
    rule, left = s.ask("leftovers_days"), left_in(s)
    near = leave is not None and leave.cause in ("hardening", "sign", "odds", "refusals")
    tonight = tuple(offer for offer in s.open_offers if offer.when.last == s.on) if near else ()
    due = tuple(offer for offer in left if near or _age(s, offer) >= (rule.number or 0.0))
    found = (*due, *tonight)
    if not found:
        return None
    last = found[-1]
    when = f", offered {ago(last.when.last, s.on)}" if last.when.last else ""
    reason = f"{'Left' if due else 'In there'}: {_prey(last)}{when}; out within {rule.used.value}"
    if near:
        reason += ", at once now: prey can hurt a moulting or soft spider"
    return Job(
        action="leftovers",
        title="Take the uneaten prey out" if due else "Take the prey out again unless it is gone",
        reason=reason,
        rank=AT_ONCE_RANK if near else LEFTOVERS_RANK,
        open_offers=tuple(offer.number for offer in tonight),
        sureness="as recorded",
        rules=(rule.used,),
        cautions=("Gently, without touching the spider, its mat or its web",) if near else (),
    )


def _age(s: Situation, offer: Offer) -> float:
    return (s.on - offer.when.last).days if offer.when.last else float("inf")
