"""Which entries stand: replacements, strikes, strikes of strikes, and whole imports taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from nightround.foundation.problem import Problem
from nightround.journal.entries import Entry
from nightround.journal.kinds.knowledge import TakenBack

CONTROL_KINDS = frozenset({"struck", "taken_back"})


@dataclass(frozen=True)
class Standing:
    """The entries that stand, whatever their day.

    void      numbers of entries that do not: struck, taken back, replaced, or only about other entries
    root      number → number of the first entry of its chain of replacements (absent: itself)
    standing  root → number of the entry that stands for the chain
    """

    void: frozenset[int] = frozenset()
    root: Mapping[int, int] = field(default_factory=dict)
    standing: Mapping[int, int] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    def now(self, number: int) -> int:
        """Return the number of the entry that stands today for the one written under `number`."""
        root = self.root.get(number, number)
        return self.standing.get(root, root)


def standing_entries(entries: Sequence[Entry]) -> Standing:
    """Decide which of the entries (ascending by number) stand.

    A replacement stands for the entry it corrects, the latest for all; a strike voids its entry and every
    replacement of it written before the strike; a void strike or replacement has no effect (undo, redo).
    """
    special = [entry for entry in entries if entry.corrects is not None or entry.kind in CONTROL_KINDS]
    if not special:
        return Standing()
    by_number = {entry.number: entry for entry in entries}
    problems = _references_to_nothing(special, by_number)
    voided_at, controls_off = _strikes(special, entries, by_number)
    root = _roots(special, by_number)
    return _choose(special, root, voided_at, controls_off, problems)


def _target(entry: Entry, by_number: Mapping[int, Entry]) -> Entry | None:
    """Return the entry that a correction names, None when it names nothing written before it."""
    if entry.corrects is None or entry.corrects >= entry.number:
        return None
    return by_number.get(entry.corrects)


def _references_to_nothing(special: list[Entry], by_number: Mapping[int, Entry]) -> list[Problem]:
    return [
        Problem(
            "correction_of_nothing",
            str(entry.about),
            f"Entry {entry.number} corrects entry {entry.corrects}, which is not in the journal before it.",
            "Strike the correction, or write it again naming the entry it is meant for.",
            (entry.number,),
        )
        for entry in special
        if entry.corrects is not None and _target(entry, by_number) is None
    ]


def _strikes(
    special: list[Entry], entries: Sequence[Entry], by_number: Mapping[int, Entry]
) -> tuple[dict[int, int], set[int]]:
    """Return number → the latest strike that voids it, and the strikes that are void themselves.

    From the last to the first: whatever voids an entry was written after it.
    """
    voided_at: dict[int, int] = {}
    off: set[int] = set()
    taken_back: dict[str, int] = {}
    for entry in reversed(special):
        back = _taken_back_by(entry, taken_back) if taken_back else 0
        if entry.number in voided_at or back > entry.number:
            if entry.kind in CONTROL_KINDS:
                off.add(entry.number)
            continue
        target = _target(entry, by_number)
        if isinstance(entry.body, TakenBack):
            taken_back.setdefault(entry.body.intention, entry.number)
        elif target is not None and (entry.kind == "struck" or target.kind in CONTROL_KINDS):
            voided_at.setdefault(target.number, entry.number)
    for entry in entries if taken_back else ():
        back = _taken_back_by(entry, taken_back) if taken_back else 0
        if back > entry.number:
            voided_at[entry.number] = max(back, voided_at.get(entry.number, 0))
    return voided_at, off


def _taken_back_by(entry: Entry, taken_back: Mapping[str, int]) -> int:
    """Return the number of the entry that took back an act which wrote this one (an import's too), else 0."""
    return max(taken_back.get(act, 0) for act in entry.intention.split("/"))


def _roots(special: list[Entry], by_number: Mapping[int, Entry]) -> dict[int, int]:
    root: dict[int, int] = {}
    for entry in special:
        target = _target(entry, by_number)
        if target is None or entry.kind in CONTROL_KINDS or target.kind in CONTROL_KINDS:
            continue
        first = root.setdefault(target.number, target.number)
        root[entry.number] = first
    return root


def _choose(
    special: list[Entry],
    root: dict[int, int],
    voided_at: dict[int, int],
    controls_off: set[int],
    problems: list[Problem],
) -> Standing:
    corrects = {entry.number: entry.corrects for entry in special}
    void = set(voided_at) | controls_off | {e.number for e in special if e.kind in CONTROL_KINDS}
    families: dict[int, list[int]] = {}
    for number in sorted(root):
        parent = corrects.get(number) if number != root[number] else None
        if parent is not None and voided_at.get(parent, 0) > number:
            voided_at[number] = max(voided_at[parent], voided_at.get(number, 0))
            void.add(number)
        families.setdefault(root[number], []).append(number)
    standing: dict[int, int] = {}
    for first, members in families.items():
        alive = [number for number in members if number not in void]
        void.update(alive[:-1])
        if alive:
            standing[first] = alive[-1]
    return Standing(frozenset(void), root, standing, tuple(problems))
