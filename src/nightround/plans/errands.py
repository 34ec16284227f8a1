"""Errands of the room: what a plan asks for and nobody has done yet, and the page for a Sunday."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from nightround.plans.feeders import alike
from nightround.plans.words import CAUTIONS, count
from nightround.record.larder import Lot
from nightround.record.model import Record
from nightround.reports.larder import Errand, LarderReport, SundayReport
from nightround.reports.tonight import TonightReport

AHEAD_DAYS = 7
SUNDAY = 6
COUNT_AFTER_DAYS = 14
"""Days after which a lot is asked to be counted; chosen for this program, no source."""

_OF_ANIMALS = {"weigh_home": "weigh", "weigh": "weigh", "measure": "measure"}


def still_to_do(record: Record, errands: Iterable[Errand]) -> tuple[Errand, ...]:
    """Return the errands without those that the record shows as done since the plan."""
    return tuple(each for each in errands if not _done(record, each))


def _done(record: Record, errand: Errand) -> bool:
    lots = [lot for lot in record.lots.values() if _newer(lot, errand)]
    if errand.sort == "order":
        return any(lot.how == "bought" and alike(lot.feeder, errand.about) for lot in lots)
    if errand.sort == "culture":
        return any(lot.how in ("started", "hatched") and alike(lot.feeder, errand.about) for lot in lots)
    if errand.sort == "count":
        lot = record.lots.get(errand.about)
        counted = lot.counted if lot is not None else None
        return lot is None or lot.finished or (counted is not None and counted[0] >= errand.made)
    return False


def _newer(lot: Lot, errand: Errand) -> bool:
    """Whether a lot was written down after the plan that asks; its day must not lie before the plan's."""
    begun = lot.begun.last
    return begun is not None and begun >= errand.made and (not lot.acts or lot.acts[0].number > errand.after)


def due(errands: Iterable[Errand], on: date, days: int = AHEAD_DAYS) -> tuple[Errand, ...]:
    """Return what is due within so many days, the soonest first."""
    last = on + timedelta(days=days)
    return tuple(
        sorted((each for each in errands if each.by <= last), key=lambda each: (each.by, each.title))
    )


def no_plan(record: Record) -> tuple[Errand, ...]:
    """Return, on a Sunday in a room that writes its feeders down, that nothing is planned for the week."""
    keeps = any(not each.is_home for each in record.supplies)
    keeps = keeps or any(not lot.finished for lot in record.lots.values())
    if record.on.weekday() != SUNDAY or not keeps:
        return ()
    why = "nothing is planned for the week: the Sunday page works it out"
    return (Errand("count", "Plan the week's orders", record.on, why, record.on),)


def lots_to_count(record: Record) -> list[Errand]:
    """Return lots that nobody has counted for two weeks: what is in the house is a guess then."""
    found = []
    for code, lot in sorted(record.lots.items()):
        since = _uncounted_since(lot, record.on)
        if since is not None:
            title = f"Count {code}" + (f" ({lot.feeder})" if lot.feeder and lot.feeder not in code else "")
            found.append(Errand("count", title, record.on, since, record.on, code))
    return found


def _uncounted_since(lot: Lot, on: date) -> str | None:
    if lot.finished or lot.how == "started":
        return None
    if lot.counted is None:
        return "it was never counted: the plan knows nothing of it"
    days = (on - lot.counted[0]).days
    return f"last counted {count(days, 'day')} ago" if days >= COUNT_AFTER_DAYS else None


def sunday(
    record: Record,
    larder: LarderReport,
    round_: TonightReport,
    preparations: Sequence[Errand] = (),
    *,
    room: str,
    invented: bool,
) -> SundayReport:
    """Return what to do for the week to come. `preparations`: what the plan of homes asks for."""
    orders = due(still_to_do(record, larder.errands), record.on)
    weighings = tuple(_weighings(record, round_))
    sections = (
        ("Order and start", tuple(each for each in orders if each.sort in ("order", "culture"))),
        ("Prepare and move", due(preparations, record.on, 2 * AHEAD_DAYS)),
        ("Count", tuple(lots_to_count(record))),
        ("Weigh and measure", weighings),
    )
    cautions = (*larder.cautions, *(words for words in CAUTIONS if "llerg" in words or "eye" in words))
    until = record.on + timedelta(days=AHEAD_DAYS - 1)
    return SundayReport(
        record.on, room, invented, until, sections, larder.notices, tuple(dict.fromkeys(cautions))
    )


def _weighings(record: Record, round_: TonightReport) -> Iterable[Errand]:
    for shelf in round_.shelves:
        for row in shelf.rows:
            for job in row.jobs:
                sort = _OF_ANIMALS.get(job.action)
                if sort is None:
                    continue
                title = job.title if row.home and row.home in job.title else f"{row.animal}: {job.title}"
                errand = Errand("weigh", title, record.on, job.reason, record.on, row.animal, job.cautions)
                yield errand if sort == "weigh" else replace(errand, sort="measure")
