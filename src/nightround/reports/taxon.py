"""What this room's records say of a taxon: life spans, findings, losses. Frozen, computes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from nightround.foundation.estimate import Estimate

Clock = Literal["age", "care", "mature"]
CLOCKS: dict[Clock, str] = {
    "age": "age",
    "care": "time in this room",
    "mature": "time since the ultimate moult",
}
Unit = Literal["ratio", "day", "mm", "share", "C", "percent", "a year"]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The curve right after a day: survival with its interval, and how many were watched on it.

    survival, low, high   None where the record does not tell
    """

    days: float
    survival: float | None
    low: float | None
    high: float | None
    at_risk: int


@dataclass(frozen=True, slots=True)
class LifeCurve:
    """Survival of some animals by one clock, or in its place who lives and how old the oldest is.

    n, deaths, alive, gone, lost   lives behind it; gone: sold or given; lost: lost or escaped
    vague           deaths known only to lie between two days
    oldest_days     the furthest day one still alive here was seen alive; longest_days: any of them
    points          at every step of the curve; table: at round days; both empty where no curve is drawn
    from_days       the curve holds for those that reached this day; to_days: the last day anybody was watched
    behind          lives in the curve; the others ended before it begins
    half, double    (day, survival) if those sold or given died half, and twice, as fast later
    median          None with `median_words` saying why not
    """

    clock: Clock
    who: str
    taxa: str
    n: int
    deaths: int
    alive: int
    gone: int
    lost: int
    vague: int
    oldest_days: float | None
    longest_days: float | None
    from_days: float | None
    to_days: float | None
    points: tuple[CurvePoint, ...]
    table: tuple[CurvePoint, ...]
    behind: int
    half: tuple[tuple[float, float], ...]
    double: tuple[tuple[float, float], ...]
    median: Estimate | None
    median_words: str
    words: str
    method: str
    level: float

    @property
    def drawn(self) -> bool:
        """Whether there is a curve to draw."""
        return bool(self.points)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found out, or what is missing.

    estimate   None: not enough yet, and `missing` says what is
    unit       how its numbers are to be read, see `Unit`
    words      what else is to be said of it
    """

    key: str
    name: str
    unit: Unit
    estimate: Estimate | None
    missing: str = ""
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BatchLoss:
    """Losses of one batch. None: the start was not counted, or nobody counted since.

    share_low, share_high   share lost if none, or all, of unknown fate are lost; low, high: exact 95 % around
    """

    batch: str
    started: int | None
    lost: int
    unknown: int | None
    promoted: int
    left: int
    counted: date | None
    share_low: float | None
    share_high: float | None
    low: float | None
    high: float | None
    words: str


@dataclass(frozen=True, slots=True)
class BatchLosses:
    """Spiderling losses of a taxon, batch by batch and together (low, high None with under three batches)."""

    batches: tuple[BatchLoss, ...]
    counted: int
    started: int
    lost: int
    unknown: int
    share_low: float | None
    share_high: float | None
    low: float | None
    high: float | None
    words: str


@dataclass(frozen=True, slots=True)
class HomeUsed:
    """Homes of one inner size [mm] (as made up last, None where not written) that animals lived in.

    homes    how many; example: the code of the one lived in longest
    """

    homes: int
    example: str
    length_mm: float | None
    width_mm: float | None
    height_mm: float | None
    animals: int
    days: int


@dataclass(frozen=True, slots=True)
class TaxonLine:
    """One taxon in the list: animals ever kept by fate, batches, and the oldest alive [days]."""

    name: str
    group: str
    animals: int
    alive: int
    deaths: int
    gone: int
    lost: int
    batches: int
    moults: int
    measured: int
    oldest_days: float | None
    oldest_clock: Clock | None


@dataclass(frozen=True, slots=True)
class TaxaReport:
    """All taxa of the room."""

    on: date
    room: str
    invented: bool
    taxa: tuple[TaxonLine, ...]


@dataclass(frozen=True, slots=True)
class TaxonReport:
    """One taxon as of a day.

    curves     this taxon's, the fullest first; group_curves: those of all taxa of its group
    left_out   animals in no curve, with the reason
    worked_back   animals whose age was worked back from size, with the days between which they hatched (95 %)
    hazard     the keeper's caution about the kind ('' none written)
    """

    on: date
    room: str
    invented: bool
    line: TaxonLine
    names: tuple[str, ...]
    hazard: str
    curves: tuple[LifeCurve, ...]
    group_curves: tuple[LifeCurve, ...]
    findings: tuple[Finding, ...]
    losses: BatchLosses
    homes: tuple[HomeUsed, ...]
    left_out: tuple[str, ...]
    worked_back: tuple[str, ...]
    method: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
