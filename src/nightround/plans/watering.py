"""Water for the substrate by a plain interval, and a chance to drink: two different things."""

from __future__ import annotations

from datetime import date

from nightround.foundation.quantities import both
from nightround.plans.moulting import Leave
from nightround.plans.situation import Situation
from nightround.plans.words import ago
from nightround.record.model import Home
from nightround.reports.tonight import Job

DRINK_RANK, WATER_RANK, THIRSTY_RANK = 50.0, 60.0, 19.0

_WHERE = {
    "tree": "a corner of the substrate, not over its tube",
    "web_builder": "a corner of the substrate, under the web",
    "unknown": "down one side",
}
_DOWN_A_SIDE = "down one side or corner, so that it is damp below and dry on top"
_GENTLY = "gently, drop by drop, at the side away from the animal"


def water_jobs(s: Situation, leave: Leave | None) -> list[Job]:
    """Return the water jobs due tonight: none on its back, gently and away from it while it is left alone."""
    if s.signs.back is not None:
        return []
    return [job for job in (_water(s, leave), _drink(s, leave)) if job is not None]


def _first_of_home(s: Situation) -> bool:
    """Whether the home's water falls to this animal: the first living occupant by code."""
    if s.home is None:
        return True
    living = [
        code
        for code in s.home.occupants
        if code in s.record.animals and s.record.animals[code].here
    ]  # fmt: skip
    return not living or min(living) == s.animal.code


def _watered_on(s: Situation) -> date | None:
    """The last watering of its home; without a home on record, of the animal."""
    if s.home is not None:
        return max((day for day, _ in s.home.watered), default=None)
    return max(s.animal.watered, default=None)


def _felt(home: Home | None, since: date | None) -> tuple[date, str] | None:
    """The latest word on the bottom of the substrate (else its surface) on or after a day."""
    if home is None:
        return None
    for day, surface, bottom in reversed(home.felt):
        if since is not None and day < since:
            return None
        if bottom or surface:
            return day, f"{bottom or surface} {'below' if bottom else 'on top'}"
    return None


def _amount(s: Situation) -> tuple[float | None, str]:
    rule = s.ask("water_ml")
    if rule.number is not None:
        return rule.number, "your rule"
    for _, amount_ml in reversed(s.home.watered if s.home else ()):
        if amount_ml is not None:
            return amount_ml, "as last time on record"
    return None, ""


def _water(s: Situation, leave: Leave | None) -> Job | None:
    rule = s.ask(f"water_{s.habit}_days")
    if rule.number is None or not _first_of_home(s):
        return None
    last, felt = _watered_on(s), _felt(s.home, _watered_on(s))
    if felt and felt[1].startswith("wet") and (s.on - felt[0]).days < rule.number:
        return None
    dry = felt is not None and felt[1] == "dry below"
    days = (s.on - last).days if last else None
    if days is not None and days < rule.number and not dry:
        return None
    if last == s.on:
        return None
    amount_ml, basis = _amount(s)
    where = _GENTLY if leave is not None else _WHERE.get(s.habit, _DOWN_A_SIDE)
    told = f"Last watered {ago(last, s.on)}" if last else "No watering on record"
    if dry and felt is not None:
        told += f"; felt {felt[1]} {ago(felt[0], s.on)}"
    how_much = f" {both(amount_ml, 'ml')}" if amount_ml is not None else ""
    urgency = round(min((days or 0) / rule.number / 10, 0.99), 3)
    return Job(
        action="water",
        title=f"Water{how_much}: {where}",
        reason=f"{told}; plain interval rule, every {rule.used.value}",
        why=(basis,) if basis else ("Amount unknown: a little, then feel the substrate",),
        rank=WATER_RANK + 1 - urgency,
        water_ml=amount_ml,
        water_where=where,
        sureness="a plain interval, not a measurement of this home",
        rules=(rule.used,),
    )


def _drink(s: Situation, leave: Leave | None) -> Job | None:
    rule = s.ask("drink_sling_days" if s.stage == "sling" else "drink_days")
    last = max((*s.animal.drank, *s.animal.drink_given), default=None)
    thirsty = s.signs.shrunken is not None and (last is None or last < s.signs.shrunken)
    days = (s.on - last).days if last else None
    if rule.number is None or last == s.on or (days is not None and days < rule.number and not thirsty):
        return None
    where = _GENTLY if leave is not None else "drops on the web or wall, or fill the dish"
    if s.stage == "sling":
        where = "one small drop on the wall, away from the animal"
    told = f"Last chance to drink {ago(last, s.on)}" if last else "No chance to drink on record"
    if thirsty:
        told = f"Shrunken abdomen; {told[0].lower()}{told[1:]}"
    urgency = round(min((days or 0) / rule.number / 10, 0.99), 3)
    return Job(
        action="drink",
        title=f"Let it drink: {where}",
        reason=f"{told}; every {rule.used.value}",
        rank=THIRSTY_RANK if thirsty else DRINK_RANK + 1 - urgency,
        water_where=where,
        sureness="a rule of common practice, not a measurement",
        rules=(rule.used,),
    )
