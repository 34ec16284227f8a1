"""Finding animals by what the keeper types."""

from __future__ import annotations

from nightround.foundation.refusal import NoSuchThing
from nightround.record.model import Animal, Record

_GOOD_MATCH = 72


def animal_named(record: Record, code: str) -> Animal:
    """Return the animal of that code (any code it ever had, any case). Raises NoSuchThing."""
    found = record.animals.get(code.strip())
    if found is not None:
        return found
    wanted = code.strip().casefold()
    for animal in record.animals.values():
        if wanted in {name.casefold() for name in (animal.code, *animal.codes)}:
            return animal
    raise NoSuchThing("an animal of this room", got=repr(code), todo=_hint(record, code))


def _hint(record: Record, code: str) -> str:
    from rapidfuzz import process

    if not record.animals:
        return "The room has no animals yet: paste a list, or import tables"
    near = [name for name, _, _ in process.extract(code, list(record.animals), limit=4)]
    return "Nearest codes: " + ", ".join(near)


def search(record: Record, words: str) -> list[Animal]:
    """Return animals whose code, taxon (any name), shelf or home fits the words, best first."""
    words = words.strip()
    if not words:
        return sorted(record.animals.values(), key=lambda animal: animal.code)
    scored = []
    for animal in record.animals.values():
        taxon = record.taxa.get(animal.taxon)
        texts = [
            animal.code,
            *animal.codes,
            animal.taxon,
            *(taxon.names if taxon else ()),
            animal.place,
            animal.home,
        ]
        score = max(_score(words, text) for text in texts if text)
        if score >= _GOOD_MATCH:
            scored.append((-score, animal.code, animal))
    return [animal for _, _, animal in sorted(scored, key=lambda row: row[:2])]


def _score(words: str, text: str) -> float:
    from rapidfuzz import fuzz, utils

    if words.casefold() == text.casefold():
        return 200.0
    if words.casefold() in text.casefold():
        return 150.0
    return float(fuzz.WRatio(words, text, processor=utils.default_process))
