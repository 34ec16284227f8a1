"""A rule of the trade overruled in a plain line: 'K12 rule feed_adult_days 21 because it is old'."""

from __future__ import annotations

from nightround.desk.jot_clauses import Line, Maker, plain
from nightround.desk.jot_tokens import Cursor
from nightround.desk.rule_setting import DEFAULT, rule_set
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import ROOM, Ref

BECAUSE = "because"
FOR_TAXON = "for taxon"


def rule_clause(cursor: Cursor, line: Line) -> Maker:
    """Read a rule's name, its value (or 'default') and why. Raises NotReadable."""
    return plain(rule_set(*_said(cursor, ())))


def rule_of_many(cursor: Cursor, line: Line) -> tuple[Ref, Maker]:
    """Read a rule without a subject: for the whole room, or, after 'for taxon', for a taxon."""
    name, value, _ = _said(cursor, (FOR_TAXON,))
    about = ROOM
    if cursor.phrase(FOR_TAXON):
        taxon = _until(cursor, (BECAUSE,))
        if not taxon:
            raise NotReadable("the taxon's name after 'for taxon'", got="nothing more")
        if taxon not in line.record.taxa:
            near = line.names.near_taxa(taxon, line.record)
            raise NotReadable("a taxon of this room", got=repr(taxon), todo=f"Nearest: {near}")
        about = Ref("taxon", taxon)
    return about, plain(rule_set(name, value, _why(cursor)))


def _said(cursor: Cursor, ends: tuple[str, ...]) -> tuple[str, str, str]:
    name = _until(cursor, (), most=1)
    value = _until(cursor, (BECAUSE, *ends))
    if not name or not value:
        raise NotReadable(
            "a rule's name and its value, such as 'rule feed_adult_days 21'",
            got=repr(cursor.part),
            todo=f"'{DEFAULT}' as the value takes your rule back; docs/rules.md lists the names",
        )
    return name, value, _why(cursor)


def _why(cursor: Cursor) -> str:
    return cursor.rest() if cursor.phrase(BECAUSE) else ""


def _until(cursor: Cursor, ends: tuple[str, ...], most: int = 99) -> str:
    words: list[str] = []
    while not cursor.done and len(words) < most:
        at = cursor.at
        if cursor.phrase(*ends, ","):
            cursor.at = at
            break
        words.append(cursor.text())
        cursor.at += 1
    return " ".join(words)
