"""Water for the substrate, by the home's own figures or by feeling it, and a chance to drink: two things."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from nightround.foundation.quantities import both
from nightround.journal.kinds.surroundings import Dish
from nightround.plans.moulting import Leave
from nightround.plans.situation import Situation
from nightround.plans.words import ago
from nightround.record.model import Home
from nightround.reports.tonight import Job, TonightRow
from nightround.reports.water import HomeWater

DRINK_RANK, WATER_RANK, FEEL_RANK, THIRSTY_RANK = 50.0, 60.0, 62.0, 19.0

_WHERE = {
    "tree": "a corner of the substrate, not over its tube",
    "web_builder": "a corner of the substrate, under the web",
    "unknown": "down one side",
}
_DOWN_A_SIDE = "down one side or corner, so that it is damp below and dry on top"
_GENTLY = "gently, drop by drop, at the side away from the animal"
_NOBODY = "nobody has measured this home"
_NEXT_ROUNDS = "Substrate: to be felt in a coming round; others are more likely dry"


def water_jobs(s: Situation, leave: Leave | None) -> list[Job]:
    """Return the water jobs due tonight: none on its back, gently and away from it while it is left alone."""
    if s.signs.back is not None:
        return []
    return [job for job in (_substrate(s, leave), _drink(s, leave)) if job is not None]


def water_note(s: Situation) -> str:
    """What is known of the home's substrate where nothing is to be done about it tonight."""
    report = s.water
    if report is None or report.dose.advised not in ("not_before", "feel_first"):
        return ""
    known = report.calibration is not None and report.calibration.how != "not"
    if report.dose.advised == "not_before" or known:
        return f"{report.dose.title}: {report.dose.reason[:1].lower()}{report.dose.reason[1:]}"
    return "Substrate: not weighed or felt lately, so no day can be named"


def _substrate(s: Situation, leave: Leave | None) -> Job | None:
    """By the home's own figures where it was weighed or felt, else by feeling it first."""
    if not _first_of_home(s) or _watered_on(s) == s.on:
        return None
    report = s.water
    if report is not None and report.dose.advised == "water":
        return _dosed(s, leave, report)
    if report is not None and report.dose.advised == "not_before" and not _maybe_dry(s, report):
        return None
    return _felt_dry(s, leave) or _feel(s, leave, report)


def _maybe_dry(s: Situation, report: HomeWater) -> bool:
    """Whether the figures leave so much doubt that it may be dry already: felt then, by the interval."""
    least = s.ask("feel_odds").number
    return report.bottom is not None and least is not None and report.bottom.dry_now >= least


def fewer_to_feel(rows: Sequence[TonightRow], most: int) -> tuple[list[TonightRow], int]:
    """Keep the most pressing substrates to feel, and return how many are left for the next rounds.

    What somebody felt dry, and drinking, are never put off.
    """
    asked = [(job.rank, row.animal) for row in rows for job in row.jobs if job.action == "feel"]
    later = {animal for _, animal in sorted(asked)[max(most, 0) :]}
    fewer = [
        replace(
            row, jobs=tuple(job for job in row.jobs if job.action != "feel"), water_note=_NEXT_ROUNDS
        )
        if row.animal in later
        else row
        for row in rows
    ]  # fmt: skip
    return fewer, len(later)


def _dosed(s: Situation, leave: Leave | None, report: HomeWater) -> Job:
    """So many millilitres, from weighings, felt moisture and the physics."""
    dose, bottom = report.dose, report.bottom
    where = _place(s, leave)
    soon = bottom.dry_now if bottom is not None else 0.0
    rule = s.ask("water_ml")
    amount_ml = dose.ml if rule.number is None else rule.number
    how_much = f" {both(amount_ml, 'ml')}" if amount_ml is not None else ""
    return Job(
        action="water",
        title=f"Water{how_much}: {where}",
        reason=dose.reason,
        why=("your rule",) if rule.number is not None else ("brings the bottom back to damp",),
        rank=WATER_RANK + 1 - round(min(soon, 0.99), 3),
        water_ml=amount_ml,
        water_where=where,
        sureness=dose.sureness,
        rules=(rule.used,) if rule.number is not None else (),
    )


def _felt_dry(s: Situation, leave: Leave | None) -> Job | None:
    """Felt dry below since the last watering, in a home without figures of its own: water, as last time."""
    felt = _felt(s.home, _watered_on(s))
    if felt is None or felt[1] != "dry below":
        return None
    amount_ml, basis = _amount(s)
    where = _place(s, leave)
    how_much = f" {both(amount_ml, 'ml')}" if amount_ml is not None else ""
    last = _watered_on(s)
    told = f"Last watered {ago(last, s.on)}" if last else "No watering on record"
    return Job(
        action="water",
        title=f"Water{how_much}: {where}",
        reason=f"{told}; felt dry below {ago(felt[0], s.on)}",
        why=(basis,) if basis else ("Amount unknown: a little, then feel the substrate",),
        rank=WATER_RANK,
        water_ml=amount_ml,
        water_where=where,
        sureness=f"felt, but {_NOBODY}",
    )


def _feel(s: Situation, leave: Leave | None, report: HomeWater | None) -> Job | None:
    """Feel first: by a plain interval since it was watered or felt, or where the physics fears it is dry."""
    rule = s.ask(f"water_{s.habit}_days")
    if rule.number is None:
        return None
    last, felt = _watered_on(s), _felt(s.home, _watered_on(s))
    since = max((day for day in (last, felt[0] if felt else None) if day is not None), default=None)
    days = (s.on - since).days if since else None
    until = report.dose.until if report is not None and report.dose.advised == "feel_first" else None
    feared = until is not None and until <= s.on and (days is None or days >= 2)
    if days is not None and days < rule.number and not feared:
        return None
    told = f"Last watered {ago(last, s.on)}" if last else "No watering on record"
    if felt:
        told += f"; felt {felt[1]} {ago(felt[0], s.on)}"
    what = report.dose.reason if report is not None else "no home on record for it"
    amount_ml, basis = _amount(s)
    how_much = f" {both(amount_ml, 'ml')}" if amount_ml is not None else ""
    chance = report.bottom.dry_now if report is not None and report.bottom is not None else 0.0
    urgency = round(min(max(chance, (days or 0) / rule.number / 10), 0.99), 3)
    measured = report is not None and report.calibration is not None and report.calibration.how != "not"
    return Job(
        action="feel",
        title=f"Feel the substrate; if dry below, water{how_much}: {_place(s, leave)}",
        reason=f"{told}; by a plain interval, every {rule.used.value}",
        why=(what, basis or "Amount unknown: a little, then feel the substrate"),
        rank=FEEL_RANK + 1 - urgency,
        water_ml=amount_ml,
        water_where=_place(s, leave),
        sureness=report.dose.sureness if report is not None and measured else f"a plain interval: {_NOBODY}",
        rules=(rule.used,),
    )


def _place(s: Situation, leave: Leave | None) -> str:
    return _GENTLY if leave is not None else _WHERE.get(s.habit, _DOWN_A_SIDE)


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


def _dish(s: Situation) -> tuple[str, date | None]:
    """How much its dish holds, in words, and the day it was found dry if nobody has filled it since."""
    filled: date | None = None
    emptied: date | None = None
    holds = ""
    for act in s.home.acts if s.home is not None else ():
        if isinstance(act.body, Dish) and act.when.last is not None:
            filled, emptied = (act.when.last, None) if act.body.state == "filled" else (filled, act.when.last)
            holds = f" ({both(act.body.value, 'ml')})" if act.body.value is not None else holds
    drunk = max(s.animal.drink_given, default=None)
    return holds, None if emptied is not None and drunk is not None and drunk > emptied else emptied


def _drink(s: Situation, leave: Leave | None) -> Job | None:
    rule = s.ask("drink_sling_days" if s.stage == "sling" else "drink_days")
    last = max((*s.animal.drank, *s.animal.drink_given), default=None)
    thirsty = s.signs.shrunken is not None and (last is None or last < s.signs.shrunken)
    days = (s.on - last).days if last else None
    dish, emptied = _dish(s)
    likely = s.water.dish.dry_by if s.water is not None and s.water.dish is not None else None
    likely = likely if likely is not None and likely <= s.on and (last is None or last < likely) else None
    ask = thirsty or emptied is not None or likely is not None
    if rule.number is None or last == s.on or (days is not None and days < rule.number and not ask):
        return None
    where = _GENTLY if leave is not None else f"drops on the web or wall, or fill the dish{dish}"
    if s.stage == "sling":
        where = "one small drop on the wall, away from the animal"
    told = f"Last chance to drink {ago(last, s.on)}" if last else "No chance to drink on record"
    if likely is not None and emptied is None:
        told = f"Dish likely dry by now, of evaporation alone; {told[0].lower()}{told[1:]}"
    if emptied is not None:
        told = f"Dish found dry {ago(emptied, s.on)}; {told[0].lower()}{told[1:]}"
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
