"""The track record: issued odds against what happened, and what follows for the forecasts to come.

A room's record consists of the forecasts that were kept on their day and, apart from them, those that a
look back worked out afterwards from what had been written by then. Both speak on how sure forecasts may be;
where an interval has both, the one that was kept counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Final

import numpy as np

from nightround.findings.issued import in_force
from nightround.findings.outcomes import Outcome, outcomes
from nightround.findings.track_words import ASSUMPTIONS, METHOD, verdict, why_widened
from nightround.journal.issued import STAGES, Issued
from nightround.record.model import Record
from nightround.reports.track_record import (
    FATES,
    Claim,
    Fate,
    Miss,
    Share,
    TrackLine,
    TrackPart,
    TrackReport,
    Widening,
)
from nightround.science.track import calibration, spreads, unwidened, weights, wilson, window_share

CLAIMED: Final = np.round(np.arange(1, 20) / 20, 2)
WINDOWS: Final = (0.5, 0.8, 0.9)
MISSES_SHOWN: Final = 12
MONTH_DAYS: Final = 28
# By how much windows are widened is judged by the newest forecasts: keepers, rooms and programs change.
NEWEST: Final = 800
COUNTED: Final[tuple[Fate, ...]] = ("inside", "before", "after")


def track_record(
    record: Record, forecasts: Sequence[Issued], *, room: str = "", invented: bool = False
) -> TrackReport:
    """Return the track record as of the record's day."""
    force = in_force(forecasts, record.on)
    kept, back = outcomes(record, force.kept), outcomes(record, force.looked_back)
    parts = [_part(kept, looked_back=False), _part(back, looked_back=True)]
    found = _widenings(_speaking(kept[-NEWEST:], back[-NEWEST:]), _groups(record))
    due = [each.over for each in kept if each.fate == "running" and each.over is not None]
    return TrackReport(
        on=record.on,
        room=room,
        invented=invented,
        kept=parts[0],
        looked_back=parts[1],
        widenings=tuple(found[group] for group in sorted(found)),
        misses=_misses([*kept, *back], {each.issued.number for each in back}),
        next_due=min((day for day in due if day > record.on), default=None),
        verdict=verdict(parts, tuple(found.values())),
        method=METHOD,
        assumptions=ASSUMPTIONS,
    )


def widenings(record: Record, forecasts: Sequence[Issued]) -> Mapping[str, Widening]:
    """Return, by group, by what the room's forecasts are to be widened; empty where nothing is."""
    if not forecasts:
        return {}
    force = in_force(forecasts, record.on)
    newest = [part[-NEWEST:] for part in (force.kept, force.looked_back)]
    speaking = _speaking(outcomes(record, newest[0]), outcomes(record, newest[1]))
    found = _widenings(speaking, _groups(record))
    return {group: each for group, each in found.items() if each.applied > 1.0}


def _groups(record: Record) -> list[str]:
    groups = {taxon.group for taxon in record.taxa.values()}
    named = {animal.taxon for animal in record.animals.values()} - set(record.taxa)
    return sorted(groups | ({""} if named else set()))


# -- what is counted ---------------------------------------------------------------------------------------


def _part(found: list[Outcome], *, looked_back: bool) -> TrackPart | None:
    if not found:
        return None
    by_stage = {stage: [each for each in found if each.issued.stage == stage] for stage in STAGES}
    here = {stage: own for stage, own in by_stage.items() if own}
    groups = sorted({each.issued.odds.group for each in found})
    days = [each.issued.day for each in found]
    return TrackPart(
        looked_back=looked_back,
        lines=tuple(_line(stage, "", own) for stage, own in here.items()),
        groups=tuple(
            _line(stage, group, own)
            for group in groups
            for stage, everyone in here.items()
            if (own := [each for each in everyone if each.issued.odds.group == group])
        ),
        levels={stage: _levels(own) for stage, own in here.items()},
        windows={stage: _windows(own) for stage, own in here.items()},
        first=min(days),
        last=max(days),
    )


def _line(stage: str, group: str, found: list[Outcome]) -> TrackLine:
    counts = Counter(each.fate for each in found)
    due = sum(counts[fate] for fate in COUNTED)
    windows = _windows(found, (0.8,))
    scores = [score for each in found if each.fate in COUNTED and (score := each.score) is not None]
    return TrackLine(
        stage,
        group,
        {fate: counts[fate] for fate in FATES},
        _share(counts["inside"] / due, due) if due else None,
        windows[0].seen if windows else None,
        float(np.mean(scores)) if scores else None,
        len(scores),
    )


def _share(value: float, number: float) -> Share:
    low, high = wilson(np.array([value]), np.array([number]))
    return Share(value, float(low[0]), float(high[0]), number)


def _arrays(found: Iterable[Outcome]) -> tuple[np.ndarray, np.ndarray]:
    """Levels, and whether each is known rather than only exceeded; what tells nothing is left out."""
    told = [each for each in found if _tells(each)]
    return np.array([each.level for each in told]), np.array(
        [each.beyond == each.level for each in told], dtype=bool
    )


def _tells(each: Outcome) -> bool:
    return each.fate != "unseen" and (each.level > 0.0 or each.moulted is not None)


def _levels(found: list[Outcome]) -> tuple[Claim, ...]:
    level, known = _arrays(found)
    if not known.any():
        return ()
    curve = calibration(level, known, CLAIMED)
    rows = zip(curve.claimed, curve.share, curve.low, curve.high, curve.effective, strict=True)
    return tuple(
        Claim(float(claimed), Share(float(value), float(low), float(high), float(number)))
        for claimed, value, low, high, number in rows
    )


def _windows(found: list[Outcome], claimed: tuple[float, ...] = WINDOWS) -> tuple[Claim, ...]:
    level, known = _arrays(found)
    if not known.any():
        return ()
    half = np.array(claimed) / 2.0
    share, number = window_share(level, known, 0.5 - half, 0.5 + half)
    return tuple(
        Claim(value, _share(float(seen), float(count)))
        for value, seen, count in zip(claimed, share, number, strict=True)
    )


def _misses(found: list[Outcome], looked_back: set[int]) -> tuple[Miss, ...]:
    missed = [each for each in found if each.fate in ("before", "after") and each.over is not None]
    missed.sort(key=lambda each: (-_surprise(each), each.issued.number))
    return tuple(
        Miss(
            each.animal,
            each.issued.odds.taxon,
            each.issued.odds.group,
            each.issued.stage,
            each.issued.number in looked_back,
            each.issued.day,
            date.fromordinal(each.issued.day.toordinal() + int(np.floor(each.window[0])) + 1),
            each.over or each.issued.day,
            each.between,
            None if each.between else date.fromordinal(each.issued.day.toordinal() + int(each.looked)),
            each.days_off,
            each.level,
        )
        for each in missed[:MISSES_SHOWN]
    )


def _surprise(each: Outcome) -> float:
    """Days off, measured by the width of the window that was missed."""
    low, high = each.window
    return each.days_off / max((high or low) - low, 1.0)


# -- what follows ------------------------------------------------------------------------------------------


def _speaking(kept: list[Outcome], back: list[Outcome]) -> list[Outcome]:
    """The outcomes that speak on the spread of errors; a kept forecast goes before one looked back."""
    taken = {_interval(each) for each in kept}
    return [*kept, *(each for each in back if _interval(each) not in taken)]


def _interval(each: Outcome) -> tuple[str, date]:
    return each.animal, each.issued.opened[1]


def _widenings(speaking: list[Outcome], groups: Sequence[str]) -> dict[str, Widening]:
    telling = [each for each in speaking if _tells(each)]
    factor = np.array([each.issued.odds.widened for each in telling])
    low = unwidened(np.array([each.level for each in telling]), factor)
    high = unwidened(np.array([each.beyond for each in telling]), factor)
    weight = _weights(telling)
    names = [each.issued.odds.group for each in telling]
    wanted = sorted({*groups, *names})
    found = spreads(low, high, weight, names, wanted)
    widened = {}
    for group in wanted:
        spread = found[group]
        applied = spread.applied
        words = why_widened(applied, _counted(speaking, group), group) if applied > 1.0 else ""
        widened[group] = Widening(
            group, spread.factor, spread.low, spread.high, spread.intervals, applied, words
        )
    return widened


def _weights(telling: list[Outcome]) -> np.ndarray:
    month = [(each.issued.odds.group, each.issued.day.toordinal() // MONTH_DAYS) for each in telling]
    return weights([_interval(each) for each in telling], month)


def _counted(speaking: list[Outcome], group: str) -> tuple[int, int, bool]:
    """How many windows of the group held, of how many due; of the whole room where the group has few."""
    own = [each for each in speaking if each.issued.odds.group == group and each.fate in COUNTED]
    whole = len(own) < 5
    counted = [each for each in speaking if each.fate in COUNTED] if whole else own
    return sum(each.fate == "inside" for each in counted), len(counted), whole
