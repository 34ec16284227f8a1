"""What holds for every home and every animal: no rule ever turns kinder when things get worse."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.journal.kinds.knowledge import Named
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.plans.fit import UNKNOWN_BUILD, Build, best_depth_mm, build_of, fit_range, verdict
from nightround.plans.rules import RuleBook
from nightround.plans.sizes import Size, Span
from nightround.record.model import Home, Record, Taxon
from nightround.reports.fit import FitVerdict
from plans.evening import KIND, animal, record

EMPTY = record()
BOOK = RuleBook(EMPTY)
sides = st.floats(10, 800)
maybe_side = st.none() | sides
depths = st.none() | st.floats(0, 300)
spans = st.floats(2, 300)
habits = st.sampled_from([None, "ground", "burrower", "trapdoor", "tree", "web_builder", "wanderer", "tube"])
climbs = st.sampled_from([None, "smooth", "rough", "poor"])
groups = st.sampled_from(
    ["", "tarantulas", "funnel-web-building spiders", "wandering spiders", "nobody knows"]
)
builds = st.builds(Build, habits, climbs, st.sampled_from([None, True, False]))
named = st.none() | st.builds(Named, group=groups, habit=habits, climbs=climbs)
bodies = st.builds(
    MadeUp, shape=st.sampled_from([None, "box", "cylinder", "tapered"]), inner_length_mm=maybe_side,
    inner_width_mm=maybe_side, inner_height_mm=maybe_side, base_length_mm=maybe_side, depth_low_mm=depths,
    depth_high_mm=depths,
)  # fmt: skip
openings = st.builds(
    Opening, shape=st.sampled_from(["hole", "slot", "mesh", "perforated"]),
    number=st.none() | st.integers(0, 40), width_mm=st.none() | st.floats(0.1, 60),
    length_mm=st.none() | st.floats(0.1, 300),
    at=st.sampled_from([None, "lid", "side_high", "side_low"]), label=st.sampled_from(["", "vent"]),
)  # fmt: skip
all_openings = st.lists(openings, max_size=3).map(tuple)


@st.composite
def sizes(draw: Any) -> Size:
    """Any size, with doubt, or none."""
    middle = draw(spans)
    doubt = draw(st.floats(1.0, 2.0))
    span = Span(middle / doubt, middle, middle * doubt)
    carapace = Span(span.low / 5, middle / 5, span.high / 5)
    kind = draw(st.sampled_from(["both", "span", "carapace", "none"]))
    return Size(
        leg_span=span if kind in ("both", "span") else None,
        carapace=carapace if kind in ("both", "carapace") else None,
    )


def judged(described: Named | None, body: MadeUp | None, holes: Any, size: Size) -> FitVerdict:
    """The verdict on that home."""
    room: Record = record(animal(home="H1"), taxa={KIND: Taxon(KIND, (KIND,), described)})
    return verdict(room, room.animals["K12"], Home("H1", body=body, openings=holes), size)


@settings(max_examples=150)
@given(bodies, builds, spans, st.floats(1.0, 3.0))
def test_a_bigger_animal_never_makes_too_small_vanish(
    body: MadeUp, build: Build, span: float, factor: float
) -> None:
    """Floor, substrate and height that are short for an animal are short for a larger one."""
    fit = fit_range(body, (), build, BOOK)
    for end in fit.ends:
        if end.side == "high" and end.short_mm(span) > 0:
            assert end.short_mm(span * factor) >= end.short_mm(span)


@settings(max_examples=150)
@given(bodies, builds, spans, st.floats(1.0, 3.0))
def test_a_smaller_animal_never_makes_too_tall_or_too_large_vanish(
    body: MadeUp, build: Build, span: float, factor: float
) -> None:
    """A fall too far for an animal is too far for a smaller one, and so is its way to the prey."""
    fit = fit_range(body, (), build, BOOK)
    for end in fit.ends:
        if end.side == "low" and end.short_mm(span) > 0:
            assert end.short_mm(span / factor) >= end.short_mm(span)


@settings(max_examples=150)
@given(bodies, builds, spans)
def test_the_range_is_what_the_single_rules_say(body: MadeUp, build: Build, span: float) -> None:
    """Inside the range no rule finds fault, outside one does."""
    fit = fit_range(body, (), build, BOOK)
    # The last digit of a limit is nobody's fault.
    faults = [end for end in fit.ends if end.short_mm(span) > 1e-6 * max(end.has_mm, 1.0)]
    if fit.fits(span):
        assert not faults
    elif not (0.999 * fit.low_mm <= span <= 1.001 * fit.high_mm):
        assert [end for end in fit.ends if end.short_mm(span) > 0]


@settings(max_examples=200)
@given(named, bodies, all_openings, sizes(), st.floats(0.0, 1.0))
def test_a_smaller_opening_never_adds_an_escape_warning(
    described: Named | None, body: MadeUp, holes: tuple[Opening, ...], size: Size, factor: float
) -> None:
    """Neither do fewer openings."""
    import msgspec

    smaller = tuple(
        msgspec.structs.replace(each, width_mm=None if each.width_mm is None else each.width_mm * factor)
        for each in holes
    )
    wide = judged(described, body, holes, size)
    assert len(judged(described, body, smaller, size).gaps) <= len(wide.gaps)
    if len(holes) > 1:
        assert len(judged(described, body, holes[1:], size).gaps) <= len(wide.gaps)


@settings(max_examples=150)
@given(named, bodies, all_openings, sizes(), st.floats(1.0, 3.0))
def test_a_smaller_animal_never_makes_an_escape_warning_vanish(
    described: Named | None, body: MadeUp, holes: tuple[Opening, ...], size: Size, factor: float
) -> None:
    """What lets an animal out lets a smaller one out."""

    def less(span: Span | None) -> Span | None:
        return None if span is None else Span(span.low / factor, span.value / factor, span.high / factor)

    if not size.known:
        return
    small = Size(leg_span=less(size.leg_span), carapace=less(size.carapace))
    assert len(judged(described, body, holes, small).gaps) >= len(judged(described, body, holes, size).gaps)


@settings(max_examples=200)
@given(named, st.none() | bodies, all_openings, sizes())
def test_what_is_unknown_is_said_and_never_fits(
    described: Named | None, body: MadeUp | None, holes: tuple[Opening, ...], size: Size
) -> None:
    """A verdict of 'fits' rests on a size, a home with its floor, and openings that are on record."""
    found = judged(described, body, holes, size)
    assert found.headline
    assert (found.kind == "unknown") == (found.fits is None)
    if found.kind == "unknown":
        assert found.unknown and "unknown" in found.headline
    if found.fits:
        assert not found.faults and not found.gaps and not found.unknown
        assert size.known and body is not None and holes
        assert found.headline.startswith("fits")
    if not holes:
        assert "which openings it has" in found.unknown
    if body is None or not size.known:
        assert not found.fits
    for fault in (*found.faults, *found.doubts):
        assert fault.by_mm > -1e-9 and fault.rule.grade and fault.rule.source and fault.words
        assert "harmless" not in fault.words


@settings(max_examples=150)
@given(bodies, spans)
def test_unknown_build_is_never_allowed_more_than_a_ground_dweller(body: MadeUp, span: float) -> None:
    """Nothing known of it: whatever does not fit a heavy ground dweller does not fit it either."""
    ground = fit_range(body, None, Build("ground", None, True), BOOK)
    unknown = fit_range(body, None, UNKNOWN_BUILD, BOOK)
    assert unknown.low_mm >= ground.low_mm and unknown.high_mm <= ground.high_mm
    assert unknown.escape_low_mm is None


@settings(max_examples=150)
@given(bodies, builds.filter(lambda build: not build.light_web))
def test_figures_of_light_web_builders_are_used_for_no_other_build(body: MadeUp, build: Build) -> None:
    """Not where one part of the build is unknown either."""
    used = {end.rule.rule for end in fit_range(body, (), build, BOOK).ends}
    assert not used & {"home_web_spans", "home_web_adult_spans", "depth_web_spans"}


@settings(max_examples=150)
@given(bodies, builds, spans, st.floats(1.0, 2.0))
def test_the_depth_that_is_advised_does_what_it_is_for(
    body: MadeUp, build: Build, low: float, factor: float
) -> None:
    """Filled to that depth no rule of substrate, drop or height finds fault over the spans asked for."""
    import msgspec

    high = low * factor
    depth = best_depth_mm(body, build, BOOK, low, high)
    if depth is None:
        return
    filled = msgspec.structs.replace(body, depth_low_mm=depth, depth_high_mm=depth)
    for end in fit_range(filled, (), build, BOOK).ends:
        if end.aspect in ("depth", "drop", "height"):
            assert end.short_mm(low) <= 1e-6 and end.short_mm(high) <= 1e-6


def test_the_build_of_an_animal_of_unknown_taxon_is_unknown() -> None:
    """No taxon, or one that nobody described."""
    room = record(animal(taxon=""), animal("K13", taxon="never described"))
    for code in ("K12", "K13"):
        found = build_of(room, room.animals[code])
        assert (None, None, None) == (found.habit, found.climbs, found.heavy)
        assert found.drop_matters and not found.light_web and not found.webs_for_prey
