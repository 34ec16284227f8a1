"""Entries to rows and back."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from typing import Any

import msgspec

from nightround.foundation.refusal import RoomRefusal
from nightround.foundation.when import UNKNOWN, When
from nightround.journal.entries import Draft, Entry, Ref
from nightround.journal.kinds import KINDS, Body

_ENCODER = msgspec.json.Encoder(order="deterministic")
_DECODERS = {name: msgspec.json.Decoder(kind.body) for name, kind in KINDS.items()}
_SHARED_BODIES = 4096


def body_text(body: Body) -> str:
    """Return a body as JSON text; equal bodies give equal text."""
    return _ENCODER.encode(body).decode()


def body_of(kind: str, text: str) -> Body:
    """Return the typed body that JSON text holds. Raises RoomRefusal for an unknown kind or field."""
    decoder = _DECODERS.get(kind)
    if decoder is None:
        raise RoomRefusal(
            f"a kind of entry that this Nightround knows, got {kind!r}", todo="Update Nightround"
        )
    try:
        return decoder.decode(text)
    except msgspec.DecodeError as error:
        raise RoomRefusal(f"a readable '{kind}' entry", got=f"{text} ({error})") from error


def row_of(draft: Draft) -> dict[str, Any]:
    """Return the columns of a draft that its content decides (no number, key or time of writing)."""
    when = draft.when
    return {
        "kind": draft.kind.name,
        "version": draft.kind.version,
        "about_kind": draft.about.kind,
        "about": draft.about.code,
        "happened": when.text(),
        "first_day": when.first.isoformat() if when.first else None,
        "last_day": when.last.isoformat() if when.last else None,
        "body": body_text(draft.body),
        "corrects": draft.corrects,
    }


def entries_of(rows: Iterable[Sequence[Any]]) -> Iterator[Entry]:
    """Yield entries from rows in the column order of the table.

    Equal moments, references and small bodies share one object: most rows of a room repeat.
    """
    whens: dict[str, When] = {"": UNKNOWN}
    refs: dict[tuple[str, str], Ref] = {}
    bodies: dict[tuple[str, str], Body] = {}
    for (number, kind, version, about_kind, about, happened, first, last, body, recorded, device, key,
         corrects, intention) in rows:  # fmt: skip
        when = whens.get(happened)
        if when is None:
            when = whens[happened] = _when(happened, first, last)
        ref = refs.get((about_kind, about))
        if ref is None:
            ref = refs[about_kind, about] = Ref(about_kind, about)
        decoded = bodies.get((kind, body))
        if decoded is None:
            decoded = body_of(kind, body)
            if len(bodies) < _SHARED_BODIES:
                bodies[kind, body] = decoded
        yield Entry(
            number, sys.intern(kind), ref, when, decoded, datetime.fromisoformat(recorded),
            sys.intern(device), key, corrects, sys.intern(intention), version,
        )  # fmt: skip


def _when(happened: str, first: str, last: str) -> When:
    # The room's day was fixed when it was written: it must not move with the zone data of this machine.
    instant = datetime.fromisoformat(happened) if "T" in happened and "/" not in happened else None
    return When(date.fromisoformat(first), date.fromisoformat(last), instant)


def instant_text(instant: datetime) -> str:
    """Return an aware instant as UTC text of one fixed width, so that text order is time order."""
    return instant.astimezone(UTC).isoformat(timespec="microseconds")
