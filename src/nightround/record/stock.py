"""Stock-takes: what should be true that day. A disagreement with the record is a problem, nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nightround.journal.entries import Entry
from nightround.journal.kinds.knowledge import StockTake
from nightround.record.builders import AnimalBuilder, BatchBuilder, HomeBuilder, LotBuilder, RoomBuilder

TODO = "Look which is right, then write what happened in between or strike the stock-take."


def _disagree(room: RoomBuilder, entry: Entry, what: str, counted: object, recorded: object) -> None:
    room.problem(
        "stock_take_disagrees", entry.about,
        f"The stock-take of {entry.when} says {what} {counted}; by the record it is {recorded}.",
        TODO, entry.number,
    )  # fmt: skip


def _number(room: RoomBuilder, entry: Entry, counted: int | None, what: str, recorded: int | None) -> None:
    if counted is not None and recorded is not None and counted != recorded:
        _disagree(room, entry, what, counted, recorded)


def _whereabouts(room: RoomBuilder, builder: Any, entry: Entry, body: StockTake, home: str) -> None:
    """Compare place and home where the stock-take and the record both know them."""
    day = entry.when.last
    if body.place and builder.place and room.names["place"].resolve(body.place, day) != builder.place:
        _disagree(room, entry, "it stands on", body.place, room.code("place", builder.place))
    if body.home and home and room.names["home"].resolve(body.home, day) != home:
        _disagree(room, entry, "it is in", body.home, room.code("home", home))


def _animal(room: RoomBuilder, animal: AnimalBuilder, entry: Entry, body: StockTake) -> None:
    alive = body.alive
    if alive is not None and alive != (animal.status == "alive"):
        _disagree(room, entry, "it is", "alive here" if alive else "not alive here", animal.status)
    if animal.status == "alive":
        _whereabouts(room, animal, entry, body, animal.home)


def _batch(room: RoomBuilder, batch: BatchBuilder, entry: Entry, body: StockTake) -> None:
    _number(room, entry, body.number, "the batch holds", batch.living)
    _whereabouts(room, batch, entry, body, batch.home)


def _home(room: RoomBuilder, home: HomeBuilder, entry: Entry, body: StockTake) -> None:
    _number(room, entry, body.number, "the home holds", len(home.occupants))
    _whereabouts(room, home, entry, body, "")


def _lot(room: RoomBuilder, lot: LotBuilder, entry: Entry, body: StockTake) -> None:
    _number(room, entry, body.number, "the lot holds", lot.number)


def _room(room: RoomBuilder, builder: Any, entry: Entry, body: StockTake) -> None:
    living = sum(animal.status == "alive" for animal in room.animals.values())
    _number(room, entry, body.number, "the room holds", living)


STOCK_TAKES: dict[str, Callable[[RoomBuilder, Any, Entry, StockTake], None]] = {
    "animal": _animal,
    "batch": _batch,
    "home": _home,
    "lot": _lot,
    "room": _room,
}


def rise_in_batch(room: RoomBuilder, batch: BatchBuilder, entry: Entry, counted: int) -> None:
    """A batch cannot grow: a count above what was left is a doubt."""
    if batch.living is not None and counted > batch.living:
        room.problem(
            "batch_grew", entry.about,
            f"{counted} were counted in batch {entry.about.code}, which should hold {batch.living}.",
            "Correct the count, or the number it began with.", entry.number, *batch.numbers[-2:],
            severity="doubt",
        )  # fmt: skip
