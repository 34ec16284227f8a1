"""What a room's record holds about appetite and signs: the moments of one moult interval.

What carries evidence: offers that were taken, refused or left uneaten, and signs noted since the last moult.
What carries none: animals passed over by choice, offers whose outcome is open or was not seen, and whatever
happened on days on which the moult itself may have been.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import Final, NamedTuple

import numpy as np

from nightround.findings.clock_rows import Row
from nightround.findings.size import ClockSize
from nightround.record.histories import MoultHistory
from nightround.record.model import Animal, Look
from nightround.science.appetite.data import NO_OFFER, NOT_TAKEN, TAKEN
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.clock.data import NO_DAY

# Windows of both moults together may be this share of an interval whose phase is to be known.
VAGUE_SHARE: Final = 0.2
# From this ratio of abdomen to carapace width it counts as fat (common practice, no source).
FAT_RATIO: Final = 1.3
# Hardening days at a carapace of 2 mm and their growth with size: 3-7 days for slings, 14-21 for large (D).
_HARD_DAYS, _HARD_MM, _HARD_POWER = 4.0, 2.0, 0.63
_HARD_LEAST, _HARD_MOST = 3.0, 21.0
NOTHING: Final = (False,) * len(SIGN_NAMES)


class Moment(NamedTuple):
    """One offer with a known outcome, or one look.

    day        day number; outcome  TAKEN, NOT_TAKEN, or NO_OFFER for a look
    hungry     days since the last meal on an earlier day, NaN when none is known
    signs      signs seen, in the order of SIGN_NAMES
    """

    day: int
    outcome: int
    hungry: float
    signs: tuple[bool, ...]


def moments_of(animal: Animal, history: MoultHistory, row: Row, on: int) -> list[Moment]:
    """Return the moments of one interval in order of days; none on a day on which a moult may have been."""
    first = row.start[1] + 1 if row.start[1] != NO_DAY else row.watched
    last = row.end[0] - 1 if row.end[0] > 0 else on
    offers = _offers(history, max(first, row.watched), last)
    signs = _signs(animal, first, last)
    looks = [Moment(day, NO_OFFER, float("nan"), noted) for day, noted in signs.items() if day not in offers]
    told = [
        Moment(day, outcome, hungry, signs.get(day, NOTHING) if number == 0 else NOTHING)
        for day, found in offers.items()
        for number, (outcome, hungry) in enumerate(found)
    ]
    return sorted([*looks, *told], key=lambda moment: moment.day)


def _offers(history: MoultHistory, first: int, last: int) -> dict[int, list[tuple[int, float]]]:
    """Offers with a known outcome by day: outcome and days since the last meal on an earlier day."""
    low = bisect_left(history.offered, first, key=lambda pair: pair[0].toordinal())
    found: dict[int, list[tuple[int, float]]] = {}
    for when, outcome in history.offered[low:]:
        day = when.toordinal()
        if day > last:
            break
        meal = bisect_left(history.taken, when)
        hungry = float((when - history.taken[meal - 1]).days) if meal else float("nan")
        found.setdefault(day, []).append((TAKEN if outcome == "taken" else NOT_TAKEN, hungry))
    return found


def _signs(animal: Animal, first: int, last: int) -> dict[int, tuple[bool, ...]]:
    """Days with a look, and the signs that a keeper saw then; a sign that a later look takes back is gone."""
    looks = [
        (look.when.last.toordinal(), look)
        for look in animal.looks
        if look.when.last is not None and first <= look.when.last.toordinal() <= last
    ]
    looks.sort(key=lambda pair: (pair[0], pair[1].number))
    told = [(day, _told(look)) for day, look in looks]
    out: dict[int, tuple[bool, ...]] = {}
    gone = [max((day for day, said in told if said[i] is False), default=-1) for i in range(len(SIGN_NAMES))]
    for day, said in told:
        noted = tuple(bool(word) and day > gone[i] for i, word in enumerate(said))
        before = out.get(day, NOTHING)
        out[day] = tuple(a or b for a, b in zip(before, noted, strict=True))
    return out


def _told(look: Look) -> tuple[bool | None, ...]:
    """Signs in the order of SIGN_NAMES: True seen, False seen not to be there, None not looked for."""
    signs = look.signs
    fat: bool | None = None
    if signs.abdomen is not None:
        fat = signs.abdomen == "fat"
    elif signs.abdomen_ratio is not None:
        fat = signs.abdomen_ratio >= FAT_RATIO
    return fat, signs.dark_patch, signs.burrow_sealed, signs.moult_mat, signs.on_its_back


def hardening_days(size: ClockSize | None, instar: int) -> float:
    """Days without appetite after a moult for the animal's size; NaN where its taxon was never measured."""
    if size is None or not size.mean or size.n_readings_of_taxon == 0:
        return float("nan")
    carapace_mm = float(np.exp(size.mean[min(instar, len(size.mean) - 1)]))
    return float(np.clip(_HARD_DAYS * (carapace_mm / _HARD_MM) ** _HARD_POWER, _HARD_LEAST, _HARD_MOST))


def middle(window: tuple[int, int]) -> float:
    """Middle of a window of whole days, both included."""
    return (window[0] + window[1]) / 2.0 + 0.5


def begun(row: Row) -> float:
    """The moment an interval is counted from: the middle of its moult's window, or the first day of watch."""
    return middle(row.start) if row.start[1] != NO_DAY else float(row.watched)


def is_vague(row: Row) -> bool:
    """Whether the windows of a closed interval's two moults are too wide to know its phases."""
    width = row.start[1] - row.start[0] + row.end[1] - row.end[0]
    return width > VAGUE_SHARE * max(middle(row.end) - middle(row.start), 1.0)
