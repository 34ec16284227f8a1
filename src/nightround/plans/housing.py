"""Homes outgrown, and sizes that are due: never in premoult, while hardening, with a sac, or just arrived."""

from __future__ import annotations

from datetime import date

from nightround.foundation.quantities import both
from nightround.foundation.wording import day_words
from nightround.plans.moulting import Leave, leave_alone, watched
from nightround.plans.situation import Situation
from nightround.plans.words import ago
from nightround.record.model import Measurement
from nightround.reports.fit import FitFault
from nightround.reports.tonight import Job

REHOUSE_RANK, SHED_SKIN_RANK, MEASURE_RANK, WEIGH_RANK = 70.0, 75.0, 80.0, 85.0

_THROUGH_THE_WALL = "Through the wall of its home, from a photograph with a ruler: do not handle it"


def housing_jobs(s: Situation, leave: Leave | None) -> list[Job]:
    """Return rehousing, weighing and the shed skin to measure, as far as they are due and do no harm."""
    jobs = [_shed_skin(s)]
    if not _disturbing(s, leave):
        jobs += [_rehouse(s), _weigh(s)]
    return [job for job in jobs if job is not None]


def may_be_moved(s: Situation) -> bool:
    """Whether a planned move does no harm tonight, as far as anybody knows."""
    return not _disturbing(s, leave_alone(s)) and _settled(s)


def _disturbing(s: Situation, leave: Leave | None) -> bool:
    """Whether opening the home now could harm it or its sac."""
    unseen = s.ask("unseen_odds").number
    return leave is not None or watched(s) is not None or (unseen is not None and s.unseen >= unseen)


def _settled(s: Situation) -> bool:
    days = s.ask("settle_days").number or 0.0
    begun = (s.animal.arrived.last, *(stay.first for stay in s.animal.stays))
    known = [day for day in begun if day is not None]
    return not known or (s.on - max(known)).days >= days


def _rehouse(s: Situation) -> Job | None:
    """Return the move into a larger home: a floor too small for a size that was measured asks for one."""
    fault = next((each for each in s.fit.faults if each.aspect == "floor"), None)
    span = s.size.span_or_guess
    if fault is None or span is None or not _settled(s):
        return None
    if s.size.leg_span is None and fault.sure != "sure":
        return None
    side, needs = fault.has_mm, fault.needs_mm
    asked = needs / span.value
    spans = f"{side / span.value:.1f}"
    # 1.97 spans must not read '2.0 spans, under 2'.
    clear = float(spans) < asked
    short = f"{spans} spans, under {fault.rule.value}" if clear else f"just under {fault.rule.value} spans"
    reason = f"Floor {both(side, 'mm')}, leg span about {both(span.value, 'mm')}: {short}"
    return Job(
        action="rehouse",
        title=f"Prepare a home with a floor of at least {both(needs, 'mm')} both ways{_adult_home(s, fault)}",
        reason=reason,
        why=("Not tonight if anything looks like premoult; work inside a larger tub",),
        rank=REHOUSE_RANK + round(min(side / needs, 0.99), 3),
        sureness=(
            "too small even at the low end of its size; "
            if fault.sure == "sure"
            else "size uncertain: measure first; "
        )
        + s.fit.basis,
        rules=(fault.rule, s.ask("settle_days").used),
        cautions=("Eye protection where hairs irritate; a lid at hand; keep hands out of its way",),
    )


def _adult_home(s: Situation, fault: FitFault) -> str:
    """What does as well for a light web-builder: an adult's home, with less floor for its span."""
    span, adult = s.size.span_or_guess, s.ask("home_web_adult_spans")
    if fault.rule.rule != "home_web_spans" or span is None or adult.number is None:
        return ""
    volume = s.ask("home_web_adult_ml").used.value
    return f", or an adult's of {volume} and {both(adult.number * span.value, 'mm')}"


def _shed_skin(s: Situation) -> Job | None:
    rule, moult = s.ask("shed_skin_days"), s.animal.last_moult
    day = s.moulted_on
    if moult is None or moult.exuvia != "kept" or day is None or rule.number is None:
        return None
    if (s.on - day).days > rule.number or s.signs.back is not None:
        return None
    if any(
        reading.on == "shed_skin" and reading.when.last is not None and moult.when.first is not None
        and reading.when.last >= moult.when.first
        for reading in s.animal.measurements
    ):  # fmt: skip
        return None
    return Job(
        action="measure",
        title="Measure the carapace of the shed skin",
        reason=f"Skin of the moult of {day_words(day, s.on)} was kept and has no size on record",
        why=("It measures the animal as it was before that moult; nobody is disturbed",),
        rank=SHED_SKIN_RANK,
        sureness="as recorded",
        rules=(rule.used,),
    )


def _last(readings: tuple[Measurement, ...], mass: bool) -> date | None:
    days = [
        reading.when.last
        for reading in readings
        if (reading.item == "mass") == mass and reading.when.last is not None
    ]  # fmt: skip
    return max(days, default=None)


def measure_job(s: Situation, leave: Leave | None) -> Job | None:
    """Return a size to take when none is on record or the last is old. The round asks for only a few."""
    rule = s.ask("measure_days")
    if rule.number is None or _disturbing(s, leave):
        return None
    last = _last(s.animal.measurements, mass=False)
    dated = last is not None or any(reading.item != "mass" for reading in s.animal.measurements)
    if last is not None and (s.on - last).days < rule.number:
        return None
    if last is None and dated:
        return None
    told = f"Last size {ago(last, s.on)}" if last else "No length of it on record"
    return Job(
        action="measure",
        title="Measure its leg span or carapace",
        reason=f"{told}; due every {rule.used.value}",
        why=(_THROUGH_THE_WALL,),
        rank=MEASURE_RANK + (0.0 if last is None else round(max(0.0, 0.99 - (s.on - last).days / 3650), 3)),
        sureness="as recorded",
        rules=(rule.used,),
    )


def _weigh(s: Situation) -> Job | None:
    rule = s.ask("weigh_days")
    if rule.number is None or not _settled(s):
        return None
    last = _last(s.animal.measurements, mass=True)
    if last is not None and (s.on - last).days < rule.number:
        return None
    told = f"Last mass {ago(last, s.on)}" if last else "No mass on record"
    return Job(
        action="weigh",
        title="Weigh it in a closed cup",
        reason=f"{told}; every {rule.used.value} by your rule",
        rank=WEIGH_RANK,
        sureness="as recorded",
        rules=(rule.used,),
    )
