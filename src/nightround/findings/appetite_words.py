"""What one animal ate and showed since its last moult, in words."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import date
from typing import Final

import numpy as np

from nightround.findings.appetite_record import Moment, middle
from nightround.findings.clock_rows import Row
from nightround.foundation.wording import day_words
from nightround.record.histories import MoultHistory
from nightround.reports.forecast import AppetiteNote
from nightround.science.appetite.data import NO_OFFER, NOT_TAKEN, TAKEN
from nightround.science.appetite.priors import SIGN_NAMES
from nightround.science.clock.data import NO_DAY

_SIGN_WORDS: Final = {
    "fat_abdomen": "fat abdomen",
    "dark_patch": "dark patch",
    "sealed": "retreat sealed",
    "moult_mat": "moult mat",
    "on_its_back": "on its back",
}


def note_of(
    history: MoultHistory, row: Row, moments: Sequence[Moment], on: int, median_days: float
) -> AppetiteNote:
    """Return what the moments of a running interval say; the chances are put in by who works them out.

    median_days   days to the even chance of the next moult, NaN where it is not reachable
    """
    offers = [moment for moment in moments if moment.outcome != NO_OFFER]
    run = 0
    while run < len(offers) and offers[-1 - run].outcome == NOT_TAKEN:
        run += 1
    since = date.fromordinal(offers[-run].day) if run else None
    noted = _first_noted(moments)
    return AppetiteNote(
        history.animal,
        len(offers),
        sum(moment.outcome == TAKEN for moment in offers),
        run,
        since,
        noted,
        0.0,
        0.0,
        _phase(row, on, median_days),
        _words(history, offers, run, since, noted, date.fromordinal(on)),
    )


def _first_noted(moments: Sequence[Moment]) -> tuple[tuple[date, str], ...]:
    """Day and name of each sign when it was first noted, oldest first."""
    seen: dict[str, int] = {}
    for moment in moments:
        for name, noted in zip(SIGN_NAMES, moment.signs, strict=True):
            if noted:
                seen.setdefault(name, moment.day)
    return tuple(
        (date.fromordinal(day), name) for name, day in sorted(seen.items(), key=lambda pair: pair[1])
    )


def _phase(row: Row, on: int, median_days: float) -> float | None:
    """Share of the calendar days from the last moult to the median of the next that have passed."""
    if row.start[1] == NO_DAY or np.isnan(median_days):
        return None
    passed = on + 1 - middle(row.start)
    return float(passed / max(passed + median_days, 1e-9))


def _words(
    history: MoultHistory,
    offers: Sequence[Moment],
    run: int,
    since: date | None,
    noted: Sequence[tuple[date, str]],
    on: date,
) -> tuple[str, ...]:
    words = [f"{_SIGN_WORDS[sign]} noted {day_words(day, on)}" for day, sign in noted]
    if run >= 2 and since is not None:
        verb = "refused or left" if _left_uneaten(history, since, on) else "refused"
        words.append(f"{verb} {run} of {run} since {day_words(since, on)}")
    elif len(offers) >= 2:
        taken = sum(moment.outcome == TAKEN for moment in offers)
        opened = "since the last moult" if history.moults else "so far"
        words.append(f"took {taken} of {len(offers)} offers {opened}")
    return tuple(words)


def _left_uneaten(history: MoultHistory, first: date, last: date) -> bool:
    low = bisect_left(history.offered, first, key=lambda pair: pair[0])
    high = bisect_right(history.offered, last, key=lambda pair: pair[0])
    return any(outcome == "uneaten" for _, outcome in history.offered[low:high])
