"""A quantity in two cells, `value` and `unit`: canonical value and unit, and both as they were written."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import cast

from nightround.foundation.quantities import CANONICAL, UNITS, Dimension, number, quantity, unit_named
from nightround.foundation.refusal import NotReadable

AMOUNT_FIELDS = ("value", "unit", "written", "written_unit")


class AmountFault(NotReadable):
    """A fault in one of the two cells: `column` is `value` or `unit`."""

    def __init__(self, column: str, fault: NotReadable) -> None:
        super().__init__(fault.wanted, got=fault.got, todo=fault.todo)
        self.column = column


def amount_of(value: str, unit: str, dimension: str) -> dict[str, object]:
    """Return the fields of an Amount that the two cells mean; empty cells mean nothing.

    Raises AmountFault: no number, no unit ('which unit?'), a unit of something else, below zero.
    """
    return dict(_amount(value, unit, cast(Dimension, dimension)))


def faults_of(value: str, unit: str, dimension: str) -> list[AmountFault]:
    """Return every fault of the two cells."""
    measures = cast(Dimension, dimension)
    checks: list[tuple[str, Callable[[], object]]] = []
    if value.strip():
        checks.append(("value", lambda: _size(value, measures)))
    if value.strip() or unit.strip():
        checks.append(("unit", lambda: _unit(unit, measures)))
    faults: list[AmountFault] = []
    for column, check in checks:
        try:
            check()
        except NotReadable as fault:
            faults.append(AmountFault(column, fault))
    return faults


@lru_cache(maxsize=65536)
def _amount(value: str, unit: str, dimension: Dimension) -> tuple[tuple[str, object], ...]:
    for fault in faults_of(value, unit, dimension):
        raise fault
    if not value.strip():
        return (("written_unit", unit.strip()),) if unit.strip() else ()
    read = quantity(value, unit, dimension)
    if not math.isfinite(read.value):
        raise AmountFault("value", NotReadable("a number of sensible size", got=repr(value)))
    return (
        ("value", read.value), ("unit", read.unit), ("written", read.written),
        ("written_unit", read.written_unit),
    )  # fmt: skip


def _size(value: str, dimension: Dimension) -> None:
    if number(value) < 0 and dimension != "temperature":
        raise NotReadable(f"a {dimension} that is not below zero", got=repr(value))


def _unit(unit: str, dimension: Dimension) -> None:
    if not unit.strip():
        raise _which_unit(dimension)
    unit_named(unit, dimension)


def _which_unit(dimension: Dimension) -> NotReadable:
    known = sorted({unit.name for unit in UNITS.values() if unit.dimension == dimension})
    return NotReadable(
        f"a unit (which unit? one of {', '.join(known)})",
        got="an empty cell",
        todo=f"Write the unit beside the number, such as {CANONICAL[dimension]}",
    )
