"""When what is ordered comes: lead days and days of delivery, assumed where a shop's are not written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from nightround.record.larder import Supplied

WEEK: Final = 7
ASSUMED_LEAD_DAYS: Final = 7
"""Days from order to delivery where nobody wrote them; chosen for this program, no source."""

ASSUMED_WEEKDAYS: Final = (1, 2, 3)
"""Tuesday to Thursday: live animals are sent from Monday to Wednesday (C: keepers' pages and vendors)."""

WEATHER: Final = (
    "Look at the weather on the way before you order: ask the seller to hold live animals under about "
    "4 °C (39 °F) or over 27 to 32 °C (81 to 90 °F) (C: keepers' pages and vendors)."
)


@dataclass(frozen=True, slots=True)
class Delivery:
    """An order for one week: the last day to order and the day it comes."""

    order_by: date
    arrives: date


def deliveries(supply: Supplied, on: date, weeks: int) -> tuple[Delivery | None, ...]:
    """Return, for each week, the delivery by whose day it is in the house when the week of seven days begins.

    The last day of delivery of the seven days before; None where nothing ordered now can come by then.
    """
    lead = supply.body.lead_days if supply.body.lead_days is not None else ASSUMED_LEAD_DAYS
    weekdays = supply.weekdays or ASSUMED_WEEKDAYS
    found: list[Delivery | None] = []
    for week in range(weeks):
        days = [on + timedelta(days=WEEK * week - before) for before in range(WEEK)]
        fit = [d for d in days if d.weekday() in weekdays and d - timedelta(days=lead) >= on]
        found.append(Delivery(fit[0] - timedelta(days=lead), fit[0]) if fit else None)
    return tuple(found)


def assumed_of(supply: Supplied) -> tuple[str, ...]:
    """Return what is assumed of a delivery because nobody wrote it down."""
    notes = []
    if supply.body.lead_days is None:
        notes.append(f"{supply.body.name}: days to delivery not written, {ASSUMED_LEAD_DAYS} assumed")
    if not supply.weekdays:
        notes.append(f"{supply.body.name}: days of delivery not written, Tuesday to Thursday assumed (C)")
    return tuple(notes)
