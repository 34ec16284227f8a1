"""What the trade says of homes for light, fast web-builders that slip on smooth walls, as check values.

Every figure here is common practice, no source, unless another source stands beside it. They hold for that
build only: the same homes must not be called right for heavy ground dwellers or for what is unknown.
"""

from __future__ import annotations

from typing import Any, Literal

import pytest

from nightround.foundation.quantities import both, convert
from nightround.journal.kinds.knowledge import Named
from nightround.journal.kinds.surroundings import MadeUp, Opening
from nightround.plans.fit import Build, build_of, fit_range, verdict
from nightround.plans.fit_ends import volume_ml
from nightround.plans.rules import RuleBook, rule_for
from nightround.plans.sizes import Size, Span
from nightround.record.model import Home, Record, Taxon
from plans.evening import KIND, animal, forecast, job, record, round_of, sized

LIGHT_WEB = Named(group="funnel-web-building spiders", habit="web_builder", climbs="poor")
HEAVY_GROUND = Named(group="tarantulas", habit="ground", climbs="rough")
HEAVY_BURROWER = Named(group="trapdoor spiders", habit="trapdoor", climbs="poor")
UNKNOWN_GROUP = Named(habit="web_builder", climbs="poor")
OTHERS = {
    "heavy ground dweller": HEAVY_GROUND,
    "trapdoor builder": HEAVY_BURROWER,
    "web builder of unknown group": UNKNOWN_GROUP,
    "nothing known": None,
}
# 5, 10, 20 and 40 fluid drams hold 18.5, 37.0, 73.9 and 147.9 ml (NIST Handbook 44: 1 US gal = 231 cubic
# inches); their inner diameters are from memory.
VIALS_MM = {
    "5 dram": (24.0, 18.5),
    "10 dram": (29.0, 37.0),
    "20 dram": (36.0, 73.9),
    "40 dram": (48.0, 147.9),
}


def room(named: Named | None) -> Record:
    """A room with one animal of that description."""
    return record(animal(home="H1"), taxa={KIND: Taxon(KIND, (KIND,), named)})


def box(length: float, width: float, height: float, low: float, high: float | None = None) -> MadeUp:
    """A box with substrate, inner sizes in mm."""
    return MadeUp(
        shape="box", inner_length_mm=length, inner_width_mm=width, inner_height_mm=height,
        depth_low_mm=low, depth_high_mm=high or low,
    )  # fmt: skip


def vial(name: str, depth: float = 25.0) -> MadeUp:
    """A vial with so much substrate."""
    across, millilitres = VIALS_MM[name]
    height = millilitres * 1000 / (3.14159265 / 4 * across**2)
    return MadeUp(
        shape="cylinder",
        inner_length_mm=across,
        inner_height_mm=height,
        depth_low_mm=depth,
        depth_high_mm=depth,
    )


def told(named: Named | None, body: MadeUp, span: float) -> tuple[str, str]:
    """Kind and words of the verdict on a home without openings too wide, for a leg span known well."""
    here = room(named)
    tiny = Opening(shape="hole", number=12, width_mm=0.3, at="lid", label="air")
    home = Home("H1", body=body, openings=(tiny,), occupants=("K12",))
    size = Size(leg_span=Span(span * 0.99, span, span * 1.01), basis="one reading")
    found = verdict(here, here.animals["K12"], home, size)
    return found.kind, found.headline


# 8 × 10 × 15 in, sold as 5 to 5.5 US gallons, on either side.
FIVE_GALLONS = (box(381.0, 203.2, 254.0, 75.0, 125.0), box(254.0, 203.2, 381.0, 75.0, 125.0))
CUBE = box(305.0, 305.0, 305.0, 75.0, 125.0)
JUVENILE = (box(230.0, 190.0, 230.0, 75.0), box(200.0, 200.0, 300.0, 100.0))


@pytest.mark.parametrize("name", VIALS_MM)
@pytest.mark.parametrize("span", [4.0, 6.0, 8.5])
def test_spiderlings_fit_vials_with_an_inch_of_moist_substrate(name: str, span: float) -> None:
    """Spiderlings in vials with about 2.5 cm of moist substrate."""
    assert ("fits", "fits") == told(LIGHT_WEB, vial(name), span)


@pytest.mark.parametrize("body", JUVENILE)
@pytest.mark.parametrize("span", [40.0, 50.0, 60.0, 75.0])
def test_juveniles_from_four_centimetres_fit_the_boxes_of_the_trade(body: MadeUp, span: float) -> None:
    """19 × 23 × 23 cm with 7.5 cm of substrate, or 20 × 20 × 30 cm (high) with 10 cm, until about 7.5 cm."""
    assert ("fits", "fits") == told(LIGHT_WEB, body, span)


@pytest.mark.parametrize("body", JUVENILE)
def test_those_boxes_are_for_juveniles(body: MadeUp) -> None:
    """Only until about 7.5 cm: at 10 cm they are small."""
    assert "small" == told(LIGHT_WEB, body, 100.0)[0]


@pytest.mark.parametrize("body", [*FIVE_GALLONS, CUBE])
@pytest.mark.parametrize("span", [50.0, 75.0, 90.0, 100.0, 140.0, 180.0])
def test_adults_and_fast_growers_from_five_centimetres_fit_the_adult_home(body: MadeUp, span: float) -> None:
    """Adults of 10–18 cm in 20.3 × 25.4 × 38.1 cm or 30.5 cm cubes, 7.5–12.5 cm sloped; from 5 cm on."""
    assert ("fits", "fits") == told(LIGHT_WEB, body, span)


def test_the_largest_need_more() -> None:
    """Larger tanks for the largest: 20 cm of leg span is too much for a floor of 20.3 cm."""
    assert "small" == told(LIGHT_WEB, FIVE_GALLONS[1], 200.0)[0]
    assert ("fits", "fits") == told(LIGHT_WEB, box(400.0, 250.0, 250.0, 75.0, 125.0), 200.0)


@pytest.mark.parametrize("other", OTHERS)
@pytest.mark.parametrize("span", [50.0, 75.0, 100.0, 140.0])
def test_the_same_tall_homes_are_never_right_for_other_builds(other: str, span: float) -> None:
    """A drop of 23 cm is dangerous for a heavy body (B: at most one span; D: 3–4 spans, disputed)."""
    kind, words = told(OTHERS[other], CUBE, span)
    assert "too_tall" == kind
    assert "it can fall 23 cm (9.1 in)" in words
    here = room(OTHERS[other])
    book = RuleBook(here)
    one = here.animals["K12"]
    assert fit_range(CUBE, (), build_of(here, one), book, one).never


@pytest.mark.parametrize(
    ("named", "expected"),
    [
        (LIGHT_WEB, True),
        (Named(group="Funnel-web-building spiders", habit="web_builder", climbs="rough"), False),
        (Named(group="funnel-web-building spiders", habit="web_builder"), False),
        (Named(group="funnel-web-building spiders", habit="burrower", climbs="poor"), False),
        (Named(group="funnel-web spiders", habit="web_builder", climbs="poor"), False),
        (Named(group="tarantulas", habit="web_builder", climbs="poor"), False),
        (UNKNOWN_GROUP, False),
        (HEAVY_GROUND, False),
        (None, False),
    ],
)
def test_only_one_build_is_the_build_of_these_facts(named: Named | None, expected: bool) -> None:
    """Web-builder, slips on smooth walls, light: every part known (Atracid funnel-web spiders are heavy)."""
    here = room(named)
    assert expected == build_of(here, here.animals["K12"]).light_web


def test_the_keepers_word_makes_a_group_light() -> None:
    """`heavy_bodied no` for the taxon: known to be light, so the drop does not matter."""
    from plans.evening import rule

    here = record(
        animal(),
        taxa={KIND: Taxon(KIND, (KIND,), UNKNOWN_GROUP)},
        rules=(rule("heavy_bodied", "no", "taxon", KIND),),
    )
    assert Build("web_builder", "poor", False).light_web
    assert build_of(here, here.animals["K12"]).light_web


# ---- arithmetic and both unit systems --------------------------------------------------------------------


def test_eight_by_ten_by_fifteen_inches_are_five_gallons() -> None:
    """1,200 cubic inches; 1 US gal = 231 cubic inches (NIST Handbook 44, appendix C): 5.19 US gal, 19.7 l."""
    assert 1200 == 8 * 10 * 15
    assert 5.19 == round(1200 / 231, 2)
    assert (203.2, 254.0, 381.0) == tuple(convert(side, "in", "mm") for side in (8, 10, 15))
    volume = volume_ml(FIVE_GALLONS[0])
    assert volume is not None
    assert 5.19 == round(convert(volume, "ml", "gal"), 2)
    assert "19.7 l (5.19 gal)" == both(volume, "ml", 3)
    assert "20 l (5.2 gal)" == both(volume, "ml")


@pytest.mark.parametrize(
    ("mm", "digits", "words"),
    [
        (25.4, 2, "2.5 cm (1.0 in)"),
        (8.5, 2, "8.5 mm (0.33 in)"),  # about 1/3 in
        (40.0, 2, "4.0 cm (1.6 in)"),
        (75.0, 2, "7.5 cm (3.0 in)"),
        (100.0, 2, "10 cm (3.9 in)"),
        (125.0, 3, "12.5 cm (4.92 in)"),
        (190.0, 2, "19 cm (7.5 in)"),
        (230.0, 2, "23 cm (9.1 in)"),
        (300.0, 2, "30 cm (12 in)"),
        (305.0, 3, "30.5 cm (12.0 in)"),
        (203.2, 3, "20.3 cm (8.00 in)"),
        (254.0, 3, "25.4 cm (10.0 in)"),
        (381.0, 3, "38.1 cm (15.0 in)"),
        (180.0, 2, "18 cm (7.1 in)"),
    ],
)
def test_lengths_stand_in_both_systems_rounded_alike(mm: float, digits: Any, words: str) -> None:
    """As many digits in inches as in centimetres (1 in = 25.4 mm, NIST SP 811)."""
    assert words == both(mm, "mm", digits)


@pytest.mark.parametrize(
    ("celsius", "words"),
    [
        (21.0, "21.0 °C (69.8 °F)"),
        (23.0, "23.0 °C (73.4 °F)"),
        (26.0, "26.0 °C (78.8 °F)"),
        (29.0, "29.0 °C (84.2 °F)"),
    ],
)
def test_the_rooms_of_the_trade_are_neither_cold_nor_a_heat_wave(celsius: float, words: str) -> None:
    """21–23 °C in winter and 26–29 °C in summer do: no notice of cold or heat by the rules."""
    assert words == both(celsius, "C")
    here = room(LIGHT_WEB)
    cold, heat = rule_for(here, "cold_night_c").number, rule_for(here, "heat_wave_c").number
    assert cold is not None and heat is not None
    assert cold < celsius < heat


# ---- feeding ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("span", [8.0, 40.0, 75.0, 140.0])
def test_light_web_builders_are_fed_about_weekly(span: float) -> None:
    """Fed about weekly, adults too; adults of other builds by the later figure (D: 7–14 days)."""
    from nightround.plans.feeding import interval_rule
    from nightround.plans.situation import Situation
    from nightround.plans.sizes import size_of

    def days(named: Named | None) -> float | None:
        here = room(named)
        one = here.animals["K12"]
        s = Situation(here, RuleBook(here), one, None, size_of(one, sized(span=span)), False)
        return interval_rule(s).number

    assert 7.0 == days(LIGHT_WEB)
    assert (14.0 if span >= 100 else 7.0) == days(HEAVY_GROUND)


def test_the_smallest_get_a_gentle_piece_and_the_usual_flies_are_named() -> None:
    """Under about 8.5 mm: flightless fruit flies or scavenged legs; the advice says why it is a piece."""
    row = round_of(room(LIGHT_WEB), forecast(200), sizes=(sized(span=8.0),)).shelves[0].rows[0]
    offered = job(row, "offer")
    assert offered.offer is not None and offered.offer.prekilled
    assert any("flightless fruit flies or scavenged legs" in words for words in offered.why)
    row = round_of(room(HEAVY_GROUND), forecast(200), sizes=(sized(span=8.0),)).shelves[0].rows[0]
    assert not any("fruit flies" in words for words in job(row, "offer").why)


Habit = Literal["ground", "burrower", "trapdoor", "tube", "wanderer", "tree"]


@pytest.mark.parametrize("habit", ["ground", "burrower", "trapdoor", "tube", "wanderer", "tree"])
def test_no_other_habit_uses_a_figure_of_the_light_web_builders(habit: Habit) -> None:
    """Reasons for every other habit rest on the common rules, whatever group and walls are noted."""
    here = room(Named(group="funnel-web-building spiders", habit=habit, climbs="poor"))
    one = here.animals["K12"]
    fit = fit_range(CUBE, (), build_of(here, one), RuleBook(here), one)
    used = {reason.rule.rule for reason in fit.reasons}
    assert not {rule for rule in used if "web" in rule}
    assert "home_min_spans" in used
