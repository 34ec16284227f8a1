"""A reading as a logger writes it: a sign, a number with a point or comma, a unit; all else is none."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Signs that fonts and spreadsheets put in the place of a hyphen: minus, en dash, small and full-width hyphen.
_MINUS = str.maketrans(dict.fromkeys("\u2212\u2013\ufe63\uff0d", "-"))
# Spaces that are no ASCII space: no-break, narrow, thin.
_SPACES = str.maketrans(dict.fromkeys("\u00a0\u202f\u2009", " "))
_READING = re.compile(
    r"([+-]?\s?\d+(?:[.,]\d*)?(?:e[+-]?\d{1,2})?)\s*(?:°\s?([cf])|([cf])|(℃)|(℉)|deg\.?\s?([cf])"
    r"|%\s?(?:r\.?[hf]\.?)?|r\.?[hf]\.?\s?%?)?",
    re.IGNORECASE,
)
_UNIT_OF_SIGN = {"℃": "C", "℉": "F"}


@dataclass(frozen=True)
class Numbers:
    """A column's numbers [N], NaN where a cell holds none, and what else its cells hold.

    odd     cells that hold something else than a number, each spelling once, in order of their rows
    units   units that the cells name: 'C', 'F'
    """

    values: NDArray[np.float64]
    odd: tuple[str, ...]
    units: frozenset[str]


def numbers_of(cells: Sequence[str]) -> Numbers:
    """Read a column. A decimal comma is a decimal point: no reading of a room has thousands."""
    known: dict[str, float] = {}
    odd: list[str] = []
    units: set[str] = set()
    for cell in dict.fromkeys(cells):
        found = read_cell(cell)
        known[cell] = np.nan if found is None else found[0]
        if found is None and cell.strip():
            odd.append(cell.strip())
        elif found is not None and found[1]:
            units.add(found[1])
    return Numbers(np.array([known[cell] for cell in cells], dtype=np.float64), tuple(odd), frozenset(units))


def read_cell(cell: str) -> tuple[float, str] | None:
    """Return the number and its unit ('C', 'F' or ''); None for what is not just that: 'ERR2', '21*'."""
    match = _READING.fullmatch(cell.translate(_MINUS).translate(_SPACES).strip())
    if match is None:
        return None
    unit = next((group for group in match.groups()[1:] if group), "")
    return float(match[1].replace(" ", "").replace(",", ".")), _UNIT_OF_SIGN.get(unit, unit.upper())


def share_of_numbers(cells: Iterable[str]) -> float:
    """Share of the cells that hold a number and nothing else (0 of none)."""
    found = [read_cell(cell) is not None for cell in cells]
    return sum(found) / len(found) if found else 0.0
