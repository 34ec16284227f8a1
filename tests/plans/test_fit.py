"""Which home fits which animal: each rule alone, gaps, what is unknown, and the lines of the round.

Figures are those of the rules table; their sources and grades stand there.
"""

from __future__ import annotations

import random
from dataclasses import replace
from time import process_time
from typing import Any

import pytest

from nightround.foundation.when import on_day
from nightround.journal.kinds.knowledge import Named
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.plans.fit import (
    best_depth_mm,
    build_of,
    build_of_taxon,
    fit_range,
    openings_of,
    room_fit,
    verdict,
    worst_first,
)
from nightround.plans.fit_batches import batch_fit
from nightround.plans.fit_build import heavy_from_memory
from nightround.plans.fit_safety import gap_problems
from nightround.plans.rules import RuleBook
from nightround.plans.sizes import Size, Span
from nightround.record.model import Batch, Home, HomeAct, Record, Rule, Taxon
from nightround.reports.fit import FitVerdict
from plans.evening import KIND, ago, animal, moult, record, round_of, rule, sized

GROUND = Named(group="tarantulas", habit="ground", climbs="rough")
TREE = Named(group="tarantulas", habit="tree", climbs="smooth")
BURROWER = Named(group="tarantulas", habit="burrower", climbs="rough")
TRAPDOOR = Named(group="trapdoor spiders", habit="trapdoor", climbs="poor")
WANDERER = Named(group="wandering spiders", habit="wanderer", climbs="smooth")
WEB = Named(group="curtain-web spiders", habit="web_builder", climbs="poor")
AIR = Opening(shape="hole", number=12, width_mm=0.5, at="lid", label="air")


def body(floor: float, height: float, depth: float | None, **more: Any) -> MadeUp:
    """A box with a square floor."""
    sizes: dict[str, Any] = {"inner_length_mm": floor, "inner_width_mm": floor, "inner_height_mm": height}
    return MadeUp(**{"shape": "box", **sizes, "depth_low_mm": depth, "depth_high_mm": depth, **more})


def room(named: Named | None, *rules: Rule) -> Record:
    """A room with one animal of that description."""
    return record(animal(home="H1"), taxa={KIND: Taxon(KIND, (KIND,), named)}, rules=rules)


def judged(
    named: Named | None,
    made: MadeUp | None,
    size: Size | float | None,
    openings: tuple[Opening, ...] = (AIR,),
    rules: tuple[Rule, ...] = (),
) -> FitVerdict:
    """The verdict on that home; a bare number is a leg span known well."""
    here = room(named, *rules)
    if not isinstance(size, Size):
        size = Size() if size is None else Size(leg_span=Span(size, size, size), basis="one reading")
    home = Home("H1", body=made, openings=openings, occupants=("K12",))
    return verdict(here, here.animals["K12"], home, size)


# ---- floor, substrate, drop, height, prey ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("named", "made", "span", "kind", "by"),
    [
        (GROUND, body(160, 130, 80), 80, "fits", None),
        (GROUND, body(159, 130, 80), 80, "small", 1.0),
        (GROUND, body(160, 130, 79), 80, "shallow", 1.0),
        (GROUND, body(160, 162, 80), 80, "too_tall", 2.0),
        (GROUND, body(400, 200, 99), 150, "shallow", 1.0),  # 10 cm (C) is all that is asked
        (GROUND, body(400, 200, 100), 150, "fits", None),
        (GROUND, body(60, 70, 20), 8, "fits", None),  # 5 cm of height count as low for any size
        (GROUND, body(90, 70, 25), 8, "too_large", 10.0),  # prey is found on 10 spans
        (GROUND, body(260, 70, 25), 25, "fits", None),  # no spiderling any more
        (BURROWER, body(300, 300, 200), 120, "fits", None),  # 15–20 cm (B) or 2–3 spans (CP)
        (BURROWER, body(300, 280, 190), 120, "shallow", 10.0),
        (BURROWER, body(120, 150, 110), 60, "shallow", 10.0),
        (TRAPDOOR, body(120, 150, 100), 50, "fits", None),
        (TREE, body(200, 330, 40), 100, "fits", None),  # taller than wide (B), no limit to the drop
        (TREE, body(300, 200, 10), 100, "low", 10.0),
        (WANDERER, body(200, 400, 20), 100, "fits", None),
        (WEB, body(300, 100, 75), 60, "low", 5.0),  # half a span above the ground
    ],
)
def test_each_rule_alone(named: Named, made: MadeUp, span: float, kind: str, by: float | None) -> None:
    """One step to either side of the figure: the kind of verdict and by how many mm."""
    found = judged(named, made, span)
    assert kind == found.kind, found.headline
    if by is None:
        assert ("fits", ()) == (found.headline, found.faults)
    else:
        assert by == pytest.approx(found.faults[0].by_mm)
        assert found.faults[0].rule.grade and found.faults[0].rule.source


def test_the_verdict_is_plain_and_gives_both_unit_systems() -> None:
    """A heavy ground dweller of 8 cm in a tall cube: what is wrong, by how much, for which size."""
    found = judged(GROUND, body(305, 305, 75), 80)
    assert (
        "too tall by 15 cm (5.9 in) for a leg span of 8.0 cm (3.1 in): it can fall 23 cm (9.1 in)"
        in found.headline
    )
    assert found.fits is False
    assert (230.0, 75.0) == (found.low_mm, found.high_mm)


def test_size_doubt_decides_between_sure_likely_possible() -> None:
    """Floor of 150 mm, 2 spans: a size of 60–90 mm is small at its high end only."""

    def sureness(low: float, middle: float, high: float) -> tuple[str, ...]:
        size = Size(leg_span=Span(low, middle, high))
        found = judged(GROUND, body(150, 140, 100), size)
        return tuple(each.sure for each in (*found.faults, *found.doubts) if each.aspect == "floor")

    assert () == sureness(50, 60, 75)
    assert ("possible",) == sureness(50, 70, 80)
    assert ("likely",) == sureness(70, 80, 90)
    assert ("sure",) == sureness(76, 80, 90)
    found = judged(GROUND, body(150, 140, 100), Size(leg_span=Span(60, 70, 80)))
    assert "fits" == found.kind
    assert "at the far end of its size" in found.headline


def test_a_slope_is_judged_by_its_deep_end_for_digging_and_its_shallow_end_for_falling() -> None:
    """60 to 100 mm of substrate in 160 mm: deep enough for 100 mm, a fall of 100 mm."""
    sloped = body(300, 160, None, depth_low_mm=60.0, depth_high_mm=100.0)
    found = judged(GROUND, sloped, 100)
    assert "fits" == found.kind
    assert "too_tall" == judged(GROUND, sloped, 95).kind


def test_a_size_reckoned_from_the_carapace_says_so() -> None:
    """From memory 3.5 to 6 carapace lengths: too small only where even the shortest legs make it so."""
    size = Size(carapace=Span(20, 20, 20), basis="2 readings")
    assert "reckoned from its carapace (MEM, wide)" in judged(GROUND, body(100, 120, 100), size).basis
    assert "sure" == judged(GROUND, body(100, 120, 100), size).faults[0].sure


def test_the_keepers_rule_counts_before_the_builds_own() -> None:
    """`home_min_spans 4` for the room holds for light web-builders too; `home_web_spans` is narrower."""
    made = body(230, 230, 75)
    assert "fits" == judged(WEB, made, 75).kind
    assert "small" == judged(WEB, made, 75, rules=(rule("home_min_spans", "4"),)).kind
    assert "small" == judged(WEB, made, 75, rules=(rule("home_web_spans", "3.5", "taxon", KIND),)).kind


def test_rules_can_be_switched_off() -> None:
    """`never` for depth: no end, no fault."""
    assert "shallow" == judged(GROUND, body(160, 70, 20), 60).kind
    assert "fits" == judged(GROUND, body(160, 70, 20), 60, rules=(rule("depth_ground_spans", "never"),)).kind


@pytest.mark.parametrize(
    ("habit", "group", "heavy"),
    [
        ("ground", "", True),
        ("burrower", "wandering spiders", True),
        ("tree", "tarantulas", True),
        ("web_builder", "tarantulas", True),
        ("web_builder", "curtain-web spiders", False),
        ("web_builder", "", None),
        ("web_builder", "Atracidae, funnel-web spiders", True),
        ("wanderer", "wandering spiders", False),
        ("wanderer", "", None),
        (None, "", None),
    ],
)
def test_what_is_not_known_to_be_light_is_not_light(
    habit: str | None, group: str, heavy: bool | None
) -> None:
    """From memory, overruled by `heavy_bodied`."""
    assert heavy is heavy_from_memory(habit, group)


# ---- gaps ------------------------------------------------------------------------------------------------


def hole(width: float | None, **more: Any) -> Opening:
    """One round hole in the lid."""
    return Opening(**{"shape": "hole", "number": 1, "width_mm": width, "at": "lid", "label": "vent", **more})


def sized_carapace(low: float, value: float, high: float) -> Size:
    """A leg span of 80 mm and that carapace."""
    return Size(leg_span=Span(80, 80, 80), carapace=Span(low, value, high), basis="3 readings")


@pytest.mark.parametrize(
    ("width", "sure"), [(12.5, None), (12.7, "possible"), (14.1, "likely"), (15.5, "sure"), (40.0, "sure")]
)
def test_a_hole_is_held_against_the_low_end_of_the_carapace(width: float, sure: str | None) -> None:
    """Carapace 18–22 mm long, at least 0.7 as wide (choice): 12.6, 14 and 15.4 mm wide."""
    found = judged(GROUND, body(200, 160, 90), sized_carapace(18, 20, 22), (hole(width),))
    assert sure == (found.gaps[0].sure if found.gaps else None)
    assert ("gaps" if sure else "fits") == found.kind


def test_a_slit_is_held_against_the_carapaces_height_and_its_length_against_the_width() -> None:
    """Height at least 0.25 of the length (MEM): 5 mm of 20; a slit 10 mm long holds a width of 14 mm."""
    made, size = body(200, 160, 90), sized_carapace(20, 20, 20)
    slit = Opening(shape="slot", number=1, width_mm=5.1, length_mm=60, at="lid")
    assert "gaps" == judged(GROUND, made, size, (slit,)).kind
    narrow = Opening(shape="slot", number=1, width_mm=4.9, length_mm=60, at="lid")
    assert "fits" == judged(GROUND, made, size, (narrow,)).kind
    short = Opening(shape="slot", number=1, width_mm=5.1, length_mm=10, at="lid")
    assert "fits" == judged(GROUND, made, size, (short,)).kind
    unknown_length = Opening(shape="slot", number=1, width_mm=5.1, at="lid")
    assert "gaps" == judged(GROUND, made, size, (unknown_length,)).kind


def test_high_openings_count_also_for_what_slips_on_clean_walls() -> None:
    """Dust and web give grip (CP); only the keeper's own rule leaves them out, and it is said."""
    wide = hole(30.0, at="lid")
    size = Size(leg_span=Span(60, 60, 60), carapace=Span(10, 10, 10), basis="3 readings")
    made = body(230, 230, 75)
    found = judged(WEB, made, size, (wide,))
    assert "gaps" == found.kind
    assert any("until web or dust gives it grip" in words for words in found.notes)
    trusted = judged(WEB, made, size, (wide,), (rule("walls_hold_it", "yes", "taxon", KIND),))
    assert "fits" == trusted.kind
    assert any("1 high openings not counted" in words or "not counted" in words for words in trusted.notes)
    assert "gaps" == judged(WANDERER, made, size, (wide,), (rule("walls_hold_it", "yes"),)).kind
    low = judged(WEB, made, size, (hole(30.0, at="side_low"),), (rule("walls_hold_it", "yes"),))
    assert "gaps" == low.kind


def test_mesh_goes_by_the_width_of_its_holes() -> None:
    """1.5 mm where nobody noted it (MEM): a carapace of 1 mm may go through, one of 5 mm not."""
    mesh = Opening(shape="mesh", number=1, width_mm=80, length_mm=120, at="lid")
    made = body(45, 60, 20)
    small = Size(leg_span=Span(6, 6, 6), carapace=Span(1, 1, 1), basis="1 reading")
    assert "gaps" == judged(GROUND, made, small, (mesh,)).kind
    grown = Size(leg_span=Span(20, 20, 20), carapace=Span(5, 5, 5), basis="1 reading")
    assert "fits" == judged(GROUND, made, grown, (mesh,)).kind


def test_the_range_tells_what_a_gap_asks_of_the_animal() -> None:
    """A hole of 2.8 mm: carapaces up to 4 mm may leave (0.7), leg spans up to 32 mm (8 carapaces)."""
    here = room(GROUND)
    one = here.animals["K12"]
    fit = fit_range(body(200, 160, 90), (hole(2.8),), build_of(here, one), RuleBook(here), one)
    assert 4.0 == pytest.approx(fit.escape_carapace_mm)
    assert 32.0 == pytest.approx(fit.escape_low_mm)
    assert 70.0 == fit.low_mm and 90.0 == fit.high_mm
    closed = fit_range(body(200, 160, 90), (), build_of(here, one), RuleBook(here), one)
    assert 0.0 == closed.escape_low_mm
    never_noted = fit_range(body(200, 160, 90), None, build_of(here, one), RuleBook(here), one)
    assert never_noted.escape_low_mm is None


def test_a_gap_that_is_hardly_too_wide_is_told_in_words() -> None:
    """A hole of 0.70 mm must not read 'under 0.70 mm would hold it'."""
    size = Size(leg_span=Span(8, 8, 8), basis="one reading")
    found = judged(GROUND, body(60, 70, 20), size, (hole(0.702),))
    assert "a little under 0.70 mm (0.028 in) would hold it" in found.headline


PUBLISHED = {  # carapace length and width, legs I and IV, mm
    "Catanduba araguaia, Yamamoto et al. 2012, Zootaxa 3172": (8.32, 7.12, 24.64, 27.92),
    "Linothele zaia, Dupérré & Tapia 2015, Zootaxa 3972": (12.0, 10.5, None, None),
    "Liphistius panching, Sedgwick & Platnick 1986, as given by Schwendinger 2017": (9.8, 8.4, None, None),
    "Idiops mettupalayam, Gupta et al. 2013, Zootaxa 3635": (4.53, 3.70, None, None),
    "Dendrolycosa sierwaldae, Jäger 2011, Zootaxa 3046": (6.0, 4.8, 21.8, 21.9),
    "Ctenus martensi, Jäger 2012, Zootaxa 3429": (5.1, 3.8, 15.1, 16.6),
}


@pytest.mark.parametrize("source", PUBLISHED)
def test_no_published_specimen_is_narrower_or_longer_legged_than_gaps_assume(source: str) -> None:
    """A hole as wide as its carapace counts as a gap for it, by its carapace and by its legs alone."""
    length, width, leg_one, leg_four = PUBLISHED[source]
    made = body(400, 460, 100)
    known = Size(carapace=Span(length, length, length), basis="published")
    assert judged(WANDERER, made, known, (hole(width),)).gaps
    if leg_one is not None and leg_four is not None:
        span = leg_one + leg_four
        by_legs = judged(WANDERER, made, Size(leg_span=Span(span, span, span)), (hole(width),))
        assert by_legs.gaps


# ---- unknown ---------------------------------------------------------------------------------------------


def test_what_is_not_on_record_is_unknown_and_never_fits() -> None:
    """No home, no size of it, no openings, no width of one, no size of the animal."""
    made = body(200, 160, 90)
    assert judged(GROUND, None, 80).fits is None
    assert "unknown: its size and substrate" in judged(GROUND, None, 80, ()).headline
    no_openings = Home("H1", body=made, occupants=("K12",))
    here = room(GROUND)
    size = Size(leg_span=Span(80, 80, 80), basis="one reading")
    found = verdict(here, here.animals["K12"], no_openings, size)
    assert ("unknown", "unknown: which openings it has") == (found.kind, found.headline)
    assert "unknown: how wide its vent is" == judged(GROUND, made, 80, (hole(None),)).headline
    assert "unknown: its size" == judged(GROUND, made, None).headline
    homeless = verdict(here, here.animals["K12"], None, size)
    assert (None, "unknown: which home it lives in") == (homeless.fits, homeless.headline)


def test_all_openings_closed_is_known_and_none_on_record_is_not() -> None:
    """An entry of number 0 says that somebody looked."""
    act = HomeAct(7, on_day(ago(3)), Opening(shape="slot", number=0, label="slit"))
    assert () == openings_of(Home("H1", acts=(act,)))
    assert openings_of(Home("H1")) is None


def test_a_depth_that_is_not_on_record_is_the_worst_it_can_be_for_a_fall() -> None:
    """Light builds do not mind; for a heavy one the whole height may be the fall: unknown, not 'fits'."""
    assert "unknown: how deep its substrate is" == judged(GROUND, body(300, 300, None), 80).headline
    assert "fits" == judged(WANDERER, body(300, 300, None), 80).kind
    here = room(GROUND)
    fit = fit_range(body(300, 300, None), (), build_of_taxon(here, KIND), RuleBook(here))
    assert 300.0 == fit.low_mm and ("how deep its substrate is",) == fit.unknown


def test_an_animal_of_unknown_size_by_a_wide_hole_is_a_warning() -> None:
    """4 mm at most (D) decides where nobody knows its size; 3 mm is not said to hold it either."""
    made = body(200, 160, 90)
    found = judged(GROUND, made, None, (hole(5.0),))
    assert "gaps" == found.kind
    assert "its size is not on record" in found.headline
    assert "unknown" == judged(GROUND, made, None, (hole(3.0),)).kind


def test_unknown_habit_and_group_get_the_rules_that_harm_least() -> None:
    """Substrate as a ground dweller, the lowest drop, prey on a small floor, any opening counted."""
    found = judged(None, body(305, 305, 75), 60)
    assert "too_tall" == found.kind
    assert any("counted as climbing any wall" in words for words in found.notes)
    assert "too_large" == judged(None, body(200, 60, 30), 10).kind


# ---- the depth that makes a home fit ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("named", "height", "low", "high", "depth"),
    [
        (GROUND, 200.0, 60.0, 80.0, 140.0),
        (GROUND, 130.0, 60.0, 80.0, 80.0),
        (GROUND, 100.0, 60.0, 100.0, None),  # 10 cm asked leave no air
        (BURROWER, 300.0, 50.0, 60.0, 250.0),
        (TREE, 300.0, 50.0, 140.0, 0.0),
        (TREE, 200.0, 50.0, 140.0, None),
        (WEB, 254.0, 50.0, 180.0, 75.0),
        (WANDERER, 400.0, 20.0, 100.0, 0.0),
    ],
)
def test_the_least_depth_that_makes_a_home_fit(
    named: Named, height: float, low: float, high: float, depth: float | None
) -> None:
    """Deep enough for the largest, no fall for the smallest, air above; and the range then holds both."""
    here = room(named)
    one = here.animals["K12"]
    build, book = build_of(here, one), RuleBook(here)
    found = best_depth_mm(body(400, height, None), build, book, low, high, one)
    assert depth == found
    if found is not None:
        fit = fit_range(body(400, height, found), (), build, book, one)
        assert fit.fits(high)
        assert fit.fits(low) or low < 40


# ---- the room and the round ------------------------------------------------------------------------------


def test_the_room_has_a_verdict_for_every_living_animal_the_gravest_first() -> None:
    """Gaps before falls before floors; what fits comes last, after what is unknown."""
    beings = [animal(code, home=home) for code, home in (("A", "H1"), ("B", "H2"), ("C", "H3"), ("D", ""))]
    homes = {
        "H1": Home("H1", body=body(200, 160, 90), openings=(AIR,)),
        "H2": Home("H2", body=body(60, 100, 60), openings=(AIR,)),
        "H3": Home("H3", body=body(200, 160, 90), openings=(hole(30.0),)),
    }
    here = record(*beings, habit="ground", homes=homes)
    sizes = {code: sized(code, span=80.0, carapace=18.0) for code in "ABC"}
    found = room_fit(here, sizes)
    assert ["A", "B", "C", "D"] == [each.animal for each in found]
    assert ["fits", "small", "gaps", "unknown"] == [each.kind for each in found]
    assert ["C", "B", "D", "A"] == [each.animal for each in worst_first(found)]


def test_a_gap_is_said_before_the_walk_calmly() -> None:
    """The line names animal, home, opening, what would hold it and what to do; the problem its entries."""
    act = HomeAct(41, on_day(ago(9)), hole(30.0))
    homes = {
        "H1": Home("H1", body=body(200, 160, 90), openings=(hole(30.0),), acts=(act,), occupants=("K12",))
    }
    here = record(animal(home="H1"), habit="ground", homes=homes)
    sizes = (sized(span=80.0, carapace=18.0),)
    lines = round_of(here, sizes=sizes).notices
    assert lines[0].startswith(
        "K12 in home H1: hole of 3.0 cm (1.2 in) in the lid: wide enough to leave by; "
        "under 1.1 cm (0.45 in) would hold it. Cover it from outside"
    )
    problems = gap_problems(here, room_fit(here, {"K12": sizes[0]}))
    assert [("gap_wide", "home H1", (41,), "doubt")] == [
        (each.kind, each.subject, each.entries, each.severity) for each in problems
    ]


def test_many_gaps_are_a_few_lines() -> None:
    """Twelve of them: three in full, the others by name, what to do once."""
    beings = [animal(f"K{number:02}", home=f"H{number}") for number in range(12)]
    homes = {
        f"H{number}": Home(f"H{number}", body=body(200, 160, 90), openings=(hole(20.0 + number),))
        for number in range(12)
    }
    here = record(*beings, habit="ground", homes=homes)
    sizes = tuple(sized(one.code, span=80.0, carapace=18.0) for one in beings)
    lines = [words for words in round_of(here, sizes=sizes).notices if "leave by" in words]
    assert ["K11", "K10", "K09"] == [words[:3] for words in lines]  # the widest first
    assert "; also K00, K01, K02, K03, K04, K05 and 3 others may have one. Cover it from outside" in lines[2]
    assert 1 == sum(words.count("Cover it") for words in lines)


@pytest.mark.parametrize(
    ("named", "width", "kind"),
    [
        (GROUND, 1.0, "gaps"),  # 6 mm hatching (B): a carapace of 1.33 mm (MEM), 0.93 mm wide
        (GROUND, 0.9, "fits"),
        (TREE, 1.9, "fits"),  # 13 mm: 2.9 mm long, 2.02 mm wide
        (TREE, 2.1, "gaps"),
        (WEB, 3.0, "unknown"),  # no figure: its size is unknown, 4 mm at most (D)
        (WEB, 4.1, "gaps"),
    ],
)
def test_spiderlings_of_a_batch_are_judged_as_they_hatch(named: Named, width: float, kind: str) -> None:
    """A batch that nobody measured, in a home with one row of holes; a batch used up is not judged."""
    batch = Batch("S1", KIND, living=80, home="H1")
    homes = {"H1": Home("H1", openings=(hole(width),))}
    taxa = {KIND: Taxon(KIND, (KIND,), named)}
    here = record(taxa=taxa, homes=homes, batches={"S1": batch})
    assert [("batch S1", kind)] == [(each.animal, each.kind) for each in batch_fit(here)]
    said = [words for words in round_of(here).notices if words.startswith("Batch S1 in home H1")]
    assert (kind == "gaps") == bool(said)
    gone = record(taxa=taxa, homes=homes, batches={"S1": replace(batch, living=0)})
    assert () == batch_fit(gone)


def test_a_dangerous_fall_is_one_line_with_its_cautions() -> None:
    """Only where it is too far even at the far end of the size; never a call to act in premoult."""
    homes = {"H1": Home("H1", body=body(305, 305, 75), openings=(AIR,), occupants=("K12",))}
    here = record(animal(home="H1"), habit="ground", homes=homes)
    lines = [
        words for words in round_of(here, sizes=(sized(span=80.0),)).notices if "A fall could hurt" in words
    ]
    assert 1 == len(lines)
    assert "K12" in lines[0] and "not in premoult" in lines[0]


def test_rehousing_goes_by_the_same_rules() -> None:
    """A light web-builder of 10 cm: a box of 20 cm is small, a floor of 20.3 cm in five gallons not."""

    def title(made: MadeUp) -> str:
        homes = {"H1": Home("H1", body=made, openings=(AIR,), occupants=("K12",))}
        one = animal(home="H1", moults=(moult(200),))
        here = record(one, taxa={KIND: Taxon(KIND, (KIND,), WEB)}, homes=homes)
        row = round_of(here, sizes=(sized(span=110.0),)).shelves[0].rows[0]
        return "".join(each.title for each in row.jobs if each.action == "rehouse")

    def rehoused(made: MadeUp) -> bool:
        return title(made) != ""

    assert rehoused(body(200, 300, 100))
    assert ", or an adult's of 19 l (5.0 gal) and 12 cm (4.8 in)" in title(body(200, 300, 100))
    assert not rehoused(MadeUp(
        shape="box", inner_length_mm=381.0, inner_width_mm=203.2, inner_height_mm=254.0, depth_low_mm=75.0,
    ))  # fmt: skip


@pytest.mark.parametrize(("carapace", "due"), [(20.0, True), (15.0, False)])
def test_a_span_reckoned_from_the_carapace_moves_nobody_unless_it_is_sure(carapace: float, due: bool) -> None:
    """Floor of 120 mm, 2 spans: legs of at least 3.5 carapaces (± 10 %) are 63 mm and 47 mm."""
    homes = {"H1": Home("H1", body=body(120, 120, 100), openings=(AIR,), occupants=("K12",))}
    one = animal(home="H1", moults=(moult(200),))
    row = (
        round_of(record(one, habit="ground", homes=homes), sizes=(sized(carapace=carapace),))
        .shelves[0]
        .rows[0]
    )
    assert due == any(each.action == "rehouse" for each in row.jobs)


def test_a_fall_that_is_only_likely_is_not_said_before_the_walk() -> None:
    """84 mm of height for 80 mm of span (72–88): the verdict says it, the round does not."""
    homes = {"H1": Home("H1", body=body(305, 174, 90), openings=(AIR,), occupants=("K12",))}
    here = record(animal(home="H1"), habit="ground", homes=homes)
    sizes = (sized(span=80.0),)
    assert "too_tall" == room_fit(here, {"K12": sizes[0]})[0].kind
    assert not [words for words in round_of(here, sizes=sizes).notices if "A fall could hurt" in words]


def test_a_thousand_homes_are_judged_in_no_time() -> None:
    """1,000 animals in 1,000 homes with three openings each: 0.2 s at most, best of five."""
    draw = random.Random(7)
    beings, homes, sizes = [], {}, {}
    for number in range(1000):
        code = f"K{number:04}"
        beings.append(animal(code, home=f"H{number}"))
        made = body(draw.uniform(30, 400), draw.uniform(50, 400), draw.uniform(20, 200))
        holes = (AIR, hole(draw.uniform(0.5, 6)), Opening(shape="slot", number=1, width_mm=2.0, at="lid"))
        homes[f"H{number}"] = Home(f"H{number}", body=made, openings=holes)
        span = draw.uniform(8, 180)
        sizes[code] = sized(code, span=span, carapace=span / 5)
    here = record(*beings, habit="ground", homes=homes)
    took = []
    for _ in range(5):
        begun = process_time()
        found = room_fit(here, sizes)
        took.append(process_time() - begun)
    assert 1000 == len(found)
    assert len({each.kind for each in found}) >= 4
    assert min(took) < 0.2, f"{min(took):.3f} s"
