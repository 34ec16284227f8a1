"""What every entry body has in common, and the row of the table of kinds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import msgspec

SubjectKind = Literal["animal", "batch", "home", "place", "lot", "taxon", "room"]


class Body(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """The typed content of an entry. Empty or None always means unknown, never zero or no."""

    note: str = ""


class Amount(Body, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A body that carries one quantity: canonical value and unit, and both as they were written."""

    value: float | None = None
    unit: str = ""
    written: str = ""
    written_unit: str = ""


@dataclass(frozen=True)
class Kind:
    """One row of the table of kinds: what it may be about and where its fields stand in the plain tables.

    item, value, unit, outcome   the body's field that the column of that name holds ('' = column unused);
                                 `note` is the note, every other field goes to `detail` as key=value
    dimension                    of the amount, for kinds whose body is an Amount with one dimension
    """

    name: str
    body: type[Body]
    subjects: tuple[SubjectKind, ...]
    says: str
    item: str = ""
    value: str = ""
    outcome: str = ""
    dimension: str = ""
    version: int = 1
