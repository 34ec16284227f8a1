"""How the program's own past forecasts did: frozen data of the track record's page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

Fate = Literal["inside", "before", "after", "running", "unlooked", "ended", "open_ended", "unseen"]
STAGE_WORDS = {"after_moult": "made after the moult", "half_time": "made at half time"}

FATES: dict[Fate, str] = {
    "inside": "moulted inside the window",
    "before": "moulted before the window",
    "after": "moulted later, or still waiting past the window",
    "running": "window not over yet",
    "unlooked": "window over, but nobody has looked since",
    "ended": "died, left or escaped before the window was over",
    "open_ended": "window without an end: it may have been the last moult",
    "unseen": "had moulted unseen before the forecast was made",
}
"""What became of a window, in words. The first three count, the others do not."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share with its doubt: low to high holds the truth nine times in ten (Wilson's interval).

    number   windows behind it; for shares that allow for running waits, the number worth the same
    """

    value: float
    low: float
    high: float
    number: float


@dataclass(frozen=True, slots=True)
class Claim:
    """What was claimed, and what was seen: 'of moults said to come by the 50 % point, 47 % had'."""

    claimed: float
    seen: Share


@dataclass(frozen=True, slots=True)
class TrackLine:
    """The forecasts of one stage, of all animals or of one group.

    stage     after_moult or half_time; group: '' for all
    fates     how many forecasts met each fate; due = inside + before + after
    share     inside of due, for 80 % windows (None: none is due)
    allowing  the same share with waits that still run allowed for by the product limit
    crps      mean continuous ranked probability score of the due ones that moulted, in days, and their number
    """

    stage: str
    group: str
    fates: dict[Fate, int]
    share: Share | None
    allowing: Share | None
    crps: float | None
    crps_number: int

    @property
    def due(self) -> int:
        """How many windows count."""
        return self.fates["inside"] + self.fates["before"] + self.fates["after"]

    @property
    def issued(self) -> int:
        """How many forecasts were issued."""
        return sum(self.fates.values())


@dataclass(frozen=True, slots=True)
class TrackPart:
    """Forecasts of one origin: kept on their day, or worked out afterwards by looking back.

    lines    all animals by stage; groups: the same by group
    levels   by stage, the share of moults that had come by each claimed level
    windows  by stage, the share inside windows of 50, 80 and 90 %, running waits allowed for
    first, last   days of the first and last forecast
    """

    looked_back: bool
    lines: tuple[TrackLine, ...]
    groups: tuple[TrackLine, ...]
    levels: dict[str, tuple[Claim, ...]]
    windows: dict[str, tuple[Claim, ...]]
    first: date
    last: date

    @property
    def issued(self) -> int:
        """How many forecasts were issued."""
        return sum(line.issued for line in self.lines)

    @property
    def due(self) -> int:
        """How many windows count."""
        return sum(line.due for line in self.lines)


@dataclass(frozen=True, slots=True)
class Miss:
    """One window that did not hold its moult.

    day            day of the forecast; first, last: days of its 80 % window
    moulted        days between which it moulted (None: it was still waiting on `looked`)
    days_off       days between the moult (or the last look) and the window
    level          chance the forecast had given to a moult as early as that
    """

    animal: str
    taxon: str
    group: str
    stage: str
    looked_back: bool
    day: date
    first: date
    last: date
    moulted: tuple[date, date] | None
    looked: date | None
    days_off: float
    level: float


@dataclass(frozen=True, slots=True)
class Widening:
    """By how much the errors of a group were wider than its forecasts claimed, and what is done about it.

    factor     ratio of spreads, median; low to high nine times in ten; intervals: how many speak
    applied    by what its forecasts are widened now (1: not at all; they are never narrowed)
    words      the reason, '' where nothing is widened
    """

    group: str
    factor: float
    low: float
    high: float
    intervals: float
    applied: float
    words: str


@dataclass(frozen=True, slots=True)
class TrackReport:
    """The track record of a room as of a day.

    kept, looked_back   None where there are no such forecasts
    next_due            day on which the first window still open will be over
    verdict             what it comes to, in one or two sentences
    """

    on: date
    room: str
    invented: bool
    kept: TrackPart | None
    looked_back: TrackPart | None
    widenings: tuple[Widening, ...]
    misses: tuple[Miss, ...]
    next_due: date | None
    verdict: tuple[str, ...]
    method: str
    assumptions: tuple[str, ...]
