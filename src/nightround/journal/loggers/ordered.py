"""Readings put in order of time: what is there twice, what no room has, what looks dead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightround.foundation.refusal import NotReadable, Refusal
from nightround.foundation.wording import counted

FloatArray = NDArray[np.float64]

# What no room of living spiders is [C]; readings outside are left out and counted.
COLDEST_C, WARMEST_C = -30.0, 60.0
STUCK_DAYS = 3.0
# Two readings of one instant may differ by their rounding; else they are two sensors'.
SAME_C, SAME_PERCENT = 0.55, 3.0


@dataclass(frozen=True)
class Ordered:
    """Instants [s], °C and % [N], with words on them, doubts, and instants of what was left out."""

    seconds: FloatArray
    temperature_c: FloatArray
    humidity_percent: FloatArray
    words: tuple[str, ...]
    doubts: tuple[str, ...]
    left_out_s: FloatArray


def in_order(
    seconds: FloatArray, celsius: FloatArray, percent: FloatArray, lines: Sequence[int], name: str
) -> Ordered:
    """In order of time, rows that are there twice once, impossible values left out and counted.

    Raises NotReadable where two readings of one instant differ, Refusal where there is no reading.
    """
    words: list[str] = []
    doubts: list[str] = []
    bad = (celsius < COLDEST_C) | (celsius > WARMEST_C)
    wet = (percent < 0.0) | (percent > 100.5)
    if bad.any():
        doubts.append(f"{counted(int(bad.sum()), 'temperature')} under −30 or over 60 °C left out")
    if wet.any():
        doubts.append(f"{counted(int(wet.sum()), 'humidity', 'humidities')} under 0 or over 100 % left out")
    left_out = np.sort(seconds[bad | wet])
    celsius, percent = np.where(bad, np.nan, celsius), np.where(wet, np.nan, np.minimum(percent, 100.0))
    if (np.diff(seconds) < 0).any():
        words.append("rows are not in order of time: put in order")
    order = np.argsort(seconds, kind="stable")
    table = np.stack([seconds, celsius, percent])[:, order]
    _one_at_a_time(table, order, lines, name)
    fresh = np.ones(table.shape[1], dtype=bool)
    same = np.isclose(table[:, 1:], table[:, :-1], rtol=0.0, atol=0.0, equal_nan=True).all(axis=0)
    fresh[1:] = ~same
    if not fresh.all():
        words.append(f"{counted(int((~fresh).sum()), 'row')} there twice, counted once")
    table = table[:, fresh]
    known = np.isfinite(table[1]) | np.isfinite(table[2])
    if not known.any():
        raise Refusal(f"a reading in {name}", got="none that is a number", todo="Look at the file's columns")
    if not known.all():
        words.append(f"{counted(int((~known).sum()), 'row')} without a number: gaps")
    table = table[:, known]
    doubts += _stuck(table[0], table[1])
    words += _spacing(table[0])
    return Ordered(table[0], table[1], table[2], tuple(words), tuple(doubts), left_out)


def _one_at_a_time(table: FloatArray, order: NDArray[np.int64], lines: Sequence[int], name: str) -> None:
    """Refuse two readings of one instant that differ by more than their rounding: two sensors in one file."""
    at_once = np.diff(table[0]) == 0.0
    apart = (np.abs(np.diff(table[1])) > SAME_C) | (np.abs(np.diff(table[2])) > SAME_PERCENT)
    found = np.flatnonzero(at_once & apart)
    if len(found):
        one, other = sorted(lines[int(order[at])] for at in (found[0], found[0] + 1))
        raise NotReadable(
            f"one reading of an instant in {name}",
            got=f"{counted(len(found), 'instant')} with two, such as lines {one} and {other}",
            todo="If it holds several sensors in rows below each other, cut it into a file for each",
        )


def _stuck(seconds: FloatArray, celsius: FloatArray) -> list[str]:
    """The same value for days: a dead sensor, or one that was not in the room."""
    if len(seconds) < 3:
        return []
    changed = np.flatnonzero(np.diff(celsius) != 0.0)
    borders = np.concatenate([[0], changed + 1, [len(celsius)]])
    longest = max(
        (
            float(seconds[end - 1] - seconds[start]) / 86400.0
            for start, end in zip(borders[:-1], borders[1:], strict=True)
        ),
        default=0.0,
    )
    return (
        [f"the same temperature for {longest:.0f} days: is the logger alive?"]
        if longest >= STUCK_DAYS
        else []
    )


def _spacing(seconds: FloatArray) -> list[str]:
    if len(seconds) < 2:
        return [f"{len(seconds):,} reading"]
    steps = np.diff(seconds)
    usual = float(np.median(steps))
    gaps = steps[steps > max(3.0 * usual, 3700.0)]
    told = f"{len(seconds):,} readings, one every {usual / 60.0:g} minutes"
    if len(gaps):
        told += f"; {counted(len(gaps), 'gap')}, {gaps.sum() / 86400.0:.1f} days in all"
    return [told]
