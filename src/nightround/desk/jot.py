"""Plain lines into entries: 'K12 took 2 crickets; K07 refused; K09 moulted between mon and wed'.

Nothing is guessed: a word that is not understood, or that could mean two things, becomes a problem that says
what would be understood, and a line with a problem is not written at all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from nightround.desk.jot_clauses import Line, Made, Maker
from nightround.desk.jot_dates import take_when
from nightround.desk.jot_food import FoodReader
from nightround.desk.jot_larder import EXAMPLE as LARDER_EXAMPLE
from nightround.desk.jot_larder import larder_part
from nightround.desk.jot_names import RoomNames
from nightround.desk.jot_places import place_clause
from nightround.desk.jot_rules import rule_of_many
from nightround.desk.jot_tokens import Cursor
from nightround.desk.jot_verbs import bare_measure, verbs
from nightround.desk.words import words_of
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import When
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds.animal import Died, Left
from nightround.record.model import Record

_PARTS = re.compile(r'(?:"[^"\n]*"|[^;\n])+')
_DECIMAL_COMMA = re.compile(r"\d,\d")
EXAMPLE = "K12 took 2 crickets; K07 refused; K09 moulted between mon and wed; shelf B 19.5 C 60%"


@dataclass(frozen=True)
class JotItem:
    """One entry that was understood: in words with its day, and ready to be written."""

    words: str
    draft: Draft

    @property
    def ends_a_stay(self) -> bool:
        """Whether it says that an animal died or left: such an entry needs a second yes."""
        return isinstance(self.draft.body, Died | Left)


@dataclass(frozen=True)
class JotProblem:
    """A part that was not understood, and what would be."""

    part: str
    message: str


@dataclass(frozen=True)
class JotReading:
    """A whole line: with any problem nothing of it may be written."""

    items: tuple[JotItem, ...] = ()
    problems: tuple[JotProblem, ...] = ()

    @property
    def drafts(self) -> list[Draft]:
        """What is to be written, in order; none while there are problems."""
        return [] if self.problems else [item.draft for item in self.items]


def understand(record: Record, text: str, on: date) -> JotReading:
    """Read a plain line as of day `on`, writing nothing. Never raises for what was written in it."""
    line = Line(record, on, RoomNames(record))
    reader = _PartReader(line)
    items: list[JotItem] = []
    problems: list[JotProblem] = []
    for part in (match[0].strip() for match in _PARTS.finditer(text)):
        if not part.strip(" ,."):
            continue
        line.answered.clear()
        try:
            items += reader.read(part)
        except NotReadable as fault:
            problems.append(JotProblem(part, f"Wanted {fault}"))
    return JotReading(tuple(items), tuple(problems))


class _PartReader:
    """Reads one part: who or what, then what happened, once or more."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self.food = FoodReader(line.record)
        self.verbs = verbs(self.food)
        self._by_first: dict[str, list[str]] = {}
        for phrase in self.verbs:
            self._by_first.setdefault(phrase.split()[0], []).append(phrase)

    def read(self, part: str) -> list[JotItem]:
        """Return what the part says. Raises NotReadable."""
        if (match := _DECIMAL_COMMA.search(part)) is not None:
            raise NotReadable("a decimal point, and a space after a comma", got=repr(match[0]))
        cursor = Cursor(part)
        items: list[JotItem] = []
        default = take_when(cursor, self.line.on)
        cursor.phrase(",")
        if cursor.low() == "note":
            return self._made([ROOM], self._clause(cursor, [ROOM]), default)
        if cursor.phrase("room rule", "rule"):
            about, maker = rule_of_many(cursor, self.line)
            return self._made([about], maker, default)
        if (feeders := larder_part(cursor, self.line, self.food)) is not None:
            about, maker = feeders
            return self._made([about], maker, self._feeders_day(cursor, default))
        if cursor.low() == "wintering":
            for maker, own in self._clauses(cursor, [ROOM], default):
                items += self._made([ROOM], maker, own or default)
            return items
        while not cursor.done:
            subjects = self._subjects(cursor)
            group = take_when(cursor, self.line.on)
            cursor.phrase("has", "have", "was", "were", "is", "are")
            for maker, own in self._clauses(cursor, subjects, group or default):
                items += self._made(subjects, maker, own or group or default)
        return items

    def _feeders_day(self, cursor: Cursor, default: When | None) -> When | None:
        """Take the day behind what was said of feeders; nothing else may follow."""
        own = take_when(cursor, self.line.on)
        if not cursor.done:
            raise NotReadable(
                "nothing more of these feeders",
                got=repr(cursor.ahead()),
                todo=f"For example: {LARDER_EXAMPLE}",
            )
        if own and default and own != default:
            raise NotReadable("one day", got=f"{default} and {own}", todo="Leave the others away")
        return own or default

    def _subjects(self, cursor: Cursor) -> list[Ref]:
        subjects: list[Ref] = []
        while True:
            at = cursor.at
            if subjects and not cursor.separator():
                return subjects
            named = self.line.names.take(cursor)
            if named is None:
                if subjects:
                    cursor.at = at
                    return subjects
                raise self._nobody(cursor)
            if named in subjects:
                raise NotReadable("each name once", got=repr(named.code))
            subjects.append(named)

    def _nobody(self, cursor: Cursor) -> NotReadable:
        return NotReadable(
            "first the code of an animal, batch or home, or the name of a shelf",
            got=repr(cursor.ahead()),
            todo=f"Nearest: {self.line.names.near(cursor.ahead(1))}. For example: {EXAMPLE}",
        )

    def _clauses(
        self, cursor: Cursor, subjects: list[Ref], day: When | None
    ) -> list[tuple[Maker, When | None]]:
        """Take what is said of the subjects, each clause with its own day if it has one."""
        said = []
        while True:
            said.append(self._said(cursor, subjects))
            if cursor.done or (cursor.separator() and self.line.names.comes(cursor)):
                break
            if cursor.done:
                raise NotReadable("something after the comma or 'and'", got="nothing more")
        owns = [own for _, own in said]
        if day is None and len({own is None for own in owns}) > 1:
            told = next(own for own in owns if own is not None)
            raise NotReadable(
                "a day for everything in this part, or for nothing",
                got=f"{told} for some of it",
                todo="Write the day right after the code, or one part for each day",
            )
        return said

    def _said(self, cursor: Cursor, subjects: list[Ref]) -> tuple[Maker, When | None]:
        before = take_when(cursor, self.line.on)
        cursor.phrase(",")
        self.line.own_day = None
        maker = self._clause(cursor, subjects)
        days = [day for day in (before, self.line.own_day, take_when(cursor, self.line.on)) if day]
        if len(set(days)) > 1:
            raise NotReadable(
                "one day", got=" and ".join(str(day) for day in days), todo="Leave the others away"
            )
        return maker, days[0] if days else None

    def _clause(self, cursor: Cursor, subjects: list[Ref]) -> Maker:
        if any(ref.kind == "place" for ref in subjects):
            reading = place_clause(cursor)
            if reading is not None:
                return reading
        phrase = cursor.phrase(*self._by_first.get(cursor.low(), ()))
        if phrase:
            return self.verbs[phrase](cursor, self.line)
        return bare_measure(cursor) or self._unknown(cursor, subjects)

    def _unknown(self, cursor: Cursor, subjects: list[Ref]) -> Maker:
        if any(ref.kind == "place" for ref in subjects):
            raise NotReadable("a reading such as '19.5 C 60%', min or max", got=repr(cursor.ahead()))
        if cursor.phrase("in premoult", "premoult", "in pre-moult", "pre-moult", "in premolt", "premolt"):
            raise NotReadable(
                "what was seen, not what it means", got="'premoult'",
                todo="Say 'fat abdomen', 'dark patch', 'sealed', or 'passed over because premoult'",
            )  # fmt: skip
        raise NotReadable(
            "what happened: took, refused, uneaten, offered, moulted, measured, watered, seen, not seen, "
            "passed over, moved to, died, note …",
            got=repr(cursor.ahead()),
            todo="Put free words after 'note'",
        )

    def _made(self, subjects: Sequence[Ref], maker: Maker, when: When | None) -> list[JotItem]:
        items = []
        for ref in subjects:
            for made in maker(self.line, ref, when):
                draft = Draft(ref, made.when, made.body)
                self.line.written += 1
                items.append(JotItem(_words(draft, made), draft))
        return items


def _words(draft: Draft, made: Made) -> str:
    said = made.words or words_of(draft.kind.name, draft.body)
    note = "" if made.words or not draft.body.note else f" - {draft.body.note}"
    return f"{draft.about.code or 'the room'}, {_day_words(draft.when)}: {said}{note}"


def _day_words(when: When) -> str:
    if when.first is None or when.last is None:
        return "day unknown"
    if when.is_interval:
        return f"{when.first:%a} {when.first} to {when.last:%a} {when.last}"
    return f"{when.first:%a} {when.first}"
