"""The words of a jotted part, read from left to right."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from nightround.foundation.quantities import UNITS, Dimension, quantity
from nightround.foundation.refusal import NotReadable

_TOKEN = re.compile(r'"([^"]*)"|,|[^\s,"]+|"')
_NUMBER = re.compile(r"([-+−]?\d+(?:\.\d+)?)(\D.*)?", re.ASCII | re.DOTALL)
_NUMBER_WORDS = {
    word: number
    for number, words in enumerate(
        ("", "a an one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
         "twelve")
    )
    for word in words.split()
}  # fmt: skip
_QUOTED = "\0"


@dataclass(frozen=True, slots=True)
class Token:
    """One word, comma or quoted text. `low` is for comparing; a quoted text equals no word."""

    text: str
    low: str
    start: int
    quoted: bool = False


def tokens_of(part: str) -> list[Token]:
    """Cut a part into tokens; a full stop or colon that ends a word is left away."""
    found = []
    for match in _TOKEN.finditer(part):
        if match[1] is not None:
            found.append(Token(match[1], _QUOTED, match.start(), True))
            continue
        text = match[0].rstrip(".:!?") or match[0]
        found.append(Token(text, text.casefold().replace("’", "'"), match.start()))
    return found


class Cursor:
    """A place in the words of one part; whoever understands words takes them."""

    def __init__(self, part: str) -> None:
        self.part = part
        self.tokens = tokens_of(part)
        self.at = 0

    @property
    def done(self) -> bool:
        """Whether nothing is left."""
        return self.at >= len(self.tokens)

    def low(self, ahead: int = 0) -> str:
        """Return a coming word for comparing, '' past the end."""
        at = self.at + ahead
        return self.tokens[at].low if at < len(self.tokens) else ""

    def text(self) -> str:
        """Return the coming word as it was written, '' past the end."""
        return "" if self.done else self.tokens[self.at].text

    def quoted(self) -> str | None:
        """Take a quoted text, if one comes."""
        if self.done or not self.tokens[self.at].quoted or not self.text().strip():
            return None
        self.at += 1
        return self.tokens[self.at - 1].text.strip()

    def phrase(self, *phrases: str) -> str:
        """Take the longest of these phrases that comes, '' when none does."""
        for phrase in sorted(phrases, key=lambda words: -len(words.split())):
            words = phrase.split()
            if all(self.low(ahead) == word for ahead, word in enumerate(words)):
                self.at += len(words)
                return phrase
        return ""

    def rest(self) -> str:
        """Take everything that is left, to the letter."""
        if self.done:
            return ""
        words = self.part[self.tokens[self.at].start :].strip()
        self.at = len(self.tokens)
        return words

    def separator(self) -> bool:
        """Take a comma, 'and' or both, if they come."""
        at = self.at
        self.phrase(",")
        self.phrase("and then", "and", "then", "&", "+")
        return self.at > at

    def whole(self) -> int | None:
        """Take a whole number in digits or words, if one comes."""
        word = self.low()
        number = _NUMBER_WORDS.get(word)
        if number is None and word.isascii() and word.isdigit() and len(word) < 7:
            number = int(word)
        if number is not None:
            self.at += 1
        return number

    def number_and_unit(self) -> tuple[str, str, int] | None:
        """Return a coming number, its unit ('' when no unit is known there) and how many words both are."""
        match = _NUMBER.fullmatch(self.text()) if self.low() != _QUOTED else None
        if match is None:
            return None
        number, joined = match[1].replace("−", "-"), (match[2] or "").strip()
        if joined:
            return (number, joined, 1) if joined.casefold() in UNITS else None
        for length in (2, 1):
            unit = " ".join(self.low(ahead) for ahead in range(1, length + 1))
            if unit in UNITS:
                shown = " ".join(token.text for token in self.tokens[self.at + 1 : self.at + 1 + length])
                return number, shown, 1 + length
        return number, "", 1

    def measures(self, dimension: Dimension) -> bool:
        """Whether an amount of that dimension comes."""
        found = self.number_and_unit()
        return found is not None and bool(found[1]) and UNITS[found[1].casefold()].dimension == dimension

    def amount(self, dimension: Dimension, *, above_nothing: bool = False) -> dict[str, Any]:
        """Take a number with its unit as the fields of an Amount. Raises NotReadable."""
        found = self.number_and_unit()
        example = {"length": "4.5 cm", "mass": "3.2 g", "volume": "10 ml", "temperature": "19.5 C"}
        if found is None or not found[1]:
            raise NotReadable(
                f"a {dimension} with its unit, such as {example.get(dimension, '60 %')}",
                got=repr(self.ahead()),
                todo="Write the number and its unit",
            )
        number, unit, words = found
        read = quantity(number, unit, dimension)
        if dimension != "temperature" and (read.value < 0 or (above_nothing and read.value == 0)):
            raise NotReadable(f"a {dimension} above nothing", got=repr(f"{number} {unit}"))
        self.at += words
        return {
            "value": read.value,
            "unit": read.unit,
            "written": read.written,
            "written_unit": read.written_unit,
        }

    def ahead(self, words: int = 3) -> str:
        """Return the next words as written, for saying what was not understood."""
        coming = self.tokens[self.at : self.at + words]
        return " ".join(token.text for token in coming) or "nothing more"
