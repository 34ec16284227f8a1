"""Reading the form of a home made up: vessel, substrate, depth, openings, lid; and what it then takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import TypeVar

import msgspec

from nightround.desk.taps import FormRefusal
from nightround.foundation.quantities import number, quantity
from nightround.foundation.refusal import NotReadable, Refusal
from nightround.foundation.when import on_day, parse_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.surroundings import LidCover, MadeUp, Opening
from nightround.record.about_surroundings import opening_key
from nightround.record.model import Record
from nightround.reports.water import RecipeReport

FIELDS = (
    "home", "place", "vessel", "sizes", "substrate", "depth", "holes", "hole_mm", "holes_at", "mesh",
    "cover", "until",
)  # fmt: skip
_DEPTH = re.compile(r"^([\d.]+)(?:\s*(?:-|–|to)\s*([\d.]+))?\s*(mm|cm|in|inch|inches)?$")
_PANEL = re.compile(r"^([\d.]+)\s*[x×]\s*([\d.]+)\s*(mm|cm|in|inch|inches)?$")
T = TypeVar("T")
LID_HOLES, SIDE_HOLES, LID_MESH = "lid holes", "side holes", "lid mesh"


@dataclass(frozen=True)
class MadeUpForm:
    """What the form says: the entries it would write, and what the home takes."""

    home: str
    drafts: tuple[Draft, ...]
    recipe: RecipeReport


def read_depth(text: str) -> tuple[float, float]:
    """Read '8 cm', '8-12cm' or '3 in' as millimetres at the shallow and at the deep end."""
    match = _DEPTH.match(" ".join(text.lower().split()))
    if match is None:
        raise NotReadable("a depth such as '8 cm', '8-12 cm' or '3 in'", got=repr(text))
    ends = (quantity(each, match[3] or "cm", "length").value for each in (match[1], match[2] or match[1]))
    low, high = sorted(ends)
    return low, high


def read_make_up(fields: Mapping[str, str], record: Record, on: date) -> MadeUpForm:
    """Read the form. Raises FormRefusal that names every field that cannot be read."""
    said = {name: fields.get(name, "").strip() for name in FIELDS}
    faults: dict[str, str] = {}
    if not said["home"]:
        faults["home"] = "Write the home's code, such as H12."
    depth = _asked(faults, "depth", lambda: read_depth(said["depth"]))
    day = _asked(faults, "until", lambda: parse_day(said["until"]) if said["until"] else on)
    if day is not None and day > on:
        faults["until"] = "That day has not come."
    openings = _openings(said, faults)
    cover = _asked(faults, "cover", lambda: _share(said["cover"]))
    vessel_words = said["sizes"] or said["vessel"]
    if not vessel_words:
        faults["vessel"] = "Choose a vessel, or write its inner sizes."
    body = recipe = None
    if depth is not None and vessel_words:
        body, recipe = _body(said, vessel_words, depth, faults)
    if faults or body is None or recipe is None or day is None:
        raise FormRefusal(faults or {"vessel": "That cannot be a home."})
    home = _home_code(record, said["home"])
    drafts = [Draft(Ref("home", home), on_day(day), body)]
    drafts += [Draft(Ref("home", home), on_day(day), each) for each in _replacing(record, home, openings)]
    if cover is not None or (home in record.homes and record.homes[home].lid_cover_fraction):
        drafts.append(Draft(Ref("home", home), on_day(day), LidCover(fraction=cover or 0.0)))
    return MadeUpForm(home, tuple(drafts), recipe)


def _home_code(record: Record, code: str) -> str:
    """A home that is there already in any spelling of capitals, else a new one."""
    return next((name for name in record.homes if name.casefold() == code.casefold()), code)


def _asked(faults: dict[str, str], name: str, read: Callable[[], T]) -> T | None:
    """What the field says, or None with its fault noted."""
    try:
        return read()
    except Refusal as refused:
        faults[name] = str(refused)
        return None


def _body(
    said: Mapping[str, str], vessel_words: str, depth: tuple[float, float], faults: dict[str, str]
) -> tuple[MadeUp | None, RecipeReport | None]:
    """The entry of the home made up, and its recipe; a fault goes to the field that it is about."""
    from nightround.desk.water import recipe_for
    from nightround.findings.water.recipe import made_up_as, vessel_named

    named = _asked(faults, "sizes" if said["sizes"] else "vessel", lambda: vessel_named(vessel_words))
    if named is None:
        return None, None
    vessel = named[1]
    low, high = depth
    if high >= vessel.height_mm:
        faults["depth"] = f"That is deeper than the vessel, {vessel.height_mm:.0f} mm inside."
        return None, None
    recipe = _asked(faults, "substrate", lambda: recipe_for(vessel_words, said["substrate"], low, high))
    body = msgspec.structs.replace(
        made_up_as(vessel),
        substrate=said["substrate"],
        depth_low_mm=low,
        depth_high_mm=high,
        place=said["place"],
    )
    return body, recipe


def _openings(said: Mapping[str, str], faults: dict[str, str]) -> list[Opening]:
    """Holes and a mesh of the lid. None of either is a closed home: that has to be said by a 0."""
    found = []
    holes = _asked(faults, "holes", lambda: _whole(said["holes"]))
    if holes:
        width = _asked(faults, "hole_mm", lambda: _positive(said["hole_mm"], "the width of a hole in mm"))
        at = said["holes_at"] if said["holes_at"] in ("lid", "side_high", "side_low") else "lid"
        if width is not None:
            label = LID_HOLES if at == "lid" else SIDE_HOLES
            fields = {"shape": "hole", "number": holes, "width_mm": width, "at": at, "label": label}
            found.append(msgspec.convert(fields, Opening))
    panel = _PANEL.match(" ".join(said["mesh"].lower().split()))
    if said["mesh"] and panel is None:
        faults["mesh"] = "Write the size of the mesh, such as 18 x 28 cm."
    elif panel is not None:
        read = partial(quantity, written_unit=panel[3] or "cm", dimension="length")
        sides = [_asked(faults, "mesh", partial(read, each)) for each in panel.groups()[:2]]
        wide, long = (side.value if side is not None else None for side in sides)
        found.append(Opening(shape="mesh", number=1, width_mm=wide, length_mm=long, at="lid", label=LID_MESH))
    if not found and holes is None and "holes" not in faults:
        faults["holes"] = "Write how many holes it has, 0 if it is closed, or the size of a mesh."
    return found or [Opening(shape="hole", number=0, label=LID_HOLES)]


def _replacing(record: Record, home: str, openings: list[Opening]) -> list[Opening]:
    """The openings as they are from now on; those it had and has no more are closed."""
    known = record.homes[home].openings if home in record.homes else ()
    now = {opening_key(each) for each in openings}
    gone = [msgspec.structs.replace(each, number=0) for each in known if opening_key(each) not in now]
    return [*openings, *gone]


def _share(text: str) -> float | None:
    if not text:
        return None
    value = number(text.rstrip("% ").strip())
    share = value / 100.0 if text.endswith("%") or value > 1.0 else value
    if not 0.0 <= share <= 1.0:
        raise NotReadable("a share of the lid from 0 to 100 %", got=repr(text))
    return share


def _whole(text: str) -> int | None:
    if not text:
        return None
    value = number(text)
    if value != int(value) or not 0 <= value <= 5000:
        raise NotReadable("how many holes, from 0 to 5000", got=repr(text))
    return int(value)


def _positive(text: str, what: str) -> float:
    value = number(text) if text else 0.0
    if not 0.1 <= value <= 300.0:
        raise NotReadable(f"{what}, from 0.1 to 300", got=repr(text))
    return value
