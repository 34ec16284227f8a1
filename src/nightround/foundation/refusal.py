"""Refusals: the named exceptions that a face shows to the keeper and never swallows."""

from __future__ import annotations


class Refusal(Exception):
    """Something was asked that cannot be done as asked.

    The message says what was wanted, what came, and what to do, in this order.
    Faces print it on stderr with exit code 1, or as a friendly page with status 4xx.
    """

    def __init__(self, wanted: str, *, got: str | None = None, todo: str | None = None) -> None:
        self.wanted = wanted
        self.got = got
        self.todo = todo
        parts = [wanted.rstrip(".")]
        if got is not None:
            parts.append(f"got {got}".rstrip("."))
        message = "; ".join(parts) + "."
        if todo is not None:
            message += f" {todo.rstrip('.')}."
        super().__init__(message)


class NoSuchThing(Refusal):
    """A code names nothing in this room."""


class NotReadable(Refusal):
    """A text, cell, date or number cannot be read."""


class RoomRefusal(Refusal):
    """The room's file is missing, foreign, too new, or already there."""


class UsageRefusal(Refusal):
    """The words of a command do not fit together (exit code 2)."""
