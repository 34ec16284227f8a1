"""Openings wide enough to leave by, and falls a heavy body may not bear: said calmly, before the walk."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from nightround.foundation.problem import Problem
from nightround.foundation.wording import counted, joined
from nightround.journal.kinds.surroundings import Opening
from nightround.record.model import Record
from nightround.reports.fit import FitFault, FitVerdict

MOST_LINES: Final = 3
_NAMED: Final = 6
_ORDER: Final = {"sure": 0, "likely": 1, "possible": 2}
_TODO: Final = (
    "Cover it from outside, without moving or opening the home, and measure the animal where its size is not "
    "sure; it may well still be inside"
)


def gap_problems(record: Record, verdicts: Iterable[FitVerdict]) -> tuple[Problem, ...]:
    """Return one problem for each animal that may leave by an opening of its home, the surest first."""
    found = []
    for verdict in verdicts:
        if not verdict.gaps:
            continue
        home = record.homes.get(verdict.home)
        noted = [act.number for act in home.acts if isinstance(act.body, Opening)] if home else []
        widest = verdict.gaps[0]
        more = len(verdict.gaps) - 1
        also = f" (and {counted(more, 'more opening')})" if more else ""
        named = verdict.animal[:1].upper() + verdict.animal[1:]
        message = f"{named} in home {verdict.home}: {widest.words}{also}"
        problem = Problem(
            "gap_wide", f"home {verdict.home}", message, _TODO, tuple(sorted(noted)), severity="doubt"
        )
        found.append((_ORDER[widest.sure], -_excess(widest), verdict.animal, problem))
    return tuple(problem for *_, problem in sorted(found, key=lambda each: each[:3]))


def _excess(fault: FitFault) -> float:
    return fault.has_mm / fault.needs_mm if fault.needs_mm > 0 else 0.0


def safety_notices(record: Record, verdicts: Iterable[FitVerdict]) -> list[str]:
    """Return the lines of the round: a few gaps in full, the others by name, then the falls in one line."""
    verdicts = list(verdicts)
    gaps = gap_problems(record, verdicts)
    lines = [problem.message for problem in gaps[:MOST_LINES]]
    if gaps:
        shown = {problem.subject for problem in gaps[:MOST_LINES]}
        others = [each.animal for each in verdicts if each.gaps and f"home {each.home}" not in shown]
        lines[-1] += f"; also {_names(others)} may have one" if others else ""
        lines[-1] += f". {_TODO}"
    falls = [
        each.animal
        for each in verdicts
        if any(fault.aspect == "drop" and fault.sure == "sure" for fault in each.faults)
    ]
    if falls:
        lines.append(
            f"A fall could hurt a heavy body: the lid stands high above {_names(falls)}. More substrate or a "
            "lower home at the next good time: not in premoult, while hardening or with a sac"
        )
    return lines


def _names(codes: list[str]) -> str:
    if len(codes) <= _NAMED:
        return joined(codes)
    return f"{', '.join(codes[:_NAMED])} and {counted(len(codes) - _NAMED, 'other')}"
