"""Cells to values and back: one pair of functions for each type of field, and the `detail` cell."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import msgspec

from nightround.foundation import when as whens
from nightround.foundation.clock import RoomClock
from nightround.foundation.quantities import number
from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds import Body

Sort = Literal["text", "code", "date", "choice", "whole", "number", "yes_no", "list"]

CODES = frozenset({"taxon", "place", "home", "batch", "mate", "inside"})
"""Text fields that name something: outer spaces are a slip and are taken off."""

DATES = frozenset({"hatched", "found", "last_checked", "last_seen_alive"})
"""Text fields that hold a date or interval in ISO 8601."""

SIGNED = frozenset({"position", "temperature_c", "low", "high"})
"""Number fields that may be below zero."""

_WHOLE = re.compile(r"[+-]?\d{1,15}(\.0+)?", re.ASCII)
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


@dataclass(frozen=True)
class Field:
    """A field of an entry's body as the tables see it. `default` is what an empty cell means."""

    name: str
    sort: Sort
    choices: tuple[str, ...] = ()
    default: Any = None
    required: bool = False

    @property
    def must_be_said(self) -> bool:
        """Whether an empty cell is refused: the body has no word for 'unknown' here."""
        return self.required or (self.sort == "choice" and self.default is not None)


@cache
def fields_of(body: type[Body]) -> dict[str, Field]:
    """Return the fields of a body type by name."""
    hints = get_type_hints(body)
    return {field.name: _field(field, hints[field.name]) for field in msgspec.structs.fields(body)}


def _field(field: msgspec.structs.FieldInfo, hint: Any) -> Field:
    options = [option for option in _options(hint) if option is not NoneType]
    required = field.default is msgspec.NODEFAULT
    default = None if required else field.default
    if all(get_origin(option) is Literal for option in options):
        choices = tuple(word for option in options for word in get_args(option))
        return Field(field.name, "choice", choices, default, required)
    return Field(field.name, _sort(field.name, options[0]), (), default, required)


def _options(hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)


def _sort(name: str, hint: Any) -> Sort:
    if hint is str:
        return "code" if name in CODES else "date" if name in DATES else "text"
    sorts: dict[Any, Sort] = {bool: "yes_no", int: "whole", float: "number"}
    return sorts.get(hint, "list")


def reader(field: Field, clock: RoomClock) -> Callable[[str], Any]:
    """Return the function that reads a non-empty cell of this field; it raises NotReadable."""
    if field.sort == "choice":
        words = {choice: choice for choice in field.choices}
        return lambda cell: words.get(cell) or _choice(cell, field)
    if field.sort == "date":
        return lambda cell: _date(cell, clock)
    if field.sort in ("whole", "number"):
        read = whole if field.sort == "whole" else finite
        return read if field.name in SIGNED else lambda cell: _not_negative(cell, read)
    simple: dict[str, Callable[[str], Any]] = {
        "text": str, "code": _code, "yes_no": _yes_no, "list": split_list,
    }  # fmt: skip
    return simple[field.sort]


def writer(field: Field) -> Callable[[Any], str]:
    """Return the function that writes a value that is not None so that `reader` reads it back."""
    plain: dict[str, Callable[[Any], str]] = {
        "number": number_text, "whole": str, "list": join_list,
        "yes_no": lambda value: "yes" if value else "no",
    }  # fmt: skip
    return plain.get(field.sort, str)


def number_text(value: float) -> str:
    """Write a number so that the very same is read back, whole ones without a point."""
    return repr(value).removesuffix(".0")


def survives(field: Field, value: Any) -> bool:
    """Whether a plain cell keeps this text as it is (a name with outer spaces does not)."""
    return field.sort not in ("code", "date") or value == value.strip()


def finite(cell: str) -> float:
    """Read a number that the machine can hold."""
    value = number(cell)
    if not math.isfinite(value):
        raise NotReadable("a number of sensible size", got=repr(cell))
    return value


def whole(cell: str) -> int:
    """Read a whole number; `3.0`, as spreadsheets write it, is one."""
    text = cell.strip()
    if not _WHOLE.fullmatch(text):
        raise NotReadable(
            "a whole number such as 3", got=repr(cell), todo="Put words such as 'about' into the note"
        )
    return int(text.partition(".")[0])


def _not_negative(cell: str, read: Callable[[str], Any]) -> Any:
    value = read(cell)
    if value < 0:
        raise NotReadable("a number that is not below zero", got=repr(cell))
    return value


def _choice(cell: str, field: Field) -> str:
    word = cell.strip().lower().replace(" ", "_").replace("-", "_")
    if word in field.choices:
        return word
    raise NotReadable(
        f"one of {', '.join(field.choices)}",
        got=repr(cell),
        todo=""
        if field.must_be_said
        else "Leave it empty when it is unknown, and put other words into the note",
    )


def _date(cell: str, clock: RoomClock) -> str:
    whens.parse(cell, clock)
    return cell.strip()


def _code(cell: str) -> str:
    return cell.strip()


def _yes_no(cell: str) -> bool:
    value = _YES_NO.get(cell.strip().lower())
    if value is None:
        raise NotReadable("yes or no", got=repr(cell), todo="Leave it empty when it is unknown")
    return value


# -- `detail` and lists: a backslash makes the next character an ordinary one ---------------------------


def escape(text: str) -> str:
    """Protect what would end or trim a part: `\\`, `;` and spaces at either end."""
    text = text.replace("\\", "\\\\").replace(";", "\\;")
    start = len(text) - len(text.lstrip())
    if start == len(text):
        return "".join(f"\\{space}" for space in text)
    end = len(text.rstrip())
    spaces = (text[:start], text[end:])
    before, after = ("".join(f"\\{space}" for space in run) for run in spaces)
    return before + text[start:end] + after


def split_parts(cell: str) -> list[str]:
    """Split at `;`, trim the spaces that no backslash protects, and undo the escapes. Empty parts go."""
    if "\\" not in cell:
        return [part for part in (piece.strip() for piece in cell.split(";")) if part]
    return [_unescape(part) for part in (piece for piece in _pieces(cell)) if _trim(part)]


def _pieces(cell: str) -> list[list[tuple[str, bool]]]:
    pieces: list[list[tuple[str, bool]]] = [[]]
    characters = iter(cell)
    for character in characters:
        if character == "\\":
            pieces[-1].append((next(characters, "\\"), True))
        elif character == ";":
            pieces.append([])
        else:
            pieces[-1].append((character, False))
    return pieces


def _trim(piece: list[tuple[str, bool]]) -> list[tuple[str, bool]]:
    start, end = 0, len(piece)
    while start < end and piece[start][0].isspace() and not piece[start][1]:
        start += 1
    while end > start and piece[end - 1][0].isspace() and not piece[end - 1][1]:
        end -= 1
    return piece[start:end]


def _unescape(piece: list[tuple[str, bool]]) -> str:
    return "".join(character for character, _ in _trim(piece))


def split_list(cell: str) -> tuple[str, ...]:
    """Read names separated by `;`."""
    return tuple(split_parts(cell))


def join_list(values: tuple[str, ...]) -> str:
    """Write names separated by `; `."""
    return "; ".join(escape(value) for value in values)


def split_detail(cell: str) -> dict[str, str]:
    """Read `key=value;…`. Raises NotReadable for a part without `=` and for a key that stands twice."""
    found: dict[str, str] = {}
    for piece in _detail_pieces(cell):
        name, equals, value = piece
        if not equals:
            raise NotReadable("key=value;key=value", got=repr(name), todo="Put plain words into the note")
        if name in found:
            raise NotReadable(f"'{name}' once", got="it twice")
        found[name] = value
    return found


def _detail_pieces(cell: str) -> list[tuple[str, bool, str]]:
    pieces: list[tuple[str, bool, str]] = []
    for piece in _pieces(cell):
        equals = next((i for i, (character, kept) in enumerate(piece) if character == "=" and not kept), None)
        name = _unescape(piece[:equals]).strip().lower()
        if equals is not None:
            pieces.append((name, True, _unescape(piece[equals + 1 :])))
        elif name:
            pieces.append((name, False, ""))
    return pieces


def join_detail(values: Mapping[str, str]) -> str:
    """Write `key=value;…` so that `split_detail` reads it back."""
    return ";".join(f"{name}={escape(value)}" for name, value in values.items())
