"""What the words of a jotted line name: animals, batches, homes and places of the room."""

from __future__ import annotations

from collections.abc import Iterator

from nightround.desk.jot_tokens import Cursor, tokens_of
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
from nightround.record.model import Record

_PREFIXES = {
    "animal": "animal", "batch": "batch", "home": "home", "place": "place", "shelf": "place", "room": "place",
}  # fmt: skip
_SUBJECTS = frozenset({"animal", "batch", "home", "place"})


class RoomNames:
    """The names of a room's things: to the letter first, then in any spelling of upper and lower case."""

    def __init__(self, record: Record) -> None:
        self._exact: dict[tuple[str, ...], set[Ref]] = {}
        self._folded: dict[tuple[str, ...], set[Ref]] = {}
        self._longest = 1
        self.known: set[Ref] = set()
        for code, ref in _present(record):
            self._add(code, ref)
        present = set(self._exact)
        for code, ref in _former(record):
            if _words(code) not in present:
                self._add(code, ref)

    def _add(self, code: str, ref: Ref) -> None:
        self.known.add(ref)
        for words in {(code,), _words(code)} - {()}:
            self._longest = max(self._longest, len(words))
            self._exact.setdefault(words, set()).add(ref)
            self._folded.setdefault(tuple(word.casefold() for word in words), set()).add(ref)

    def take(self, cursor: Cursor, kinds: frozenset[str] = _SUBJECTS) -> Ref | None:
        """Take the longest name of one of these kinds, if one comes. Raises NotReadable for two meanings."""
        found = self._named(cursor, kinds)
        kind = _PREFIXES.get(cursor.low())
        if found is None and kind in kinds:
            cursor.at += 1
            found = self._named(cursor, frozenset({str(kind)}))
            if found is None:
                cursor.at -= 1
        return found

    def comes(self, cursor: Cursor) -> bool:
        """Whether a name comes."""
        at = cursor.at
        try:
            return self.take(cursor) is not None
        except NotReadable:
            return True
        finally:
            cursor.at = at

    def _named(self, cursor: Cursor, kinds: frozenset[str]) -> Ref | None:
        coming = [token.text for token in cursor.tokens[cursor.at : cursor.at + self._longest]]
        for length in range(len(coming), 0, -1):
            words = tuple(coming[:length])
            folded = tuple(word.casefold() for word in words)
            for table, key in ((self._exact, words), (self._folded, folded)):
                meant = {ref for ref in table.get(key, ()) if ref.kind in kinds}
                if len(meant) > 1:
                    raise _two_meanings(" ".join(words), meant)
                if meant:
                    cursor.at += length
                    return meant.pop()
        return None

    def near(self, text: str, kinds: frozenset[str] = _SUBJECTS) -> str:
        """Return the nearest names of these kinds, in words."""
        from rapidfuzz import process

        names = sorted({ref.code for ref in self.known if ref.kind in kinds})
        found = [name for name, _, _ in process.extract(text, names, limit=3)]
        return ", ".join(found) or "none, the room has none yet"

    @staticmethod
    def near_taxa(text: str, record: Record) -> str:
        """Return the nearest names of the room's taxa, in words."""
        from rapidfuzz import process

        found = [name for name, _, _ in process.extract(text, sorted(record.taxa), limit=3)]
        return ", ".join(found) or "none, the room has none yet"


def _two_meanings(text: str, meant: set[Ref]) -> NotReadable:
    said = " or ".join(sorted(str(ref) for ref in meant))
    return NotReadable("a name with one meaning", got=repr(text), todo=f"Write {said}, in its own letters")


def _words(code: str) -> tuple[str, ...]:
    return tuple(token.text for token in tokens_of(code))


def _present(record: Record) -> Iterator[tuple[str, Ref]]:
    for animal in record.animals.values():
        yield animal.code, Ref("animal", animal.code)
        yield from _where(animal.place, animal.home, record)
    for batch in record.batches.values():
        yield batch.code, Ref("batch", batch.code)
        yield from _where(batch.place, batch.home, record)
    for home in record.homes.values():
        yield home.code, Ref("home", home.code)
        yield from _where(home.place, "", record)
    for place in record.places.values():
        yield place.name, Ref("place", place.name)


def _where(place: str, home: str, record: Record) -> Iterator[tuple[str, Ref]]:
    if place and place not in record.places:
        yield place, Ref("place", place)
    if home and home not in record.homes:
        yield home, Ref("home", home)


def _former(record: Record) -> Iterator[tuple[str, Ref]]:
    for animal in record.animals.values():
        for code in animal.codes:
            yield code, Ref("animal", animal.code)
    for home in record.homes.values():
        for code in home.codes:
            yield code, Ref("home", home.code)
    for place in record.places.values():
        for name in place.names:
            yield name, Ref("place", place.name)
