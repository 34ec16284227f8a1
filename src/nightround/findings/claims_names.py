"""Names of taxa: spellings of one name, and names that a slip of the pen would turn into each other."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_NEAR: Final = 88.0
_QUOTES: Final = str.maketrans({"“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "«": '"', "»": '"'})
_PROVISIONAL: Final = re.compile(r"\b(sp|spp|cf|aff)\.?(?=\s|$)")


def plain_name(name: str) -> str:
    """Return a name as it is compared: one case, plain quotes, single blanks, `sp.` always with its dot."""
    text = " ".join(name.translate(_QUOTES).casefold().split())
    return _PROVISIONAL.sub(lambda found: found[1] + ".", text)


def parts_of(name: str) -> tuple[str, str]:
    """Return the scientific part of a name, and the locality or form in quotes or brackets ('' without)."""
    text = plain_name(name)
    found = re.search(r"[\"'(]\s*(.*?)\s*[\"')]\s*$", text)
    return (text[: found.start()].strip(), found[1]) if found else (text, "")


def near(name: str, others: Iterable[str]) -> tuple[str, ...]:
    """Return the other names that differ from this one by a slip of spelling at most, nearest first.

    Two localities are two kinds of animal: `sp. "north"` is never near `sp. "south"`, nor is `sp.`
    near a species.
    """
    from rapidfuzz import fuzz

    mine, where = parts_of(name)
    found = []
    for other in others:
        theirs, elsewhere = parts_of(other)
        if plain_name(other) == plain_name(name) and other == name:
            continue
        if bool(where) != bool(elsewhere) or _words_apart(mine, theirs):
            continue
        score = min(fuzz.ratio(mine, theirs), fuzz.ratio(where, elsewhere) if where else 100.0)
        if score >= _NEAR:
            found.append((-score, other))
    return tuple(other for _, other in sorted(found))


def _words_apart(first: str, second: str) -> bool:
    """Whether the names have other kinds of words: a genus alone, or `sp.` where the other has a species."""
    one, two = first.split(), second.split()
    marks = [[word for word in words if word.endswith(".")] for words in (one, two)]
    return len(one) != len(two) or marks[0] != marks[1]


def best_match(typed: str, names: Iterable[str]) -> str | None:
    """Return the one name that was meant: the same in another spelling, or the only near one; else None."""
    names = list(names)
    same = [name for name in names if plain_name(name) == plain_name(typed)]
    if same:
        return same[0]
    close = near(typed, names)
    return close[0] if len(close) == 1 else None
