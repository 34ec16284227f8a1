"""What entries do to lots of feeders, and to the list of what can be bought."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from nightround.journal.entries import Entry
from nightround.journal.kinds.supplies import WEEKDAYS, Supply
from nightround.journal.kinds.surroundings import LotBegun, LotChanged
from nightround.record.builders import LotBuilder, RoomBuilder
from nightround.record.larder import LotAct, Supplied


def lot_begun(room: RoomBuilder, lot: LotBuilder, entry: Entry, body: LotBegun) -> None:
    """The state at the beginning."""
    lot.begun, lot.feeder, lot.how = entry.when, body.feeder or lot.feeder, body.how
    lot.price, lot.from_whom = body.price or lot.price, body.from_whom or lot.from_whom
    lot.size_mm = body.size_mm if body.size_mm is not None else lot.size_mm
    lot.number = body.number if body.number is not None else lot.number
    lot.acts.append(LotAct(entry.number, entry.when, body.how, body.number, body.size_mm))


def lot_changed(room: RoomBuilder, lot: LotBuilder, entry: Entry, body: LotChanged) -> None:
    """A count holds; culled and died-off feeders lessen a known number and leave an unknown one unknown."""
    lot.size_mm = body.size_mm if body.size_mm is not None else lot.size_mm
    lot.acts.append(LotAct(entry.number, entry.when, body.what, body.number, body.size_mm))
    if body.what == "finished":
        lot.finished, lot.number = True, 0
    elif body.what == "counted":
        lot.number = body.number if body.number is not None else lot.number
    elif lot.number is not None and body.number is not None:
        if body.number > lot.number:
            room.problem(
                "lot_used_up", entry.about,
                f"{body.number} went from lot {lot.identity}, which held {lot.number}.",
                "Count the lot again, or correct the number.", entry.number, *lot.numbers[-2:],
                severity="doubt",
            )  # fmt: skip
        lot.number = max(0, lot.number - body.number)


def supply(room: RoomBuilder, builder: Any, entry: Entry, body: Supply) -> None:
    """The latest word on an item of that name from that seller holds; one that is gone is not offered."""
    key = (body.item, _plain(body.name), _plain(body.from_whom))
    room.supplies.pop(key, None)
    price, days = _price(room, entry, body), _weekdays(room, entry, body)
    if not body.gone:
        room.supplies[key] = Supplied(entry.number, entry.when, body, price, days)


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _price(room: RoomBuilder, entry: Entry, body: Supply) -> Decimal | None:
    """The price as a number; one that cannot be read, or is below zero, is unknown."""
    if not body.price.strip():
        return None
    try:
        price = Decimal(body.price.strip())
    except InvalidOperation:
        price = Decimal("NaN")
    if price.is_finite() and price >= 0:
        return price
    room.problem(
        "price_not_readable", entry.about,
        f"The price of {body.name or 'something to buy'} is '{body.price}', which is no number; "
        "it counts as unknown.",
        "Write the number alone, such as 3.50, and the currency beside it.", entry.number, severity="doubt",
    )  # fmt: skip
    return None


def _weekdays(room: RoomBuilder, entry: Entry, body: Supply) -> tuple[int, ...]:
    """Days of delivery, Monday 0; a word that names none is left out, with a problem."""
    found, unread = set(), []
    for word in body.delivery:
        short = word.strip()[:3].title()
        if short in WEEKDAYS:
            found.add(WEEKDAYS.index(short))
        else:
            unread.append(word)
    if unread:
        room.problem(
            "weekday_not_readable", entry.about,
            f"{body.name or 'Something to buy'} is delivered on '{', '.join(unread)}', which is no weekday.",
            f"Use {', '.join(WEEKDAYS)}.", entry.number, severity="doubt",
        )  # fmt: skip
    return tuple(sorted(found))
