"""Where the webs are, from what was seen, held against a claimed habit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from nightround.findings.claims_words import Found, of_e
from nightround.foundation.wording import counted
from nightround.record.model import Animal
from nightround.reports.claims import Evidence
from nightround.science.claims.bets import MOSTLY, OUTSIDE_TYPICAL, evidence, more_needed

# What a claim and a look may say, in plain words; the first that is found in the text counts.
HABITS: Final[dict[str, tuple[str, ...]]] = {
    "up": ("tree", "arboreal", "branch", "climber"),
    "down": ("ground", "terrestrial", "burrow", "fossorial", "trapdoor", "trap-door", "tube", "underground"),
}
_UP: Final = r"branch|bark|cork|trunk|leaf|leaves|lid|top|high|wall|upright|above|corner under the lid"
_DOWN: Final = (
    r"substrate|soil|ground|floor|burrow|hole|bottom|low|under the water dish|under cork|tunnel|moss"
)
_UNTOLD: Final = r"\bno web\b|\bnone\b|\bnothing\b"
ASSUMED: Final = (
    "one animal counts once, by where most of its webs were seen",
    "a home too low to climb in, or without depth to dig, makes its own habit: look at the homes as well",
)


def claimed_habit(text: str) -> str | None:
    """Return where a claim puts the animal: 'up', 'down', or None where the words do not tell."""
    low = text.casefold()
    found = [habit for habit, words in HABITS.items() if any(word in low for word in words)]
    return found[0] if len(found) == 1 else None


def web_place(web: str) -> str | None:
    """Return where a web was seen: 'up', 'down', or None where the words do not tell, or tell both."""
    low = web.casefold()
    if re.search(_UNTOLD, low):
        return None
    down = bool(re.search(rf"\b(?:{_DOWN})", low))
    up = bool(re.search(rf"\b(?:{_UP})", re.sub(r"under (?:the )?\w+", " ", low)))
    return None if up == down else "up" if up else "down"


def judge_habit(animals: Sequence[Animal], text: str) -> Found:
    """Hold the places of webs against a claimed habit: nine in ten animals live as it says."""
    habit = claimed_habit(text)
    if habit is None:
        return Found(
            "not_decided",
            "the words name no habit that the places of webs could decide",
            settle=("write the habit in the claim's words, such as tree-dwelling or burrowing",),
        )
    told = [(animal, seen) for animal in animals if (seen := _seen(animal))]
    outside = [1.0 if 2 * sum(place != habit for place, _ in seen) > len(seen) else 0.0 for _, seen in told]
    against, support = evidence(outside, OUTSIDE_TYPICAL), evidence([1.0 - x for x in outside], MOSTLY)
    words = (
        f"webs were seen of {counted(len(told), 'animal')}: of {int(sum(outside))} mostly where it says not"
    )
    rows = tuple(_row(animal, seen, habit) for animal, seen in told)
    return Found(
        of_e(against, support), words if told else "no look says where a web is", against, support, None,
        len(told), rows, _settle(outside), None, ASSUMED,
    )  # fmt: skip


def _settle(outside: list[float]) -> tuple[str, ...]:
    against = more_needed(outside, OUTSIDE_TYPICAL) or 0
    support = more_needed([1.0 - x for x in outside], MOSTLY) or 0
    told = [f"contradicted by {counted(against, 'more animal')} whose webs are elsewhere"] if against else []
    told += (
        [f"supported by {counted(support, 'more animal')} whose webs are where it says"] if support else []
    )
    if told:
        told.append("write with a look where the web is: this can be done tonight")
    return tuple(told)


def _seen(animal: Animal) -> list[tuple[str, int]]:
    places = ((web_place(look.signs.web), look.number) for look in animal.looks if look.signs.web)
    return [(place, number) for place, number in places if place is not None]


def _row(animal: Animal, seen: list[tuple[str, int]], habit: str) -> Evidence:
    up = sum(place == "up" for place, _ in seen)
    other = up if habit == "down" else len(seen) - up
    words = f"webs seen above the ground {counted(up, 'time')}, on or in it {counted(len(seen) - up, 'time')}"
    speaks = "against" if 2 * other > len(seen) else "for"
    return Evidence(animal.code, words, speaks, tuple(number for _, number in seen))  # type: ignore[arg-type]
