"""The table of kinds: every kind of entry, what it may be about, and the type of its body."""

from __future__ import annotations

from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds import animal, knowledge, supplies, surroundings
from nightround.journal.kinds.base import Amount, Body, Kind, SubjectKind

KINDS: dict[str, Kind] = {
    kind.name: kind for kind in (*animal.KINDS, *surroundings.KINDS, *supplies.KINDS, *knowledge.KINDS)
}
KIND_OF_BODY: dict[type[Body], Kind] = {kind.body: kind for kind in KINDS.values()}

__all__ = ["KINDS", "KIND_OF_BODY", "Amount", "Body", "Kind", "SubjectKind", "kind_named"]


def kind_named(name: str) -> Kind:
    """Return the kind of that name. Raises NotReadable with the nearest known names."""
    found = KINDS.get(name)
    if found is None:
        import difflib

        near = difflib.get_close_matches(name, KINDS, n=3) or sorted(KINDS)
        raise NotReadable("a kind of entry", got=repr(name), todo="Use one of: " + ", ".join(near))
    return found
