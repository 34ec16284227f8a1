"""What a jotted line says of a home: how its substrate felt, its lid, its openings."""

from __future__ import annotations

import re
from typing import Any

from nightround.desk.jot_clauses import Clause, Line, Maker, plain
from nightround.desk.jot_tokens import Cursor
from nightround.desk.make_up import LID_HOLES, SIDE_HOLES
from nightround.foundation.refusal import NotReadable
from nightround.journal.kinds.surroundings import LidCover, MoistureFelt, Opening

FELT = ("dry", "damp", "wet", "moist")
_LAYERS = {
    "below": "bottom", "underneath": "bottom", "at the bottom": "bottom", "bottom": "bottom",
    "on top": "surface", "at the surface": "surface", "surface": "surface", "top": "surface",
}  # fmt: skip
_SHARES = {"half": 0.5, "a quarter": 0.25, "quarter": 0.25, "a third": 0.333, "three quarters": 0.75,
           "fully": 1.0, "all": 1.0, "whole": 1.0}  # fmt: skip
_PERCENT = re.compile(r"(\d+(?:\.\d+)?)%")
_AT = {"in the lid": "lid", "lid": "lid", "high": "side_high", "high in the side": "side_high",
       "low": "side_low", "low in the side": "side_low"}  # fmt: skip
# Spots of a home that need no preposition after an amount of water.
SPOTS = ("back corner", "front corner", "corner", "one side", "low side", "deep end", "shallow end", "side",
         "all over")  # fmt: skip


def felt(cursor: Cursor, _: Line) -> Maker:
    """'felt damp below, dry on top'; a single word without a layer is the bottom."""
    found: dict[str, Any] = {}
    while True:
        layer = cursor.phrase(*_LAYERS)
        how = cursor.phrase(*FELT)
        if not how:
            raise NotReadable("how it felt: dry, damp or wet, below or on top", got=repr(cursor.ahead()))
        layer = layer or cursor.phrase(*_LAYERS)
        key = _LAYERS.get(layer, "bottom")
        if key in found:
            raise NotReadable(f"how the {key} felt, once", got=repr(f"{how} {layer}".strip()))
        found[key] = "damp" if how == "moist" else how
        at = cursor.at
        cursor.separator()
        if cursor.low() not in FELT and not _begins_layer(cursor):
            cursor.at = at
            return plain(MoistureFelt(**found))


def _begins_layer(cursor: Cursor) -> bool:
    """Whether 'surface dry' or the like comes next."""
    at = cursor.at
    layer = cursor.phrase(*_LAYERS)
    comes = bool(layer) and cursor.low() in FELT
    cursor.at = at
    return comes


def lid(cursor: Cursor, _: Line) -> Maker:
    """'lid half covered', 'lid covered 80 %', 'lid uncovered', 'lid open'."""
    if cursor.phrase("uncovered", "open", "not covered"):
        return plain(LidCover(fraction=0.0))
    share = _share(cursor)
    covered = cursor.phrase("covered")
    share = _share(cursor) if share is None else share
    if not covered or share is None:
        raise NotReadable(
            "'lid half covered', 'lid covered 80 %' or 'lid uncovered'", got=repr(cursor.ahead())
        )
    return plain(LidCover(fraction=share))


def _share(cursor: Cursor) -> float | None:
    named = cursor.phrase(*_SHARES)
    if named:
        return _SHARES[named]
    match = _PERCENT.fullmatch(cursor.low())
    if match:
        cursor.at += 1
        value = float(match[1])
    else:
        coming = cursor.low()
        if not coming.replace(".", "", 1).isdigit() or cursor.low(1) not in ("%", "percent"):
            return None
        cursor.at += 2
        value = float(coming)
    if value > 100.0:
        raise NotReadable("a share of the lid up to 100 %", got=f"{value:g} %")
    return value / 100.0


def openings(cursor: Cursor, _: Line) -> Maker:
    """'openings: six 3 mm holes in the lid', 'openings 12 holes of 2 mm low', 'openings no holes'."""
    number = 0 if cursor.phrase("no") else cursor.whole()
    width = _millimetres(cursor)
    if number is None or not cursor.phrase("holes", "hole", "air holes", "air hole"):
        raise NotReadable("'openings: six 3 mm holes in the lid'", got=repr(f"openings {cursor.ahead()}"))
    cursor.phrase("of")
    width = _millimetres(cursor) if width is None else width
    if number and width is None:
        raise NotReadable(
            "how wide the holes are, such as 'openings 6 holes of 3 mm'", got=repr(cursor.ahead())
        )
    at = _AT.get(cursor.phrase(*_AT), "lid")
    label = LID_HOLES if at == "lid" else SIDE_HOLES
    fields = {"shape": "hole", "number": number, "width_mm": width, "at": at, "label": label}
    return plain(Opening(**fields))  # type: ignore[arg-type]


def _millimetres(cursor: Cursor) -> float | None:
    if not cursor.measures("length"):
        return None
    amount = cursor.amount("length", above_nothing=True)
    return float(amount["value"])


HOME_CLAUSES: dict[str, Clause] = {
    "felt": felt,
    "feels": felt,
    "lid": lid,
    "openings": openings,
    "opening": openings,
}
