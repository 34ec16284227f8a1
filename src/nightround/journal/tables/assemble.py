"""Rows of all files together: who is known, which row names which, in what order, under what keys."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

import msgspec

from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Hatched, OfferSeen
from nightround.journal.kinds.knowledge import Renamed
from nightround.journal.tables.keys import Keys
from nightround.journal.tables.results import Origin, RefusedRow, RowRefusal
from nightround.journal.tables.rows import Row


@dataclass
class Assembled:
    """Drafts in writing order with their origins; rows that were refused only now, by file."""

    drafts: list[Draft] = field(default_factory=list)
    origins: list[Origin] = field(default_factory=list)
    refusals: list[RowRefusal] = field(default_factory=list)
    refused: dict[str, list[RefusedRow]] = field(default_factory=dict)
    repeated: int = 0

    def refuse(self, row: Row, fault: RowRefusal) -> None:
        """Keep a row out, for the rejects file too."""
        self.refusals.append(fault)
        self.refused.setdefault(row.file, []).append(RefusedRow(row.line, tuple(row.cells)))


def assemble(
    rows: Sequence[Row], known: Collection[Ref], lost: dict[str, RowRefusal], lost_numbers: Collection[int]
) -> Assembled:
    """Turn rows into drafts.

    known         what the room knows already (only animals matter)
    lost          animals whose own row was refused, with the refusal
    lost_numbers  numbers of refused rows
    """
    result = Assembled()
    standing = _about_known_animals(rows, known, lost, result)
    numbered = _numbered(standing, result, set(lost_numbers))
    _write_in_order(numbered, result)
    return result


# -- who is known ------------------------------------------------------------------------------------------


def _about_known_animals(
    rows: Sequence[Row], known: Collection[Ref], lost: dict[str, RowRefusal], result: Assembled
) -> list[Row]:
    codes = {ref.code for ref in known if ref.kind == "animal"} | set(_introduced(rows))
    standing: list[Row] = []
    for row in rows:
        if row.about.kind != "animal" or row.about.code in codes or row.key:
            standing.append(row)  # a row that carries a key was in a journal: a copy, no slip of the pen
        else:
            result.refuse(row, _unknown_animal(row, codes, lost.get(row.about.code)))
    return standing


def _introduced(rows: Iterable[Row]) -> Iterable[str]:
    for row in rows:
        if row.about.kind == "animal":
            if isinstance(row.body, Arrived | Hatched):
                yield row.about.code
            elif isinstance(row.body, Renamed):
                yield row.body.name


def _unknown_animal(row: Row, codes: set[str], lost: RowRefusal | None) -> RowRefusal:
    code = row.about.code
    if lost is not None:
        return RowRefusal(
            row.file, row.line, "animal", repr(code), "an animal whose own row can be read",
            f"Mend {lost.file}, row {lost.row}, first: that row introduces {code}",
        )  # fmt: skip
    near = difflib.get_close_matches(code, codes, n=3, cutoff=0.5)
    todo = f"Did you mean {' or '.join(near)}? Otherwise add" if near else "Add"
    return RowRefusal(
        row.file, row.line, "animal", repr(code), "an animal that these tables or the room know",
        f"{todo} {code} to animals.csv",
    )  # fmt: skip


# -- which row names which ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Numbered:
    rows: list[Row]
    by_number: dict[int, Row]
    lost_numbers: set[int]


def _numbered(rows: Sequence[Row], result: Assembled, lost_numbers: set[int]) -> _Numbered:
    by_number: dict[int, Row] = {}
    standing: list[Row] = []
    for row in rows:
        if row.number is not None and (other := by_number.get(row.number)) is not None:
            result.refuse(row, RowRefusal(
                row.file, row.line, "number", str(row.number), "each number once",
                f"It stands in {other.file}, row {other.line}, too; empty it here if the row is new",
            ))  # fmt: skip
            continue
        if row.number is not None:
            by_number[row.number] = row
        standing.append(row)
    lost_numbers |= {row.number for row in rows if row.number is not None and row.number not in by_number}
    order = sorted(standing, key=lambda row: (row.number is None, row.number or 0))
    return _Numbered(order, by_number, lost_numbers)


def _write_in_order(numbered: _Numbered, result: Assembled) -> None:
    by_key: dict[str, int] = {}
    keys = Keys({row.key for row in numbered.rows if row.key})
    placed: dict[int, int] = {}
    for row in numbered.rows:
        names = _references(row, placed, numbered, result)
        if names is None:
            continue
        draft = _draft(row, names, keys, result.drafts)
        index = by_key.get(draft.key)
        if index is None:
            index = by_key[draft.key] = len(result.drafts)
            result.drafts.append(draft)
            result.origins.append(Origin(row.file, row.line))
        elif not _same(result.drafts[index], draft):
            result.refuse(row, _key_twice(row, result.origins[index]))
            continue
        else:
            result.repeated += 1
        if row.number is not None:
            placed[row.number] = index


def _references(
    row: Row, placed: dict[int, int], numbered: _Numbered, result: Assembled
) -> tuple[int | None, int | None] | None:
    """Return the indices of the drafts that the row corrects and whose outcome it tells."""
    found: list[int | None] = []
    for column, number in (("corrects", row.corrects), ("detail: offer", row.offer)):
        if number is not None and number not in placed:
            result.refuse(row, _unplaced(row, column, number, numbered))
            return None
        found.append(None if number is None else placed[number])
    return found[0], found[1]


def _unplaced(row: Row, column: str, number: int, numbered: _Numbered) -> RowRefusal:
    target = numbered.by_number.get(number)
    if number in numbered.lost_numbers or target is not None and number < (row.number or number + 1):
        todo = f"Mend the row of number {number} first"
    elif target is not None:
        todo = "A row can only name one with a lower number"
    else:
        todo = "Import all tables of the export together, or empty the cell"
    return RowRefusal(
        row.file, row.line, column, str(number), "the number of an earlier row of these tables", todo
    )


def _draft(row: Row, names: tuple[int | None, int | None], keys: Keys, drafts: Sequence[Draft]) -> Draft:
    corrects, offer = names
    body = row.body
    key = row.key
    if not key:
        references = [drafts[index].key if index is not None else "" for index in names]
        key = keys.key(_kind(row), row.about, row.when, body, *references)
    if offer is not None and isinstance(body, OfferSeen):
        body = msgspec.structs.replace(body, offer=-(offer + 1))
    try:
        return Draft(
            row.about, row.when, body, None if corrects is None else -(corrects + 1), key, row.device,
            row.recorded, row.intention,
        )  # fmt: skip
    except NotReadable as fault:  # the readers check before: a kind added without a table would end here
        raise NotReadable(
            f"{row.file}, row {row.line}: {fault.wanted}", got=fault.got, todo=fault.todo
        ) from fault


def _kind(row: Row) -> str:
    from nightround.journal.kinds import KIND_OF_BODY

    return KIND_OF_BODY[type(row.body)].name


def _same(one: Draft, other: Draft) -> bool:
    return (one.about, one.when, one.body, one.corrects) == (
        other.about,
        other.when,
        other.body,
        other.corrects,
    )


def _key_twice(row: Row, first: Origin) -> RowRefusal:
    return RowRefusal(
        row.file, row.line, "key", repr(row.key), "each key on one row, or on rows of the same content",
        f"It stands in {first.file}, row {first.row}, too; empty it here if this row is another entry",
    )  # fmt: skip
