"""Entries: frozen, numbered, dated twice. A correction is a new entry that names the old one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

import msgspec

from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import YEARS, When
from nightround.journal.kinds import KIND_OF_BODY, Body, Kind, SubjectKind


class Ref(NamedTuple):
    """What an entry is about: its sort and the keeper's own code or name for it ('' for the room)."""

    kind: SubjectKind
    code: str = ""

    def __str__(self) -> str:
        return f"{self.kind} {self.code}".rstrip()


ROOM = Ref("room")


@dataclass(frozen=True)
class Draft:
    """An entry before it is written.

    key        makes writing it twice harmless; '' gets a random key
    corrects   number of the entry it replaces; −k means the k-th draft of the same act (1-based),
               and so does a negative `offer` in an OfferSeen body
    recorded   only for imports and the simulator: the instant it was first written; None is now
    intention  only for imports: the act that first wrote it, kept behind the importing act's own
    """

    about: Ref
    when: When
    body: Body
    corrects: int | None = None
    key: str = ""
    device: str = ""
    recorded: datetime | None = None
    intention: str = ""

    def __post_init__(self) -> None:
        kind = self.kind
        if self.about.kind not in kind.subjects:
            raise NotReadable(
                f"'{kind.name}' to be about {' or '.join(kind.subjects)}",
                got=str(self.about),
                todo="Name what it is about",
            )
        if self.about.kind != "room" and not self.about.code.strip():
            raise NotReadable(f"the code of the {self.about.kind} that '{kind.name}' is about", got="nothing")
        # What is written stays for ever: a day off the calendar's end would break every later question.
        if any(day is not None and day.year not in YEARS for day in (self.when.first, self.when.last)):
            raise NotReadable(
                f"a day from {YEARS[0]} to {YEARS[-1]}", got=str(self.when), todo="Write the day it happened"
            )

    @property
    def kind(self) -> Kind:
        """The row of the table of kinds."""
        return KIND_OF_BODY[type(self.body)]

    def with_key(self, key: str) -> Draft:
        """Return the same draft under an idempotency key."""
        return replace(self, key=key)


class Entry(msgspec.Struct, frozen=True, gc=False):
    """An entry as it stands in the journal. (A struct, not a dataclass: three times as fast to read.)

    number      ascending from 1 without reuse
    when        when it happened
    recorded    UTC instant at which it was written
    corrects    number of the entry that it replaces (or strikes, for a `struck` body)
    intention   the one act (a tap, an import) that wrote it, for undo; an imported entry keeps the acts
                it came from: `import/act that first wrote it`. Ask `belongs_to`, do not compare
    """

    number: int
    kind: str
    about: Ref
    when: When
    body: Body
    recorded: datetime
    device: str
    key: str
    corrects: int | None
    intention: str
    version: int = 1

    def belongs_to(self, act: str) -> bool:
        """Whether this act wrote it, here or in the room that it was imported from."""
        return self.intention == act or act in self.intention.split("/")


@dataclass(frozen=True, slots=True)
class Written:
    """Receipt of one act: the numbers it wrote, and those that were there already by their key."""

    intention: str
    numbers: tuple[int, ...]
    already: tuple[int, ...]
