"""The ways an animal can be housed: homes of the record and homes for sale, each filled to several depths."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from math import inf
from typing import Final

from nightround.foundation.quantities import both
from nightround.journal.kinds.surroundings import Opening
from nightround.plans.fit import Build, FitRange, fit_range, floor_mm, openings_of
from nightround.plans.rules import RuleBook
from nightround.record.larder import Supplied
from nightround.record.model import Animal, Home, Record
from nightround.science.water.vessels import Fill, Vessel, catalogue, substrate_litres

FILLS: Final = (0.3, 0.5, 0.6, 0.7, 0.8, 0.15)
"""Even depths tried beside the usual one, as shares of the inner height; chosen for this program."""
USUAL_DEPTHS_MM: Final = ((50.0, 15.0), (120.0, 25.0), (260.0, 75.0))
"""Inner height up to which a depth is usual: vials 2.5 cm, boxes 7.5 cm, higher ones 10 cm (CP)."""

AIR_SPANS: Final = 0.5
"""Air left above the substrate, in leg spans at least; chosen for this program, as in `best_depth_mm`."""

MOST_KINDS: Final = 30
_SHAPES: Final = ("box", "cylinder", "tapered")


@dataclass(frozen=True, slots=True)
class Body:
    """Inner sizes and substrate [mm], as fit rules ask for them."""

    shape: str | None
    inner_length_mm: float | None
    inner_width_mm: float | None
    inner_height_mm: float | None
    base_length_mm: float | None = None
    base_width_mm: float | None = None
    depth_low_mm: float | None = None
    depth_high_mm: float | None = None

    def filled(self, depth_mm: float) -> Body:
        """Return it with an even depth of substrate."""
        return replace(self, depth_low_mm=depth_mm, depth_high_mm=depth_mm)


@dataclass(frozen=True)
class HomeKind:
    """Homes that are alike: those of the record that are empty or lived in, or one that is for sale.

    openings   None: not on record
    homes      codes of those that are empty
    supply     what is for sale; `generic`: a usual size that nobody is on record to sell
    """

    words: str
    body: Body
    openings: tuple[Opening, ...] | None
    homes: tuple[str, ...] = ()
    supply: Supplied | None = None
    generic: bool = False

    @property
    def for_sale(self) -> bool:
        """Whether more of it can be bought."""
        return self.generic or self.supply is not None

    @property
    def price(self) -> Decimal | None:
        """Price of one home, None unknown."""
        if self.supply is None or self.supply.price is None:
            return None
        return self.supply.price / (self.supply.body.pack or 1)


@dataclass(frozen=True, slots=True)
class Way:
    """One kind of home filled to one depth; `order`: how usual that depth is, 0 first."""

    kind: int
    body: Body
    depth_mm: float
    order: int

    @property
    def most_span_mm(self) -> float:
        """The leg span for which enough air is left above the substrate."""
        return ((self.body.inner_height_mm or inf) - self.depth_mm) / AIR_SPANS


@dataclass(frozen=True)
class Choice:
    """All kinds of home and all ways to fill them.

    kind_of_home   of the homes that others may use later
    left_out       kinds that are not looked at, because there are very many: those least common
    unsized        homes for sale whose inner sizes are not on record
    """

    kinds: tuple[HomeKind, ...]
    ways: tuple[Way, ...]
    kind_of_home: dict[str, int]
    left_out: int = 0
    unsized: tuple[str, ...] = ()

    @property
    def generic(self) -> bool:
        """Whether usual sizes stand in for homes for sale."""
        return any(kind.generic for kind in self.kinds)


def choice_of(record: Record, shared: frozenset[str]) -> Choice:
    """Return what there is to choose from. `shared`: homes nobody else may use after whoever is there."""
    found: dict[object, HomeKind] = {}
    of_home: dict[str, object] = {}
    unsized: list[str] = []
    for code, home in sorted(record.homes.items()):
        body = body_of(home)
        if body is None or code in shared:
            continue
        openings = openings_of(home)
        key = (body, openings)
        kind = found.setdefault(key, HomeKind(body_words(body), body, openings))
        of_home[code] = key
        if not _in_use(record, code):
            found[key] = replace(kind, homes=(*kind.homes, code))
    for supply in record.supplies:
        if not supply.is_home or supply.body.gone:
            continue
        if _sized(supply):
            found[("sold", supply.number)] = _sold(supply)
        else:
            unsized.append(supply.body.name)
    if not any(kind.for_sale for kind in found.values()):
        found |= {("usual", name): _usual(name, vessel) for name, vessel in catalogue().items()}
    keys = sorted(found, key=lambda key: _use(found[key], key, of_home), reverse=True)[:MOST_KINDS]
    place = {key: at for at, key in enumerate(keys)}
    kinds = tuple(found[key] for key in keys)
    homes = {code: place[key] for code, key in of_home.items() if key in place}
    return Choice(kinds, tuple(_ways(kinds)), homes, len(found) - len(kinds), tuple(unsized))


def _use(kind: HomeKind, key: object, of_home: dict[str, object]) -> tuple[bool, int, int, str]:
    """What decides which kinds are looked at where there are very many: sold, empty, common."""
    alike = sum(each == key for each in of_home.values())
    return kind.for_sale, len(kind.homes), alike, kind.words


def _in_use(record: Record, home: str) -> bool:
    if record.homes[home].occupants:
        return True
    return any(batch.home == home and batch.living != 0 for batch in record.batches.values())


def _sized(supply: Supplied) -> bool:
    body = supply.body
    floor = body.inner_width_mm is not None or body.shape == "cylinder"
    return floor and body.inner_length_mm is not None and body.inner_height_mm is not None


def _sold(supply: Supplied) -> HomeKind:
    body = supply.body
    sizes = Body(
        body.shape or "box", body.inner_length_mm,
        body.inner_width_mm, body.inner_height_mm, body.base_length_mm, body.base_width_mm,
    )  # fmt: skip
    gap = body.gap_mm
    openings = None if gap is None else (Opening(shape="hole", number=1, width_mm=gap),) if gap > 0 else ()
    return HomeKind(body.name or body_words(sizes), sizes, openings, (), supply)


def _usual(name: str, vessel: Vessel) -> HomeKind:
    width = None if vessel.shape == "cylinder" else vessel.width_mm
    body = Body(vessel.shape, vessel.length_mm, width, vessel.height_mm)
    return HomeKind(name, body, None, generic=True)


def body_of(home: Home) -> Body | None:
    """Return a home's sizes; None when its floor or height is not on record, so that nothing can be said."""
    made = home.body
    if made is None or floor_mm(made) is None or made.inner_height_mm is None:
        return None
    return Body(
        made.shape, made.inner_length_mm, made.inner_width_mm, made.inner_height_mm, made.base_length_mm,
        made.base_width_mm,
    )  # fmt: skip


def body_words(body: Body) -> str:
    """Return the sizes in words, in both unit systems."""
    sides = [body.inner_length_mm, body.inner_width_mm, body.inner_height_mm]
    known = [side for side in sides if side is not None]
    centimetres = " × ".join(f"{side / 10:g}" for side in known)
    inches = " × ".join(f"{side / 25.4:.1f}" for side in known)
    return f"{body.shape or 'home'} {centimetres} cm ({inches} in)"


def _ways(kinds: Iterable[HomeKind]) -> Iterable[Way]:
    for at, kind in enumerate(kinds):
        height = kind.body.inner_height_mm
        if height is None or floor_mm(kind.body) is None:
            continue
        shares = [max(round(share * height / 5) * 5.0, 5.0) for share in FILLS]
        for order, depth in enumerate(dict.fromkeys([usual_depth_mm(height), *shares])):
            if depth < 0.9 * height:
                yield Way(at, kind.body.filled(depth), depth, order)


def usual_depth_mm(height_mm: float) -> float:
    """Return the depth tried first: as in the homes of light web-builders (common practice, no source)."""
    return next((depth for most, depth in USUAL_DEPTHS_MM if height_mm <= most), 100.0)


def litres_of(way: Way) -> float | None:
    """Litres of substrate that fill a home so; None when a side is not on record."""
    body = way.body
    width = body.inner_width_mm if body.shape != "cylinder" else body.inner_length_mm
    if body.shape not in _SHAPES or body.inner_length_mm is None or width is None or not body.inner_height_mm:
        return None
    if body.shape == "tapered" and (not body.base_length_mm or not body.base_width_mm):
        return None
    vessel = Vessel(
        body.shape,  # type: ignore[arg-type]
        body.inner_length_mm, width, body.inner_height_mm, body.base_length_mm or 0.0,
        body.base_width_mm or 0.0,
    )  # fmt: skip
    return substrate_litres(vessel, Fill(way.depth_mm, way.depth_mm))


class Fits:
    """Leg spans that each way fits, worked out once for animals to whom the same rules apply."""

    def __init__(self, record: Record, book: RuleBook, choice: Choice) -> None:
        self._book, self._choice = book, choice
        self._own_rules = {rule.about.code for rule in record.rules if rule.about.kind == "animal"}
        self._found: dict[object, tuple[FitRange, ...]] = {}

    def of(self, animal: Animal, build: Build) -> tuple[FitRange, ...]:
        """Return the range of each way for one animal."""
        alone = bool(self._own_rules.intersection((animal.code, *animal.codes)))
        key = animal.code if alone else (build, animal.taxon, animal.place)
        if key not in self._found:
            self._found[key] = tuple(
                fit_range(way.body, self._choice.kinds[way.kind].openings or (), build, self._book, animal)
                for way in self._choice.ways
            )
        return self._found[key]


def depth_words(depth_mm: float) -> str:
    """An even depth of substrate in words."""
    return f"{both(depth_mm, 'mm')} of substrate"
