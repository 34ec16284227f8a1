"""The track record in words: what it comes to, why windows are widened, what it takes for granted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nightround.foundation.wording import counted
from nightround.reports.track_record import STAGE_WORDS, TrackLine, TrackPart, Widening

METHOD: Final = (
    "An 80 % window counts on the day it is over. Shares with nine-in-ten intervals after Wilson; levels by"
    " the product limit, waits that still run allowed for."
)
ASSUMPTIONS: Final = (
    "Animals of one room share its season and its keeper: the intervals take them as independent, and are too"
    " narrow where one autumn errs for all.",
    "An animal that died, left or escaped before its window was over says no more than that it had waited"
    " until then.",
    "A wait counts up to the last look. A moult found late counts in the middle of the days it may have"
    " happened on.",
    "What happened is taken as the record has it, corrections included; what was said is never changed.",
)
# A share is called worse or better than claimed only where its interval leaves the claim out.
CLAIM: Final = 0.8


def verdict(parts: Sequence[TrackPart | None], widenings: Sequence[Widening]) -> tuple[str, ...]:
    """Return what it comes to, in sentences."""
    said = [_said(part) for part in parts if part is not None]
    applied = [each for each in widenings if each.applied > 1.0]
    if any(part is not None and part.due for part in parts):
        said.append(_consequence(applied))
    return tuple(said)


def _said(part: TrackPart) -> str:
    origin = "Looking back with today's program" if part.looked_back else "Kept on their day"
    if not part.due:
        return f"{origin}: {counted(part.issued, 'forecast')}, none of whose windows counts yet."
    lines = [_line(line) for line in part.lines if line.due]
    return f"{origin}: " + "; ".join(lines) + "."


def _line(line: TrackLine) -> str:
    assert line.share is not None
    of = f"of {counted(line.due, 'moult')} given 80 % windows {STAGE_WORDS[line.stage]}, "
    share = f"{line.fates['inside']:,} fell inside ({_interval(line)})"
    return of + share + _judged(line)


def _interval(line: TrackLine) -> str:
    share = line.share
    assert share is not None
    return f"{100 * share.value:.0f} %, {100 * share.low:.0f} to {100 * share.high:.0f}"


def _judged(line: TrackLine) -> str:
    share = line.share
    assert share is not None
    if share.high < CLAIM:
        late = line.fates["after"] > line.fates["before"]
        return ": fewer than claimed, mostly because moults came " + ("later" if late else "earlier")
    return ": more than claimed, windows were wider than need be" if share.low > CLAIM else ""


def _consequence(applied: Sequence[Widening]) -> str:
    if not applied:
        return (
            "Forecasts are shown as the clock makes them: nothing here says that its windows are too narrow."
        )
    named = [f"{each.group or 'animals of no group'} by {percent_wider(each.applied)}" for each in applied]
    return "Windows are therefore widened now: " + ", ".join(named) + "."


def why_widened(applied: float, counts: tuple[int, int, bool], group: str) -> str:
    """Return the reason that stands with a widened forecast. counts: inside, due, of the whole room?"""
    inside, due, whole = counts
    of = "this room" if whole else (group or "animals of no group")
    seen = f": {inside} of {counted(due, 'past 80 % window')} of {of} held the moult" if due else ""
    return f"windows widened by {percent_wider(applied)}{seen}"


def percent_wider(applied: float) -> str:
    """Return '23 %'."""
    return f"{100 * (applied - 1.0):.0f} %"
