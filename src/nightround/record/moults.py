"""Windows of moults, and which entries must be one moult written twice."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from nightround.record.histories import MoultWindow
from nightround.record.model import Animal, Moult

SAME_MOULT_DAYS = 3
"""Two windows that lie within so few days are one moult: no animal here moults twice in that time (common
practice, no source; the shortest published intervals of spiderlings are about a week)."""


def in_order(moults: Iterable[Moult]) -> tuple[Moult, ...]:
    """Return moults by the last day, then the first day, then the number; unknown dates first."""
    return tuple(sorted(moults, key=_order))


def _order(moult: Moult) -> tuple[date, date, int]:
    when = moult.when
    return when.last or date.min, when.first or date.min, moult.number


def window(moult: Moult, checked: date | None = None) -> MoultWindow | None:
    """Return the days between which it moulted, None when no day is known.

    checked   the last day the keeper had surely not seen it moulted, where the entry says so: it shortens an
              interval, and widens a single day, which then is the day on which the moult was found
    """
    first, last = moult.when.first, moult.when.last
    if first is None or last is None:
        return None
    if checked is not None and checked < last and (checked >= first or first == last):
        first = checked + timedelta(days=1)
    return MoultWindow(moult.number, first, last)


def same(one: MoultWindow, other: MoultWindow) -> bool:
    """Whether the two must be one moult written twice, wherever in its window each happened."""
    first, last = min(one.first, other.first), max(one.last, other.last)
    return (last - first).days <= SAME_MOULT_DAYS


def may_be_same(one: MoultWindow, other: MoultWindow) -> bool:
    """Whether the two could lie so close together that they are one moult."""
    later, sooner = (one, other) if one.first > other.first else (other, one)
    return (later.first - sooner.last).days <= SAME_MOULT_DAYS


def distinct(windows: Iterable[MoultWindow]) -> list[MoultWindow]:
    """Return the windows with every moult that was written twice counted once, narrowed to what both say."""
    result: list[MoultWindow] = []
    for each in windows:
        if result and same(result[-1], each):
            kept = result.pop()
            first, last = max(kept.first, each.first), min(kept.last, each.last)
            if first > last:
                first, last = last, first
            result.append(MoultWindow(kept.number, first, last))
        else:
            result.append(each)
    return result


def dated_windows(animal: Animal, said: dict[int, date]) -> list[MoultWindow]:
    """Return the windows of the animal's dated moults in order; `said` holds what keepers had checked."""
    found = (window(moult, said.get(moult.number)) for moult in animal.moults)
    return sorted((w for w in found if w is not None), key=lambda w: (w.last, w.first, w.number))
