"""What the plan of the larder says: lengths, what to offer instead, how it is worked out, cautions."""

from __future__ import annotations

from typing import Final

from nightround.foundation.quantities import both
from nightround.journal.kinds.supplies import Supply
from nightround.plans.larder_problem import INSTEAD as INSTEAD_PRICE
from nightround.plans.larder_problem import KEEP, SHORTAGE, WASTE
from nightround.plans.prey_pace import Pace

INSTEAD: Final = (
    "Several small ones instead of one of the right length (B: named experts; how many: by bulk, common "
    "practice, no source).",
    "Longer prey pre-killed, or a piece of it: spiders scavenge (common practice, no source). Out again "
    "within 24 hours (C: keepers' pages).",
    "Larvae that burrow, such as mealworms or superworms: crush the head first, so that they neither burrow "
    "nor bite (common practice, no source).",
    "Never longer live prey than the rules allow, and no cricket left with an animal that is about to moult: "
    "crickets bite moulting spiders (B).",
)
CAUTIONS: Final = (
    "Cockroaches and their dust are strong allergens: gloves, and no tubs where people sleep.",
    "Some feeders need permits, and none may be released: ask the local authority.",
    "Nothing that had contact with insecticide, flea treatment, smoke or nicotine: it kills spiders.",
)


def class_words(high_mm: float) -> str:
    """Return a class of prey length: 'up to 7.0 mm (0.28 in)'."""
    return f"up to {both(high_mm, 'mm')}"


def size_words(body: Supply) -> str:
    """Return the length of what is sold."""
    ends = [mm for mm in (body.size_low_mm, body.size_high_mm) if mm is not None]
    if not ends:
        return "length not written"
    if len(set(ends)) == 1:
        return both(ends[0], "mm")
    return f"{both(ends[0], 'mm')} to {both(ends[1], 'mm')}"


def pace_words(pace: Pace) -> str:
    """Return how often this room offers prey against its rules, with what that rests on."""
    if not pace.animals:
        return "offers as often as the rules say: no offer is on record in the last eight weeks"
    return (
        f"offers {pace.factor:.2f} times as often as the rules say: {pace.offers} on record in eight weeks, "
        f"{pace.expected:.0f} by the rules ({pace.animals} animals; the rules count for 8 offers more); "
        f"{pace.per_offer:.2f} times as many prey in an offer ({pace.prey}, by the rules {pace.by_rules:.0f})"
    )


def method_words(usual_price: float) -> tuple[str, ...]:
    """Return how the plan is worked out."""
    return (
        "need: drawn sizes and moults of each animal, prey length and days between offers by your rules; "
        "nothing near a moult and until hardened; ranges hold four times in five over the draws",
        "lots: counted, less what was offered since, grown by thermal time, less what dies",
        "orders: a mixed-integer programme over prices, missing prey and waste, in whole packs, solved by "
        "HiGHS; what comes within a week is counted from the next; the next ten weeks are searched first and "
        "six of them settled, then the later ones: make the plan anew each week",
        f"a missing prey is held to be worth {SHORTAGE:g} usual prices of a feeder ({usual_price:.2f} here), "
        f"a wasted one {WASTE:g}, one of another length {INSTEAD_PRICE:g} and more, one kept for a week "
        f"{KEEP:g} (chosen for this program, no source); postage is not counted; prices in several "
        "currencies are weighed as plain numbers",
    )
