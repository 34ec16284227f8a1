"""The ends of the leg spans that a home fits: floor, substrate, drop, height, finding prey; a rule each."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi
from typing import Final, Literal, Protocol

from nightround.foundation.quantities import both
from nightround.plans.fit_build import Build
from nightround.plans.rules import RuleBook, RuleValue
from nightround.record.model import Animal
from nightround.reports.fit import Aspect
from nightround.reports.tonight import RuleUsed

_DEPTH_OF_HABIT: Final = {"ground": "ground", "burrower": "burrower", "trapdoor": "trapdoor", "tube": "tube"}
_WHAT: Final[dict[str, str]] = {
    "floor": "floor", "depth": "substrate", "height": "height above the substrate",
    "drop": "height above the substrate", "prey": "floor",
}  # fmt: skip


class Vessel(Protocol):
    """What a home must tell: inner sizes and substrate [mm], None where not on record (as MadeUp)."""

    @property
    def shape(self) -> str | None:
        """box, cylinder or tapered; a cylinder has its diameter as length."""

    @property
    def inner_length_mm(self) -> float | None:
        """Length or diameter."""

    @property
    def inner_width_mm(self) -> float | None:
        """Width."""

    @property
    def inner_height_mm(self) -> float | None:
        """Height to the lid."""

    @property
    def base_length_mm(self) -> float | None:
        """Length or diameter of a tapered base."""

    @property
    def base_width_mm(self) -> float | None:
        """Width of a tapered base."""

    @property
    def depth_low_mm(self) -> float | None:
        """Substrate at its shallow end."""

    @property
    def depth_high_mm(self) -> float | None:
        """Substrate at its deep end."""


@dataclass(frozen=True, slots=True)
class FitEnd:
    """One rule at one home: 'at least' (side high) or 'at most' (side low) so many leg spans.

    has_mm      what the home has
    spans       leg spans asked for or allowed
    bound_mm    high: no more than this is asked; low: this much is always allowed
    exempt_mm   low: leg span from which it is not asked
    guessed     `has_mm` is the worst that can be, as its size is not on record
    """

    aspect: Aspect
    side: Literal["low", "high"]
    has_mm: float
    spans: float
    bound_mm: float
    exempt_mm: float
    rule: RuleUsed
    guessed: bool = False

    @property
    def limit_mm(self) -> float:
        """The leg span up to which (high) or from which (low) the home fits by this rule."""
        if self.side == "high":
            return inf if self.has_mm >= self.bound_mm or self.spans <= 0 else self.has_mm / self.spans
        return 0.0 if self.has_mm <= self.bound_mm else min(self.has_mm / self.spans, self.exempt_mm)

    def needs_mm(self, span_mm: float) -> float:
        """What an animal of that leg span needs at least (high) or bears at most (low)."""
        if self.side == "high":
            return min(self.spans * span_mm, self.bound_mm)
        return inf if span_mm >= self.exempt_mm else max(self.spans * span_mm, self.bound_mm)

    def short_mm(self, span_mm: float) -> float:
        """By how much it does not fit an animal of that leg span: above 0 it does not."""
        needs = self.needs_mm(span_mm)
        return needs - self.has_mm if self.side == "high" else self.has_mm - needs

    @property
    def words(self) -> str:
        """The rule at this home: 'floor 19 cm (7.5 in): at least 2.5 leg spans'."""
        how = "at least" if self.side == "high" else "at most"
        more = ""
        if self.side == "high" and self.bound_mm < inf:
            more = f", no more than {both(self.bound_mm, 'mm')} asked"
        elif self.side == "low" and self.bound_mm > 0:
            more = f"; {both(self.bound_mm, 'mm')} is always low enough"
        return f"{_WHAT[self.aspect]} {both(self.has_mm, 'mm')}: {how} {self.spans:g} leg spans{more}"


def floor_mm(body: Vessel | None) -> float | None:
    """Return the shortest inner side of the floor on record [mm], None when there is none."""
    return min(_sides(body), default=None)


def _sides(body: Vessel | None) -> list[float]:
    if body is None:
        return []
    sides = (
        body.inner_length_mm, body.inner_width_mm if body.shape != "cylinder" else None,
        body.base_length_mm, body.base_width_mm,
    )  # fmt: skip
    return [side for side in sides if side is not None and side > 0]


def depths_mm(body: Vessel) -> tuple[float, float] | None:
    """Return the substrate at its shallow and at its deep end [mm], None when not on record."""
    known = [depth for depth in (body.depth_low_mm, body.depth_high_mm) if depth is not None and depth >= 0]
    return (min(known), max(known)) if known else None


def volume_ml(body: Vessel) -> float | None:
    """Return the inner volume [ml], None when a size is not on record."""
    length, width, height = body.inner_length_mm, body.inner_width_mm, body.inner_height_mm
    if length is None or height is None:
        return None
    if body.shape == "cylinder" or (body.shape == "tapered" and width is None):
        across = length if body.base_length_mm is None else 0.5 * (length + body.base_length_mm)
        return pi / 4 * across**2 * height / 1000
    if width is None:
        return None
    base_length = body.base_length_mm or length
    base_width = body.base_width_mm or base_length * width / length
    return 0.5 * (length + base_length) * 0.5 * (width + base_width) * height / 1000


def ends_of(
    body: Vessel | None, build: Build, book: RuleBook, animal: Animal | None = None
) -> tuple[tuple[FitEnd, ...], tuple[str, ...]]:
    """Return the ends of one home for one build, and what decides but is not on record."""
    if body is None:
        return (), ("its size and substrate",)
    found: list[FitEnd | None] = []
    unknown: list[str] = []
    for each in (_floor, _depth, _drop, _height, _prey):
        end, lacking = each(body, build, book, animal)
        found.append(end)
        unknown += [lacking] if lacking else []
    return tuple(end for end in found if end is not None), tuple(dict.fromkeys(unknown))


Found = tuple[FitEnd | None, str]
NO_END: Final[Found] = (None, "")


def _high(aspect: Aspect, has_mm: float, rule: RuleValue, bound_mm: float = inf) -> FitEnd:
    return FitEnd(aspect, "high", has_mm, rule.number or 0.0, bound_mm, inf, rule.used)


def floor_rule(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> RuleValue:
    """Return the rule of the floor: light web-builders have their own, unless the common one was set."""
    common = book.ask("home_min_spans", animal)
    if not build.light_web or common.used.overruled:
        return common
    volume, adult = volume_ml(body), book.ask("home_web_adult_ml", animal).number
    # A centilitre for rounding: 5 US gallons are 18.927 litres.
    roomy = volume is not None and adult is not None and volume >= adult - 10.0
    return book.ask("home_web_adult_spans" if roomy else "home_web_spans", animal)


def _floor(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> Found:
    side = floor_mm(body)
    if side is None:
        return None, "its inner size"
    needs_width = body.shape != "cylinder" and not (body.shape == "tapered" and body.base_length_mm)
    lacking = "its inner width" if needs_width and body.inner_width_mm is None else ""
    return _high("floor", side, floor_rule(body, build, book, animal)), lacking


def _depth(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> Found:
    sort = "web" if build.light_web else _DEPTH_OF_HABIT.get(build.habit or "ground")
    if sort is None:
        return NO_END
    rule, most = book.ask(f"depth_{sort}_spans", animal), book.ask(f"depth_{sort}_mm", animal).number
    if not rule.number:
        return NO_END
    depths = depths_mm(body)
    if depths is None:
        return None, "how deep its substrate is"
    # Sloped: it digs at the deep end.
    return _high("depth", depths[1], rule, inf if most is None else most), ""


def above_mm(body: Vessel) -> tuple[float, bool] | None:
    """Return the height from lid to shallow substrate [mm], and whether the depth is missing.

    Without a depth on record the whole height counts: the worst a fall can be.
    """
    if body.inner_height_mm is None:
        return None
    depths = depths_mm(body)
    return max(body.inner_height_mm - (depths[0] if depths else 0.0), 0.0), depths is None


def _drop(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> Found:
    if not build.drop_matters:
        return NO_END
    above = above_mm(body)
    if above is None:
        return None, "its inner height"
    rule, free = book.ask("drop_spans", animal), book.ask("drop_free_mm", animal).number or 0.0
    high, guessed = above
    return FitEnd("drop", "low", high, rule.number or 1.0, free, inf, rule.used, guessed), ""


def _height(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> Found:
    sort = {"tree": "tree", "web_builder": "web"}.get(build.habit or "")
    if sort is None:
        return NO_END
    rule = book.ask(f"height_{sort}_spans", animal)
    if not rule.number:
        return NO_END
    above = above_mm(body)
    if above is None:
        return None, "its inner height"
    return (None, "how deep its substrate is") if above[1] else (_high("height", above[0], rule), "")


def _prey(body: Vessel, build: Build, book: RuleBook, animal: Animal | None) -> Found:
    rule, sides = book.ask("find_prey_spans", animal), _sides(body)
    if build.webs_for_prey or not rule.number or not sides:
        return NO_END
    until = book.ask("sling_below_span_mm", animal).number or 0.0
    return FitEnd("prey", "low", max(sides), rule.number, 0.0, until, rule.used), ""


def best_depth_mm(
    body: Vessel,
    build: Build,
    book: RuleBook,
    low_span_mm: float,
    high_span_mm: float,
    animal: Animal | None = None,
) -> float | None:
    """Return the least even depth [mm] at which a home's height fits those leg spans, None when none does.

    Deep enough for the largest, not too far to fall for the smallest, and air left above: the rule's height,
    else half a leg span (chosen for this program, no source). The height must be on record.
    """
    if body.inner_height_mm is None:
        return None
    empty = _Filled(body.inner_height_mm)
    ends = [end for each in (_drop, _depth, _height) if (end := each(empty, build, book, animal)[0])]
    needs = {end.aspect: end.needs_mm(low_span_mm if end.side == "low" else high_span_mm) for end in ends}
    least = max(needs.get("depth", 0.0), body.inner_height_mm - needs.get("drop", inf))
    most = body.inner_height_mm - max(needs.get("height", 0.0), 0.5 * high_span_mm)
    return max(least, 0.0) if least <= most else None


@dataclass(frozen=True)
class _Filled:
    """A home of that height without substrate, to ask the rules of depth, drop and height alone."""

    inner_height_mm: float
    shape: str | None = "box"
    inner_length_mm: float | None = None
    inner_width_mm: float | None = None
    base_length_mm: float | None = None
    base_width_mm: float | None = None
    depth_low_mm: float | None = 0.0
    depth_high_mm: float | None = 0.0
