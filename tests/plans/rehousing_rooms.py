"""Small written rooms with spans drawn by hand, to plan homes in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from nightround.findings.spans import RoomSpans
from nightround.plans.rehousing import fortnights
from nightround.record.model import Record
from record.notebook import told

ON = date(2026, 3, 1)
MONTHS = 12
DRAWS = 40

BUILDS = """
    2026-01-01  taxon Webber  named  group=funnel-web-building; habit=web_builder; climbs=poor
    2026-01-01  taxon Ground  named  group=tarantula; habit=ground; climbs=rough
"""
SHOP = """
    2026-01-01  room R  supply  item=home; name=vial; shape=cylinder; inner_length_mm=36; inner_height_mm=70; gap_mm=0; price=1.10; currency=EUR; lead_days=3
    2026-01-01  room R  supply  item=home; name=box; shape=box; inner_length_mm=200; inner_width_mm=200; inner_height_mm=300; gap_mm=0; price=12.50; currency=EUR; lead_days=3
    2026-01-01  room R  supply  item=home; name=tank; shape=box; inner_length_mm=381; inner_width_mm=203; inner_height_mm=254; gap_mm=0; price=30; currency=EUR; lead_days=10
"""  # noqa: E501
VIAL = "shape=cylinder; inner_length_mm=36; inner_height_mm=70; depth_low_mm=25; depth_high_mm=25"
CLOSED = "shape=hole; number=0; label=lid"


def lives(code: str, taxon: str, home: str, since: str = "2026-01-02") -> str:
    """An animal that came on a day and lives in a home of its own, a vial without openings."""
    return f"""
    {since}  animal {code}  arrived  taxon={taxon}
    {since}  animal {code}  moved  home={home}; place=shelf A
    {since}  home {home}  made_up  {VIAL}
    {since}  home {home}  opening  {CLOSED}
    """


def stands(home: str, length: int, width: int, height: int) -> str:
    """An empty home of the record, closed."""
    return f"""
    2026-01-02  home {home}  made_up  shape=box; inner_length_mm={length}; inner_width_mm={width}; inner_height_mm={height}
    2026-01-02  home {home}  opening  {CLOSED}
    """  # noqa: E501


def room(*parts: str, on: date = ON) -> Record:
    """The record of a written room."""
    return told("\n".join((BUILDS, *parts)), on.isoformat())


def grows(first_mm: float, last_mm: float, months: int = MONTHS) -> np.ndarray:
    """Leg spans (S, T) that grow evenly on the log scale, the fastest draw a fifth ahead of the slowest."""
    periods = len(fortnights(ON, months))
    pace = np.linspace(0.9, 1.1, DRAWS)[:, None]
    share = np.clip(pace * np.linspace(0.0, 1.0, periods)[None, :], 0.0, 1.0)
    return np.asarray(first_mm * (last_mm / first_mm) ** share)


def spans_of(
    record: Record, spans: Mapping[str, np.ndarray], moults: Sequence[float] = (), on: date = ON
) -> RoomSpans:
    """Spans drawn by hand; animals without any were never measured. `moults`: days of everybody's moults."""
    days = tuple(on + timedelta(days=14 * at) for at in range(len(fortnights(ON, MONTHS))))
    codes = tuple(animal.code for animal in record.living())
    shape = (DRAWS, len(codes), len(days))
    span = np.full(shape, np.nan, dtype=np.float32)
    for at, code in enumerate(codes):
        if code in spans:
            span[:, at] = spans[code]
    readings = np.array([int(code in spans) for code in codes], dtype=np.int64)
    moult = np.full((len(moults), DRAWS, len(codes)), np.inf, dtype=np.float32)
    for number, day in enumerate(moults):
        moult[number] = day
    never = np.full(shape[:2], np.inf, dtype=np.float32)
    return RoomSpans(
        on,
        codes,
        days,
        readings,
        span,
        span / np.float32(4.5),
        moult,
        never,
        np.ones(shape[:2], dtype=np.bool_),
    )
