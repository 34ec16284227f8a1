"""Answers kept on disk between runs: the same entries, day and program give the same sizes and forecasts.

A fit of a large room takes a second or more, and a keeper asks for tonight several times an evening. What is
kept only saves time: it lies in the platform's cache folder, may be deleted at any moment, and is used for
exactly the journal, day and program that it was worked out from, never for another.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
import sys
import time
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from nightround import __version__
from nightround.journal.entries import Entry

T = TypeVar("T")

WORTH_KEEPING_SECONDS = 0.2
_MOST_FILES = 40
_LAYERS = ("foundation", "journal", "record", "science", "findings", "plans", "reports")


def kept_or(
    question: str,
    entries: Sequence[Entry],
    on: date,
    shape: Any,
    answer: Callable[[], T],
    *,
    drawer: str = "answers",
) -> T:
    """Return the kept answer to a question about the journal as of a day, else work it out and keep it.

    shape    the answer's type, with which it is read back; a file that cannot be read is worked out anew
    drawer   folder of answers that are kept and forgotten together
    """
    if not entries:
        return answer()
    path = _folder(drawer) / f"{_digest(question, entries, on)}.json"
    with contextlib.suppress(OSError, msgspec.DecodeError):
        found: T = msgspec.json.decode(path.read_bytes(), type=shape)
        return found
    began = time.perf_counter()
    result = answer()
    if time.perf_counter() - began >= WORTH_KEEPING_SECONDS:
        _keep(path, result)
    return result


def keep(drawer: str, name: str, value: object) -> None:
    """Keep a value under a name of its own, in place of what was kept there; a full disk keeps nothing."""
    _keep(_folder(drawer) / f"{name}.json", value)


def kept(drawer: str, name: str, shape: Any) -> Any:
    """Return what is kept under that name, None when there is nothing that can be read."""
    with contextlib.suppress(OSError, msgspec.DecodeError):
        return msgspec.json.decode((_folder(drawer) / f"{name}.json").read_bytes(), type=shape)
    return None


def _folder(drawer: str) -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("nightround", appauthor=False) / drawer


def _digest(question: str, entries: Sequence[Entry], on: date) -> str:
    """A room copied and continued elsewhere has the same numbers: the newest entry's key tells them apart."""
    newest = entries[-1]
    told = (question, on.isoformat(), newest.number, newest.key, newest.recorded.isoformat(), _program())
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]


@cache
def _program() -> str:
    """What the answers were worked out with: Python, the version, and the source files as they stand."""
    root = Path(__file__).parent.parent
    digest = hashlib.sha256(f"{sys.version}{__version__}".encode())
    for path in sorted(path for layer in _LAYERS for path in (root / layer).rglob("*.py")):
        state = path.stat()
        digest.update(f"{path.relative_to(root)}{state.st_size}{state.st_mtime_ns}".encode())
    return digest.hexdigest()


def _keep(path: Path, result: object) -> None:
    """Write the answer whole or not at all; a full or closed disk only costs time, never the answer."""
    unfinished = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(msgspec.json.encode(result))
        os.replace(unfinished, path)
        newest_first = sorted(path.parent.iterdir(), key=lambda file: file.stat().st_mtime, reverse=True)
        for old in newest_first[_MOST_FILES:]:
            old.unlink(missing_ok=True)
