"""Idempotency keys from content: the same row again, from any file in any order, gets the same key."""

from __future__ import annotations

from collections import Counter
from datetime import UTC
from hashlib import blake2b

import msgspec

from nightround.foundation.when import When
from nightround.journal.entries import Ref
from nightround.journal.kinds import Body

_ENCODER = msgspec.json.Encoder(order="deterministic")


def moment_text(when: When) -> str:
    """Return a moment as text that does not depend on how its offset from UTC was written."""
    return when.instant.astimezone(UTC).isoformat() if when.instant is not None else when.text()


class Keys:
    """Gives keys: a hash of the content, and which occurrence of that content it is."""

    def __init__(self, taken: set[str]) -> None:
        self._taken = taken
        self._occurrences: Counter[bytes] = Counter()
        self._moments: dict[int, tuple[When, str]] = {}

    def key(self, kind: str, about: Ref, when: When, body: Body, *references: str) -> str:
        """Return the key of the next occurrence; `references` are the keys of the entries it names."""
        parts = (kind, about.kind, about.code, self._moment(when), *references)
        hashed = blake2b("\x1f".join(parts).encode("utf-8"), digest_size=12)
        hashed.update(_ENCODER.encode(body))
        digest = hashed.digest()
        while True:
            self._occurrences[digest] += 1
            key = f"row-{digest.hex()}-{self._occurrences[digest]}"
            if key not in self._taken:
                return key

    def _moment(self, when: When) -> str:
        known = self._moments.get(id(when))
        if known is None:
            known = self._moments[id(when)] = (when, moment_text(when))
        return known[1]
