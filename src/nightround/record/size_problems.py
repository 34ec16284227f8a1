"""Measurements that contradict each other: shrinking, jumping, impossible, or of a skin nobody shed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

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
            yield from _mass_jumps(animal, readings)
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


def _mass_jumps(animal: Animal, readings: list[Measurement]) -> Iterator[Problem]:
    for one, other in zip(readings, readings[1:], strict=False):
        if one.value <= 0 or other.value <= 0:
            continue
        if not 1 / MASS_JUMP < other.value / one.value < MASS_JUMP:
            yield _change("mass_jumps", animal, one, other, f"changes more than {MASS_JUMP:.0f}-fold")


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
        if day is None or any(w.first - near <= day <= w.last + near for w in windows):
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
