"""Jotted signs of a sighting: on its back, burrow sealed, fat abdomen, black fangs."""

from __future__ import annotations

import re
from typing import Any

from nightround.desk.jot_clauses import Line, Maker, plain
from nightround.desk.jot_tokens import Cursor
from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds.animal import Seen

_RATIO = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]?", re.ASCII)

SIGNS: dict[str, tuple[str, Any]] = {
    "on its back": ("on_its_back", True), "on back": ("on_its_back", True),
    "sealed": ("burrow_sealed", True), "burrow sealed": ("burrow_sealed", True),
    "sealed in": ("burrow_sealed", True), "sealed burrow": ("burrow_sealed", True),
    "burrow open": ("burrow_sealed", False), "unsealed": ("burrow_sealed", False),
    "dark patch": ("dark_patch", True), "no dark patch": ("dark_patch", False),
    "moult mat": ("moult_mat", True), "molt mat": ("moult_mat", True), "moulting mat": ("moult_mat", True),
    **{f"{size} abdomen": ("abdomen", size) for size in ("shrunken", "small", "normal", "fat")},
    **{f"abdomen {size}": ("abdomen", size) for size in ("shrunken", "small", "normal", "fat")},
    **{f"{colour} fangs": ("fangs", colour) for colour in ("white", "red", "black")},
    **{f"fangs {colour}": ("fangs", colour) for colour in ("white", "red", "black")},
    **{posture: ("posture", posture) for posture in ("in the open", "at the entrance", "curled")},
}  # fmt: skip
"""A sign's words, with the field and the value that it means."""

SEEN = ("seen", "seen alive", "was seen", "saw it")
SIGN_STARTS = (*SEEN, *SIGNS, "abdomen")


def seen_clause(cursor: Cursor, _: Line) -> Maker:
    """Read the signs that were seen, from the first word on; the verb 'seen' may stand before them."""
    cursor.at -= _taken(cursor)
    signs: dict[str, Any] = {}
    verb = cursor.phrase(*SEEN)
    while True:
        at = cursor.at
        if signs or verb:
            cursor.separator()
        cursor.phrase("with", "with a", "a")
        found = _sign(cursor)
        if found is None:
            cursor.at = at
            break
        name, value = found
        if signs.get(name, value) != value:
            raise NotReadable(f"one {name.replace('_', ' ')}", got=f"{signs[name]} and {value}")
        signs[name] = value
    return plain(Seen(**signs))


def _taken(cursor: Cursor) -> int:
    """Return how many words back the clause began."""
    for phrase in sorted(SIGN_STARTS, key=lambda words: -len(words.split())):
        length = len(phrase.split())
        begins = cursor.at - length
        if begins >= 0 and [token.low for token in cursor.tokens[begins : cursor.at]] == phrase.split():
            return length
    return 0


def _sign(cursor: Cursor) -> tuple[str, Any] | None:
    phrase = cursor.phrase(*SIGNS)
    if phrase:
        return SIGNS[phrase]
    if cursor.low() != "abdomen":
        return None
    match = _RATIO.fullmatch(cursor.low(1))
    if match is None or not 0 < float(match[1]) < 10:
        raise NotReadable(
            "an abdomen as fat, normal, small or shrunken, or 1.4 x carapace",
            got=repr(cursor.ahead()),
        )
    cursor.at += 2
    cursor.phrase("x carapace", "× carapace", "times carapace", "carapace", "x", "×")
    return "abdomen_ratio", float(match[1])
