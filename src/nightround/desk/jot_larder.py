"""Jotted feeders: 'bought 200 crickets 6 mm for 4.50 EUR', 'counted roaches 150', 'flies started'."""

from __future__ import annotations

from typing import Literal

from nightround.desk.jot_clauses import Line, Maker, plain
from nightround.desk.jot_food import FoodReader, singular
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
from nightround.journal.kinds.surroundings import LotBegun, LotChanged
from nightround.record.larder import Lot
from nightround.record.model import Record

_STARTED = ("started a fly culture", "fly culture started", "flies started", "started flies",
            "started a culture of flies", "set up a fly culture")  # fmt: skip
_CHANGES: dict[str, Literal["counted", "culled", "died_off", "finished"]] = {
    "counted": "counted", "culled": "culled", "died off": "died_off", "finished": "finished",
    "used up": "finished",
}  # fmt: skip
EXAMPLE = "bought 200 crickets 6 mm for 4.50 EUR; counted roaches 150; died off crickets 30; flies started"


def larder_part(cursor: Cursor, line: Line, food: FoodReader) -> tuple[Ref, Maker] | None:
    """Read a part about feeders, None when it begins otherwise. Raises NotReadable."""
    if line.names.comes(cursor):
        return None
    if cursor.phrase("bought"):
        return _bought(cursor, line, food)
    if cursor.phrase(*_STARTED):
        code = new_code(line.record, "fly culture", line)
        return Ref("lot", code), plain(LotBegun(how="started", feeder="fruit fly", note=_note(cursor)))
    changed = cursor.phrase(*_CHANGES)
    return _changed(cursor, line, _CHANGES[changed]) if changed else None


def _bought(cursor: Cursor, line: Line, food: FoodReader) -> tuple[Ref, Maker]:
    read = food.food(cursor)
    if not read.prey or read.prekilled is not None:
        raise NotReadable("which feeders were bought", got=repr(cursor.part), todo=f"For example: {EXAMPLE}")
    price = seller = ""
    while True:
        cursor.phrase(",")
        if not price and cursor.phrase("for", "at"):
            price = _words(cursor, ("from", ",", "note"))
        elif not seller and cursor.phrase("from"):
            seller = _words(cursor, ("for", ",", "note"))
        else:
            break
    note = ", ".join(filter(None, [read.note, _note(cursor)]))
    body = LotBegun(how="bought", feeder=read.prey, size_mm=read.prey_mm, number=read.count, price=price,
                    from_whom=seller, note=note)  # fmt: skip
    return Ref("lot", new_code(line.record, read.prey, line)), plain(body)


def _changed(
    cursor: Cursor, line: Line, what: Literal["counted", "culled", "died_off", "finished"]
) -> tuple[Ref, Maker]:
    number = cursor.whole()
    lot = _lot(cursor, line.record)
    if number is None and not cursor.measures("length"):
        number = cursor.whole()
    size = cursor.amount("length", above_nothing=True)["value"] if cursor.measures("length") else None
    if what == "finished" and number is not None:
        raise NotReadable(
            "no number with 'finished'", got=str(number), todo="Say 'counted' for how many are left"
        )
    if what != "finished" and number is None and size is None:
        raise NotReadable(
            f"how many, such as '{what.replace('_', ' ')} {lot.feeder or 'crickets'} 30'",
            got=repr(cursor.part),
        )
    return Ref("lot", lot.code), plain(LotChanged(what=what, number=number, size_mm=size, note=_note(cursor)))


def _lot(cursor: Cursor, record: Record) -> Lot:
    """Take a lot by its code, or the one unfinished lot of that feeder."""
    begins = cursor.at
    at = quoted = cursor.quoted()
    running = [lot for lot in record.lots.values() if not lot.finished]
    words = [token.text for token in cursor.tokens[begins:]] if at is None else [quoted or ""]
    for length in range(len(words), 0, -1):
        said = " ".join(words[:length])
        lots = [lot for lot in running if lot.code.casefold() == said.casefold()]
        lots = lots or [lot for lot in running if _alike(lot.feeder, said)]
        if len(lots) == 1:
            cursor.at = begins + (1 if quoted else length)
            return lots[0]
        if lots:
            raise NotReadable("one lot of feeders", got=repr(said), todo=f"Write its code: {_codes(lots)}")
    raise NotReadable(
        "a lot of feeders that is not finished", got=repr(" ".join(words[:2]) or "nothing"),
        todo=f"There are: {_codes(running)}" if running else f"Write what was bought first: {EXAMPLE}",
    )  # fmt: skip


def _alike(feeder: str, said: str) -> bool:
    name, wanted = singular(feeder), singular(said)
    return bool(name) and (name == wanted or name.endswith(f" {wanted}"))


def _codes(lots: list[Lot]) -> str:
    newest = sorted(lots, key=lambda lot: (lot.begun.last is None, lot.begun.last or lot.code), reverse=True)
    return ", ".join(f'"{lot.code}"' if " " in lot.code else lot.code for lot in newest[:6])


def new_code(record: Record, feeder: str, line: Line | None = None) -> str:
    """Return a code for a new lot: the feeder and the next free number."""
    taken = {code.casefold() for code in record.lots}
    said = line.new_lots if line is not None else set()
    number = 1 + sum(code.startswith(f"{feeder} ".casefold()) for code in taken)
    while f"{feeder} {number}".casefold() in taken | said:
        number += 1
    code = f"{feeder} {number}"
    said.add(code.casefold())
    return code


def _words(cursor: Cursor, ends: tuple[str, ...]) -> str:
    words: list[str] = []
    while not cursor.done and cursor.low() not in ends:
        words.append(cursor.text())
        cursor.at += 1
    return " ".join(words)


def _note(cursor: Cursor) -> str:
    cursor.phrase(",")
    return cursor.rest() if cursor.phrase("note") else ""
