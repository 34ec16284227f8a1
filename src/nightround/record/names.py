"""Which code or name means which thing: renames, other names of taxa, and codes used again."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import cast

from nightround.foundation.problem import Problem
from nightround.journal.entries import Entry
from nightround.journal.kinds import SubjectKind
from nightround.journal.kinds.knowledge import Named, Renamed

ANNOUNCES: dict[SubjectKind, frozenset[str]] = {
    "animal": frozenset({"arrived", "hatched"}),
    "home": frozenset({"made_up"}),
    "place": frozenset({"place_set_up"}),
    "taxon": frozenset(),  # two descriptions become one: names are merged on purpose
}
"""Entries that say a thing of this code exists in its own right."""


class Names:
    """Codes of one sort of thing. An identity is a text that never changes while its code may.

    resolve   code and day → identity; only codes that renames touch need a look-up
    present   identity → the code it bears now
    every     identity → every code it ever bore, oldest first
    """

    def __init__(self) -> None:
        self._holders: dict[str, list[tuple[date, str]]] = {}
        self.present: dict[str, str] = {}
        self.every: dict[str, list[str]] = {}

    def fixed(self, code: str) -> bool:
        """Whether the code means the same thing on every day."""
        return len(self._holders.get(code, ())) < 2

    def resolve(self, code: str, day: date | None) -> str:
        """Return the identity that bore the code on that day."""
        holders = self._holders.get(code)
        if holders is None:
            return code
        if day is not None:
            for since, identity in reversed(holders):
                if since <= day:
                    return identity
        return holders[0][1]

    def code_of(self, identity: str) -> str:
        """Return the code that the identity bears now."""
        return self.present.get(identity, identity)

    def now(self, code: str, day: date | None = None) -> str:
        """Return the present code of whatever bore `code` on that day."""
        return self.code_of(self.resolve(code, day)) if code in self._holders else code

    def codes_of(self, identity: str) -> tuple[str, ...]:
        """Return every code the identity ever bore, oldest first."""
        return tuple(self.every.get(identity, (identity,)))

    def give(self, identity: str, code: str, since: date, *, present: bool = True) -> None:
        """Let the identity bear `code`, from that day on if another bore it before."""
        self._holders.setdefault(self.code_of(identity), [(date.min, identity)])
        every = self.every.setdefault(identity, [self.code_of(identity)])
        before = self._holders.get(code)
        if before is None:
            self._holders[code] = [(date.min, identity)]
        elif all(holder != identity for _, holder in before):
            before.append((since, identity))
        if code not in every:
            every.append(code)
        if present:
            self.present[identity] = code

    def borne(self, code: str, day: date) -> bool:
        """Whether a renamed thing bears the code on that day."""
        return code in self._holders and self.code_of(self.resolve(code, day)) == code

    def part_twins(self) -> list[str]:
        """Give every second bearer of one code a code that tells it apart; return those codes."""
        taken: set[str] = set()
        twins: list[str] = []
        for identity in sorted(self.every):
            code = self.code_of(identity)
            if code in taken:
                twins.append(code)
                self.present[identity] = f"{code} (2)"
            taken.add(code)
        return twins

    def begin_again(self, code: str, since: date) -> None:
        """Let `code` mean a new thing from that day on."""
        holders = self._holders.setdefault(code, [(date.min, code)])
        identity = f"{code}\x00{len(holders)}"
        holders.append((since, identity))
        self.present[identity] = code
        self.every[identity] = [code]

    def merge(self, kept: str, code: str) -> None:
        """Let `code`, and whatever it meant, mean the identity `kept` on every day."""
        other = self.resolve(code, None)
        codes = self.every.setdefault(kept, [self.code_of(kept)])
        for each in [*codes, *self.codes_of(other), code]:
            self._holders[each] = [(date.min, kept)]
            if each not in codes:
                codes.append(each)


def _day(entry: Entry) -> date:
    return entry.when.last or date.min


def names_of(
    subject: SubjectKind, renames: list[Entry], announced: list[Entry], problems: list[Problem]
) -> Names:
    """Make the names of one sort of thing from its renames and announcements, both in order of time."""
    names = Names()
    known: dict[str, list[Entry]] = {}
    for entry in announced:
        known.setdefault(entry.about.code, []).append(entry)
    for entry in renames:
        old, new, since = entry.about.code, cast(Renamed, entry.body).name.strip(), _day(entry)
        identity = names.resolve(old, since)
        if not new or names.resolve(new, since) == identity:
            if new and names.code_of(identity) != new:
                names.give(identity, new, since)
            continue
        if new in known or names.borne(new, since):
            problems.append(_two_claim(subject, entry, new, known.get(new, ())))
            continue
        names.give(identity, new, since)
        again = [each for each in known.get(old, ()) if _day(each) > since]
        if again:
            names.begin_again(old, _day(again[0]))
    for code in names.part_twins():
        numbers = sorted(each.number for each in known.get(code, ()))
        problems.append(_twins(subject, code, numbers))
    return names


def _twins(subject: SubjectKind, code: str, numbers: list[int]) -> Problem:
    return Problem(
        "two_claim_one_code", f"{subject} {code}",
        f"By its renames and arrivals, two of the sort {subject} bear the code {code} at once; "
        f"one is shown as {code} (2).",
        "Strike the rename that is wrong, or give one of the two a code of its own.", tuple(numbers),
    )  # fmt: skip


def _two_claim(subject: SubjectKind, entry: Entry, code: str, others: Iterable[Entry]) -> Problem:
    numbers = sorted([entry.number, *(other.number for other in others)])
    return Problem(
        "two_claim_one_code",
        f"{subject} {code}",
        f"{subject} {entry.about.code} was renamed {code}, but another {subject} is recorded as {code}.",
        "Strike the rename, or give one of the two a code of its own.",
        tuple(numbers),
    )


def taxon_names(renames: list[Entry], described: list[Entry], problems: list[Problem]) -> Names:
    """Make the names of taxa: renames merge two names, and a description's other names lead to it.

    An other name that is described itself, or listed by two taxa, stays its own taxon, with a doubt.
    """
    names = Names()
    for entry in renames:
        new = cast(Renamed, entry.body).name.strip()
        if not new:
            continue
        kept = names.resolve(entry.about.code, None)
        names.merge(kept, new)
        names.present[kept] = new
    own = {names.resolve(entry.about.code, None) for entry in described}
    listed: dict[str, dict[str, int]] = {}
    for entry in described:
        for name in cast(Named, entry.body).other_names:
            identity = names.resolve(entry.about.code, None)
            if name.strip() and names.resolve(name.strip(), None) != identity:
                listed.setdefault(name.strip(), {})[identity] = entry.number
    for name, claims in sorted(listed.items()):
        if len(claims) == 1 and names.resolve(name, None) not in own:
            names.merge(next(iter(claims)), name)
        else:
            problems.append(_ambiguous(name, [names.code_of(i) for i in claims], list(claims.values())))
    return names


def _ambiguous(name: str, taxa: list[str], numbers: list[int]) -> Problem:
    return Problem(
        "name_of_two_taxa",
        f"taxon {name}",
        f"The name {name} is listed as another name of {' and '.join(sorted(taxa))}, "
        "and could mean more than one taxon; it is kept apart.",
        "Rename the taxon, or take the name out of the list where it does not belong.",
        tuple(sorted(numbers)),
        "doubt",
    )
