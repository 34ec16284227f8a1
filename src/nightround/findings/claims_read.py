"""What a claim says, as limits in mm or days; what is not said is read in the way that claims least."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from nightround.foundation.quantities import both, convert
from nightround.foundation.refusal import NotReadable
from nightround.foundation.sources import Grade
from nightround.journal.kinds.knowledge import Claim

YEAR_DAYS: Final = 365.25
_DAYS_OF: Final = {
    "year": YEAR_DAYS, "years": YEAR_DAYS, "yr": YEAR_DAYS, "y": YEAR_DAYS, "": YEAR_DAYS,
    "month": YEAR_DAYS / 12, "months": YEAR_DAYS / 12, "week": 7.0, "weeks": 7.0,
    "day": 1.0, "days": 1.0, "d": 1.0,
}  # fmt: skip
SIZE_KINDS: Final = {"adult_span": "leg_span", "adult_carapace": "carapace_length"}
AGE_KINDS: Final = ("life_span", "years_to_maturity", "growth_class")
KIND_WORDS: Final = {
    "adult_span": "adult leg span", "adult_carapace": "adult carapace", "life_span": "life span",
    "years_to_maturity": "years to maturity", "growth_class": "growth class", "habit": "habit",
    "venom": "venom", "temperature": "temperature", "humidity": "humidity", "other": "other",
}  # fmt: skip
# Years to adult by the trade's words: fast and "most" keepers' pages (C), slow unsigned (D), very slow
# a named expert (B).
GROWTH_YEARS: Final = {
    "very slow": (8.0, 12.0), "slow": (3.0, 7.0), "medium": (2.0, 5.0), "moderate": (2.0, 5.0),
    "fast": (1.0, 3.0),
}  # fmt: skip
Sense = Literal["maximum", "typical", "middle", "minimum"]


@dataclass(frozen=True, slots=True)
class Limits:
    """A claim as numbers: `low` and `high` in mm or days (0 and inf where it has no such end).

    sense     `middle`: one typical number, half of all below it and half above, to its own rounding
    assumed   what had to be read into the claim
    """

    low: float
    high: float
    sense: Sense
    assumed: tuple[str, ...] = ()


def limits_of(claim: Claim) -> Limits | None:
    """Return the claim's limits; None where it has no number that records could be held against.

    Raises NotReadable for a unit that does not fit, or ends that are crossed.
    """
    if claim.claim == "growth_class":
        return _of_growth(claim.text)
    if claim.low is None and claim.high is None:
        return None
    sense, assumed = _sense(claim)
    low, high = claim.low, claim.high
    if sense == "maximum":
        low, high = None, high if high is not None else low
    elif sense == "minimum":
        low, high = low if low is not None else high, None
    if low is not None and high is not None and low > high:
        raise NotReadable("a claim whose lower end is not above its upper one", got=f"{low:g} to {high:g}")
    if sense == "middle":
        half = _rounding(low if low is not None else 0.0)
        low, high = (low or 0.0) - half, (high or 0.0) + half
    factor = _factor(claim)
    return Limits(
        0.0 if low is None else low * factor, float("inf") if high is None else high * factor, sense, assumed
    )


def _sense(claim: Claim) -> tuple[Sense, tuple[str, ...]]:
    if claim.sense == "maximum" or claim.sense == "minimum":
        return claim.sense, ()
    single = claim.low is not None and claim.low == claim.high
    if claim.sense == "typical" or single or (claim.low is not None and claim.high is not None):
        told = () if claim.sense else ("not said whether typical or extreme: taken as typical",)
        return ("middle" if single else "typical"), told
    sense: Sense = "maximum" if claim.high is not None else "minimum"
    return sense, (f"not said whether typical or extreme: one end only, taken as a {sense}",)


def _factor(claim: Claim) -> float:
    unit = claim.unit.strip().lower().rstrip(".")
    if claim.claim in AGE_KINDS:
        if unit not in _DAYS_OF:
            raise NotReadable("a claim in years, months, weeks or days", got=repr(claim.unit))
        return _DAYS_OF[unit]
    try:
        return convert(1.0, unit or "mm", "mm")
    except (KeyError, NotReadable) as fault:
        raise NotReadable("a claim in mm, cm, in or another unit of length", got=repr(claim.unit)) from fault


def _rounding(value: float) -> float:
    """Half of the last digit that was written: 4 stands for 3.5 to 4.5, 8.6 for 8.55 to 8.65."""
    decimals = len(f"{value:.6f}".rstrip("0").partition(".")[2])
    return float(0.5 * 10.0**-decimals)


def _of_growth(text: str) -> Limits | None:
    left = text.casefold()
    found = []
    for words, years in GROWTH_YEARS.items():
        if re.search(rf"\b{words}\b", left):
            found.append(years)
            left = re.sub(rf"\b{words}\b", " ", left)
    if not found:
        return None
    low, high = min(years[0] for years in found), max(years[1] for years in found)
    told = (
        f"{text.strip()} is read as {low:g} to {high:g} years from hatching to maturity, as the trade's "
        "pages use these words",
    )
    return Limits(low * YEAR_DAYS, high * YEAR_DAYS, "typical", told)


def amount_words(value: float, kind: str) -> str:
    """Write a limit (mm or days) as it is read: '14 cm (5.7 in)', '6 years'."""
    if kind in SIZE_KINDS:
        return both(value, "mm", 3)
    years = value / YEAR_DAYS
    return f"{years:.3g} years" if years >= 1 else f"{value:.0f} days"


def said_words(claim: Claim, limits: Limits | None) -> str:
    """Write the claim in words, with both unit systems."""
    kind = KIND_WORDS[claim.claim]
    whose = f" of {claim.sex}s" if claim.sex else ""
    if limits is None or claim.claim == "growth_class":
        return f"{kind}{whose}: {claim.text or 'nothing written'}"
    numbers = _numbers(claim, limits)
    return f"{kind}{whose}: {numbers}"


def _numbers(claim: Claim, limits: Limits) -> str:
    kind = claim.claim
    low = amount_words(limits.low, kind)
    high = amount_words(limits.high, kind) if limits.high != float("inf") else ""
    if limits.sense == "maximum":
        return f"at most {high}"
    if limits.sense == "minimum":
        return f"at least {low}"
    if limits.sense == "middle":
        return f"typically {amount_words((limits.low + limits.high) / 2, kind)}"
    if not high:
        return f"typically {low} and more"
    if limits.low <= 0:
        return f"typically up to {high}"
    unit = " years" if low.endswith(" years") and high.endswith(" years") else ""
    return f"typically {low.removesuffix(unit) if unit else low} to {high}"


def grade_words(claim: Claim) -> str:
    """Write the grade; unsaid is unknown."""
    if claim.grade is None:
        return "grade not written"
    grade = Grade.OWN if claim.grade == "own" else Grade[claim.grade]
    return grade.value if claim.grade == "own" else f"{claim.grade}: {grade.value}"
