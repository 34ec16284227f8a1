"""The plan of homes: few moves into homes that fit, nothing unknown guessed, nobody moved when it harms."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from nightround.foundation.refusal import NoSuchThing
from nightround.plans.rehousing import plan
from nightround.plans.rehousing_costs import Premoult, blocked_chance
from nightround.plans.rehousing_courses import FreeHomes
from nightround.plans.rehousing_words import CAUTIONS, run_sheet, still_asked
from nightround.record.model import Record
from nightround.reports.homes import Course, HomesReport, Move
from plans.rehousing_rooms import ON, SHOP, grows, lives, room, spans_of, stands


def made(record: Record, spans: Mapping[str, np.ndarray], moults: tuple[float, ...] = ()) -> HomesReport:
    """The plan of a written room."""
    return plan(record, spans_of(record, spans, moults), {}, None, room="R", seconds=20.0)


def course(report: HomesReport, code: str) -> Course:
    """One animal's course."""
    return next(each for each in report.courses if each.animal == code)


def test_a_light_web_builder_goes_straight_from_the_vial_into_its_last_home() -> None:
    """Its web finds the prey in a large home, so that one move does what two would (common practice)."""
    report = made(room(SHOP, lives("W1", "Webber", "H1")), {"W1": grows(14, 120)})
    (move,) = course(report, "W1").moves
    assert move.to == "tank"
    assert move.buy
    assert any("web finds prey" in words for words in course(report, "W1").notes)


def test_a_heavy_ground_dweller_never_gets_a_long_fall() -> None:
    """From lid to substrate it is at most the leg span of nine in ten draws, or the height always allowed."""
    record = room(SHOP, lives("G1", "Ground", "H1"))
    report = made(record, {"G1": grows(14, 120)})
    heights = {"vial": 70.0, "box": 300.0, "tank": 254.0}
    moves = course(report, "G1").moves
    assert moves
    for move in moves:
        fall = heights[move.to] - move.depth_mm
        assert fall <= max(1.05 * move.span.high_mm, 60.0), move


def test_one_move_fewer_is_told_with_what_it_costs() -> None:
    """Where a middle home would spare weeks but cost a move more, the plan names it and the weeks."""
    report = made(room(SHOP, lives("G1", "Ground", "H1")), {"G1": grows(25, 90)})
    mine = course(report, "G1")
    planned = next(each for each in mine.others if each.planned)
    better = [each for each in mine.others if each.moves == planned.moves + 1]
    if better and planned.misfit_weeks - better[0].misfit_weeks >= 0.5:
        assert "cost one move more" in mine.skips
    else:
        assert mine.skips == ""


TRADE = """
    2026-01-01  room R  supply  item=home; name=vial; shape=cylinder; inner_length_mm=36; inner_height_mm=70; gap_mm=0
    2026-01-01  room R  supply  item=home; name=low box; shape=box; inner_length_mm=190; inner_width_mm=230; inner_height_mm=230; gap_mm=0
    2026-01-01  room R  supply  item=home; name=high box; shape=box; inner_length_mm=200; inner_width_mm=200; inner_height_mm=300; gap_mm=0
    2026-01-01  room R  supply  item=home; name=adult box; shape=box; inner_length_mm=381; inner_width_mm=203; inner_height_mm=254; gap_mm=0
    2026-01-01  room R  supply  item=home; name=cube; shape=box; inner_length_mm=305; inner_width_mm=305; inner_height_mm=305; gap_mm=0
"""  # noqa: E501
ADULT = ("adult box", "cube")


def test_fast_growers_go_from_5_cm_straight_into_the_adult_home() -> None:
    """Light web-builders that slip on smooth walls (common practice, no source), 7.5 to 12.5 cm deep."""
    report = made(room(TRADE, lives("W1", "Webber", "H1")), {"W1": grows(50, 150)})
    (move,) = course(report, "W1").moves
    assert move.to in ADULT
    assert 75.0 <= move.depth_mm <= 125.0


def test_spiderlings_are_left_in_their_vials_while_these_fit() -> None:
    """A light web-builder of 9 mm in a vial with 2.5 cm of substrate stays until it has outgrown it (CP)."""
    grown = grows(9, 40)
    report = made(room(TRADE, lives("W1", "Webber", "H1")), {"W1": grown})
    (move,) = course(report, "W1").moves
    assert move.limit_mm is not None
    at = (move.day - ON).days // 14
    assert (grown[:, at] > move.limit_mm).mean() >= 0.05
    assert move.depth_mm >= 75.0


def test_none_of_that_holds_for_heavy_or_unknown_builds() -> None:
    """In the same cube with 7.5 cm a heavy body can fall 23 cm (9.1 in): it is filled higher or not used."""
    unknown = "\n    2026-01-01  taxon Nobody  named  group=a group nobody knows\n"
    for taxon in ("Ground", "Nobody"):
        report = made(room(TRADE, unknown, lives("G1", taxon, "H1")), {"G1": grows(50, 110)})
        for move in course(report, "G1").moves:
            height = {"cube": 305.0, "adult box": 254.0, "high box": 300.0, "low box": 230.0, "vial": 70.0}
            assert height[move.to] - move.depth_mm <= max(1.05 * move.span.high_mm, 60.0), (taxon, move)


def test_moving_is_better_than_staying() -> None:
    """The weeks in a home that does not fit are fewer than without any move, and both are told."""
    report = made(room(SHOP, lives("W1", "Webber", "H1")), {"W1": grows(14, 120)})
    assert report.misfit_weeks < 0.3 * report.stay_weeks
    assert report.gap == 0.0


def test_the_window_is_that_of_the_span_reaching_the_limit() -> None:
    """The days of 10, 50 and 90 % are those on which so many draws first span what the vial allows."""
    grown = grows(14, 120)
    record = room(SHOP, lives("W1", "Webber", "H1"))
    report = made(record, {"W1": grown})
    move = course(report, "W1").moves[0]
    assert move.limit_mm is not None and move.outgrows is not None
    reached = np.sort((grown.astype(np.float32) >= move.limit_mm).argmax(axis=1) * 14)
    expected = [ON + timedelta(days=int(reached[at])) for at in (3, 19, 35)]
    assert [move.outgrows.early, move.outgrows.middle, move.outgrows.late] == expected


def test_never_measured_is_named_and_not_planned() -> None:
    """An animal without a believed size has no moves, and the page says what is missing."""
    report = made(room(SHOP, lives("W1", "Webber", "H1")), {})
    assert course(report, "W1").unplanned == "it was never measured"
    assert report.moves == ()
    assert report.planned == 0


def test_a_home_without_sizes_is_named_and_not_planned() -> None:
    """Nothing is guessed of a home whose floor or height nobody wrote down."""
    record = room(
        SHOP,
        """
    2026-01-02  animal W1  arrived  taxon=Webber
    2026-01-02  animal W1  moved  home=H9; place=shelf A
    2026-01-02  home H9  made_up  substrate=coir
    """,
    )
    report = made(record, {"W1": grows(14, 120)})
    assert "not on record" in course(report, "W1").unplanned


def test_nobody_moves_in_the_first_two_weeks() -> None:
    """An animal that arrived three days ago is moved eleven days from now at the soonest (settle_days)."""
    record = room(SHOP, lives("W1", "Webber", "H1", "2026-02-26"))
    report = made(record, {"W1": grows(60, 120)})
    assert course(report, "W1").moves[0].day >= date(2026, 2, 26) + timedelta(days=14)


def test_nobody_moves_with_a_sac() -> None:
    """With a sac no move is planned for ten weeks."""
    record = room(SHOP, lives("W1", "Webber", "H1"), "\n    2026-02-20  animal W1  sac  step=laid\n")
    report = made(record, {"W1": grows(60, 120)})
    assert course(report, "W1").moves[0].day >= ON + timedelta(days=70)


def test_the_chance_of_premoult_counts_days_around_drawn_moults() -> None:
    """A moult on day 28 with 10 premoult and 7 hardening days blocks 10 of the 14 days before it, 7 after."""
    record = room(lives("W1", "Webber", "H1"))
    spans = spans_of(record, {"W1": grows(20, 21)}, (28.0,))
    rule = Premoult(1.0, 10.0, (25.0, 50.0, 100.0), (7.0, 10.0, 14.0, 21.0))
    chance = blocked_chance(spans, np.array([0]), [rule])[0]
    assert chance[:4] == pytest.approx([0.0, 10 / 14, 7 / 14, 0.0])


def test_moves_wait_for_the_moult() -> None:
    """With a moult certain in a fortnight and hardening after it, the move is not planned in these weeks."""
    record = room(SHOP, lives("W1", "Webber", "H1"))
    late = made(record, {"W1": grows(60, 120)}, (13.0,))
    free = made(record, {"W1": grows(60, 120)})
    assert free.moves[0].day <= ON + timedelta(days=14)
    assert late.moves[0].put_off <= 0.8
    assert late.moves[0].day >= free.moves[0].day


def test_an_empty_home_of_the_record_is_used_once() -> None:
    """Two animals need one empty home: one gets it, the other a bought one; never both at once."""
    record = room(SHOP, lives("W1", "Webber", "H1"), lives("W2", "Webber", "H2"), stands("H7", 381, 203, 254))
    report = made(record, {"W1": grows(50, 120), "W2": grows(50, 120)})
    into = [move.to_home for move in report.moves if not move.buy]
    assert into.count("H7") == 1
    assert sum(move.buy for move in report.moves) == 1
    assert sum(each.number for each in report.to_buy) == 1


def test_a_home_that_is_bought_and_left_is_used_again() -> None:
    """What is bought is what the moves marked so take; no home of the record holds two at once."""
    parts = [lives(f"W{n}", "Webber", f"H{n}") for n in range(1, 7)]
    grown = {f"W{n}": grows(10 + 9 * n, 70 + 15 * n) for n in range(1, 7)}
    boxes = SHOP.replace("inner_length_mm=381", "inner_length_mm=1381")
    report = made(room(boxes, *parts, stands("H8", 100, 100, 120), stands("H9", 200, 200, 300)), grown)
    assert sum(each.number for each in report.to_buy) == sum(move.buy for move in report.moves)
    lived: dict[str, list[tuple[date, date]]] = {}
    for each in report.courses:
        days = [ON, *(move.day for move in each.moves), report.until + timedelta(days=1)]
        homes = [each.home, *(move.to_home for move in each.moves)]
        for home, first, last in zip(homes, days, days[1:], strict=False):
            lived.setdefault(home, []).append((first, last + timedelta(days=14)))
    lived.pop("", None)
    assert len(lived) >= 7
    for stays in lived.values():
        ordered = sorted(stays)
        assert all(a[1] <= b[0] for a, b in zip(ordered, ordered[1:], strict=False))


def test_homes_bought_and_left_are_free_a_fortnight_later() -> None:
    """Of a kind with one home of the record: that first, then a new one, then the one left first, cleaned."""
    homes = FreeHomes({0: [(0, "H7")]})
    assert ("H7", False) == homes.take(0, 0)
    new, buy = homes.take(0, 0)
    assert buy
    homes.give(0, 3, new)
    assert homes.take(0, 3)[1]
    assert (new, False) == homes.take(0, 4)
    homes.give(-1, 5, "H9")
    assert homes.take(0, 9)[1]


def test_costs_are_exact_and_unknown_prices_in_no_sum() -> None:
    """Sums are prices times numbers; a home without a price is counted apart."""
    record = room(SHOP, lives("W1", "Webber", "H1"), lives("W2", "Webber", "H2"))
    report = made(record, {"W1": grows(50, 120), "W2": grows(50, 120)})
    prices = {"vial": Decimal("1.10"), "box": Decimal("12.50"), "tank": Decimal("30")}
    expected = sum((prices[each.name] * each.number for each in report.to_buy), Decimal(0))
    assert report.costs == (("EUR", f"{expected:.2f}"),)
    assert report.unpriced == 0
    unpriced = made(room(SHOP.replace("price=30; currency=EUR; ", ""), lives("W1", "Webber", "H1")),
                    {"W1": grows(50, 120)})  # fmt: skip
    assert unpriced.unpriced == sum(each.number for each in unpriced.to_buy if each.name == "tank")
    assert all(each.cost == "" for each in unpriced.to_buy if each.name == "tank")


def test_orders_come_before_preparations_and_preparations_before_moves() -> None:
    """Ordered by lead days before the home is made up, made up a week before the move, never in the past."""
    report = made(room(SHOP, lives("W1", "Webber", "H1")), {"W1": grows(14, 120)})
    (bought,), (prepared,), (move,) = report.to_buy, report.preparations, report.moves
    assert bought.order_by is not None
    assert ON <= bought.order_by <= prepared.by <= move.day
    assert prepared.litres == pytest.approx(0.381 * 0.203 * move.depth_mm)


def test_without_a_shop_usual_sizes_stand_in() -> None:
    """With nothing for sale on record, generic sizes are planned, without prices, and the page says so."""
    report = made(room(lives("W1", "Webber", "H1")), {"W1": grows(14, 120)})
    assert report.moves
    assert report.unpriced == len(report.moves)
    assert report.costs == ()
    assert any("No home for sale is on record" in words for words in report.notices)


def test_homes_for_sale_without_sizes_are_named_and_not_planned_with() -> None:
    """A shop's home whose width nobody wrote down is no home to plan with; usual sizes stand in."""
    shop = "\n    2026-01-01  room R  supply  item=home; name=mystery; inner_length_mm=300\n"
    report = made(room(shop, lives("W1", "Webber", "H1")), {"W1": grows(14, 120)})
    assert any("Inner sizes of mystery" in words for words in report.notices)
    assert all(move.to != "mystery" for move in report.moves)
    assert report.moves


def test_when_nothing_fits_the_rule_is_named() -> None:
    """An animal for which no home of the record or shop is large enough stays, and the page says why."""
    small = SHOP.splitlines()[1]
    report = made(room(small, lives("W1", "Webber", "H1")), {"W1": grows(150, 180)})
    assert course(report, "W1").moves == ()
    assert any("W1" in words and "floor" in words for words in report.notices)


def test_openings_not_on_record_become_a_check() -> None:
    """A home whose openings nobody wrote down may be used, with the widest opening allowed beside it."""
    shop = SHOP.replace("gap_mm=0; price=30", "price=30")
    report = made(room(shop, lives("W1", "Webber", "H1")), {"W1": grows(50, 120)})
    (move,) = report.moves
    assert move.gap_most_mm is not None
    assert any("none may be over" in words for words in move.checks)


def test_no_home_with_a_gap_to_leave_by() -> None:
    """A tank with openings wider than its carapace is never planned for a small animal."""
    shop = SHOP.replace("gap_mm=0; price=30", "gap_mm=12; price=30")
    report = made(room(shop, lives("W1", "Webber", "H1")), {"W1": grows(14, 40)})
    assert all(move.to != "tank" for move in report.moves)


def test_gaps_of_the_home_it_has_are_covered_not_moved_away_from() -> None:
    """An animal whose vial fits but has wide holes is not moved for them."""
    wide = lives("W1", "Webber", "H1").replace("number=0", "number=6; width_mm=3; at=lid")
    report = made(room(SHOP, wide), {"W1": grows(12, 13)})
    assert report.moves == ()
    closed = made(room(SHOP, lives("W1", "Webber", "H1")), {"W1": grows(12, 13)})
    assert report.misfit_weeks == closed.misfit_weeks


def test_the_run_sheet_has_all_cautions() -> None:
    """Tub, catch cup, the old vessel inside the new home, and every caution are on the sheet of a move."""
    record = room(SHOP, lives("W1", "Webber", "H1"))
    report = made(record, {"W1": grows(14, 120)})
    sheet = run_sheet(record, report, "W1")
    words = " ".join((*sheet.ready, *sheet.steps, *sheet.not_tonight))
    for part in ("tub", "catch cup", "inside the new home", "premoult", "sac"):
        assert part in words, part
    assert set(CAUTIONS) <= set(sheet.cautions)
    with pytest.raises(NoSuchThing):
        run_sheet(record, report, "W1", 7)


def test_errands_end_once_the_animal_has_moved() -> None:
    """What a plan asked for an animal is asked no more when the record shows it in another home since."""
    record = room(SHOP, lives("W1", "Webber", "H1"))
    report = made(record, {"W1": grows(60, 120)})
    asked = [each for each in report.errands if each.about == "W1"]
    assert asked
    later = room(SHOP, lives("W1", "Webber", "H1"), "\n    2026-03-05  animal W1  moved  home=H5\n",
                 on=date(2026, 3, 6))  # fmt: skip
    assert still_asked(later, asked) == ()
    assert still_asked(record, asked) == tuple(asked)


def test_what_is_to_buy_is_asked_for_a_week_past_its_day() -> None:
    """The record does not tell whether homes were bought, so that this errand ends by itself."""
    record = room(SHOP, lives("W1", "Webber", "H1"))
    report = made(record, {"W1": grows(60, 120)})
    buy = next(each for each in report.errands if each.title.startswith("Buy"))
    for days, asked in ((7, (buy,)), (8, ())):
        later = room(SHOP, lives("W1", "Webber", "H1"), on=buy.by + timedelta(days=days))
        assert still_asked(later, [buy]) == asked


def same(move: Move) -> tuple[str, date, str]:
    """What tells a move from another."""
    return move.animal, move.day, move.to


def test_the_same_plan_comes_again() -> None:
    """The same record and spans give the same moves."""
    record = room(SHOP, lives("W1", "Webber", "H1"), lives("G1", "Ground", "H2"))
    spans = {"W1": grows(14, 120), "G1": grows(20, 90)}
    assert [same(m) for m in made(record, spans).moves] == [same(m) for m in made(record, spans).moves]
