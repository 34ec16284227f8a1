"""Measurements that contradict each other: shrinking, jumping, impossible, or of a skin nobody shed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import timedelta
from statistics import median

from nightround.foundation.problem import Problem, Severity
from nightround.foundation.quantities import both
from nightround.record.histories import MoultWindow
from nightround.record.make_histories import instar_of, moult_windows
from nightround.record.model import Animal, Measurement, Record
from nightround.record.moults import SAME_MOULT_DAYS

SHRINKS = 0.75
HALVES = 0.5
STEP_DOWN = 0.94
STEP_UP = 2.5
MASS_JUMP = 8.0
MASS_FALLS = 0.6
MISFIT_SPREADS = 6.0
MISFIT_AT_LEAST = 20
SKIN_LATE_DAYS = 45
LARGEST: dict[str, float] = {
    "carapace_length": 60.0, "carapace_width": 60.0, "body_length": 200.0, "leg_span": 400.0, "mass": 300.0,
}  # fmt: skip
"""Beyond any spider known (leg span about 300 mm, mass about 175 g: from memory), in mm and g."""

_WORDS = {
    "carapace_length": "carapace length", "carapace_width": "carapace width", "leg_span": "leg span",
    "body_length": "body length", "mass": "mass",
}  # fmt: skip


def size_problems(record: Record, animal: Animal) -> Iterator[Problem]:
    """Return what contradicts what among the animal's measurements."""
    if not animal.measurements:
        return
    windows = moult_windows(record, animal)
    by_item: dict[str, list[Measurement]] = {}
    for reading in animal.measurements:
        by_item.setdefault(reading.item, []).append(reading)
        yield from _impossible(animal, reading)
    for item, readings in by_item.items():
        placed = [(instar_of(reading, windows), reading) for reading in readings]
        if item == "mass":
            yield from _mass_jumps(animal, placed)
        else:
            yield from _shrinks(animal, item, sorted(_known(placed), key=lambda pair: pair[0]))
        if item.startswith("carapace"):
            yield from _unplaced(animal, placed, windows)
    yield from _skins_without_moult(animal, windows)


def _known(placed: Sequence[tuple[int | None, Measurement]]) -> list[tuple[int, Measurement]]:
    return [(instar, reading) for instar, reading in placed if instar is not None]


def _problem(
    kind: str, animal: Animal, message: str, todo: str, *numbers: int, sure: bool = False
) -> Problem:
    severity: Severity = "contradiction" if sure else "doubt"
    return Problem(kind, f"animal {animal.code}", message, todo, tuple(sorted(numbers)), severity)


def _said(reading: Measurement) -> str:
    return f"{both(reading.value, reading.unit, 3)} on {reading.when}"


def _impossible(animal: Animal, reading: Measurement) -> Iterator[Problem]:
    if not 0 < reading.value <= LARGEST[reading.item]:
        yield _problem(
            "size_not_possible", animal,
            f"The {_WORDS[reading.item]} of {animal.code} is recorded as {_said(reading)}; no spider is so.",
            "Correct the number or its unit.", reading.number, sure=True,
        )  # fmt: skip


def _shrinks(animal: Animal, item: str, placed: list[tuple[int, Measurement]]) -> Iterator[Problem]:
    """Compare neighbours by instar, then by time; hard parts do not shrink, bent legs only look shorter."""
    for (instar, one), (later, other) in zip(placed, placed[1:], strict=False):
        ratio = other.value / one.value if one.value > 0 else 1.0
        if other.posture == "bent" and one.posture != "bent" and ratio >= HALVES:
            continue
        carapace = item.startswith("carapace")
        if ratio < SHRINKS:
            kind = "size_halves" if ratio <= HALVES else "size_shrinks"
            yield _change(kind, animal, one, other, "shrinks", sure=ratio <= HALVES)
        elif carapace and later > instar and ratio < STEP_DOWN:
            yield _change("smaller_after_moult", animal, one, other, "is smaller after a moult")
        elif carapace and later - instar <= 1 and ratio > STEP_UP:
            yield _change("size_jumps", animal, one, other, "grows too much for one moult")


def _change(
    kind: str, animal: Animal, one: Measurement, other: Measurement, verb: str, *, sure: bool = False
) -> Problem:
    return _problem(
        kind, animal, f"The {_WORDS[one.item]} of {animal.code} {verb}: {_said(one)}, then {_said(other)}.",
        "Correct the number, unit or date that is wrong, or say that the legs were bent.",
        one.number, other.number, sure=sure,
    )  # fmt: skip


def _mass_jumps(animal: Animal, placed: list[tuple[int | None, Measurement]]) -> Iterator[Problem]:
    """Mass falls in a fast and with a sac, but hardly by so much, and grows across a moult."""
    for (instar, one), (later, other) in zip(placed, placed[1:], strict=False):
        if one.value <= 0 or other.value <= 0:
            continue
        ratio = other.value / one.value
        if not 1 / MASS_JUMP < ratio < MASS_JUMP:
            yield _change("mass_jumps", animal, one, other, f"changes more than {MASS_JUMP:.0f}-fold")
        elif instar is not None and later is not None and later > instar and ratio < MASS_FALLS:
            yield _change("mass_falls", animal, one, other, "is much lower although it moulted")


def mass_misfits(record: Record) -> Iterator[Problem]:
    """Return masses that do not fit the carapace of the same instar as all others of the taxon do.

    log mass - 3 log carapace length against its median, in robust spreads (1.4826 x median deviation).
    """
    by_taxon: dict[str, list[tuple[float, Animal, Measurement, Measurement]]] = {}
    for animal in record.animals.values():
        if animal.taxon and any(reading.item == "mass" for reading in animal.measurements):
            by_taxon.setdefault(animal.taxon, []).extend(_pairs(record, animal))
    for pairs in by_taxon.values():
        if len(pairs) < MISFIT_AT_LEAST:
            continue
        middle = median(ratio for ratio, *_ in pairs)
        spread = 1.4826 * median(abs(ratio - middle) for ratio, *_ in pairs)
        for ratio, animal, mass, carapace in pairs:
            if spread > 0 and abs(ratio - middle) > MISFIT_SPREADS * spread:
                yield _problem(
                    "mass_does_not_fit", animal,
                    f"{animal.code} weighs far {'more' if ratio > middle else 'less'} for its carapace than "
                    f"its taxon does ({len(pairs)} pairs): {_said(mass)}, and {_said(carapace)}.",
                    "Correct the number or the date that is wrong.", mass.number, carapace.number,
                )  # fmt: skip


def _pairs(record: Record, animal: Animal) -> Iterator[tuple[float, Animal, Measurement, Measurement]]:
    """Yield the first mass and carapace of each instar with the log of mass over its cube."""
    windows = moult_windows(record, animal)
    first: dict[tuple[int, str], Measurement] = {}
    for reading in animal.measurements:
        instar = instar_of(reading, windows)
        if instar is not None and reading.value > 0:
            first.setdefault((instar, reading.item), reading)
    for (instar, item), mass in first.items():
        carapace = first.get((instar, "carapace_length"))
        if item == "mass" and carapace is not None:
            yield math.log(mass.value) - 3 * math.log(carapace.value), animal, mass, carapace


def _unplaced(
    animal: Animal, placed: list[tuple[int | None, Measurement]], windows: tuple[MoultWindow, ...]
) -> Iterator[Problem]:
    for instar, reading in placed:
        if instar is None and windows and reading.on is None and reading.when.known:
            yield _problem(
                "skin_or_animal", animal,
                f"The {_WORDS[reading.item]} of {animal.code} ({_said(reading)}) was measured on the day of "
                "a moult: the shed skin has the size before it, the animal the size after. It is not used.",
                "Correct the entry and say on=shed_skin or on=live.", reading.number,
            )  # fmt: skip


def _skins_without_moult(animal: Animal, windows: tuple[MoultWindow, ...]) -> Iterator[Problem]:
    """A shed skin needs a moult near its day; a skin days after a measured one needs one of its own."""
    skins = [m for m in animal.measurements if m.on == "shed_skin" and m.when.last is not None]
    near = timedelta(days=SAME_MOULT_DAYS)
    for skin in skins:
        day = skin.when.last
        if day is None or any(w.first <= day <= w.last + near for w in windows):
            continue
        if any(w.first - near <= day < w.first for w in windows):
            yield _problem(
                "skin_before_moult", animal,
                f"A shed skin of {animal.code} was measured on {day}, before the day of its moult.",
                "Correct the day of the moult or of the measurement.", skin.number,
            )  # fmt: skip
            continue
        before = [w for w in windows if w.last < day]
        last = before[-1].last if before else None
        measured = last is not None and any(
            other.when.last is not None and last - near <= other.when.last <= last + near for other in skins
        )
        if last is None or measured or (day - last).days > SKIN_LATE_DAYS:
            yield _problem(
                "skin_without_moult", animal,
                f"A shed skin of {animal.code} was measured on {day}, but no moult is recorded near it.",
                "Record the moult, or correct the day or the animal of the measurement.", skin.number,
            )  # fmt: skip
