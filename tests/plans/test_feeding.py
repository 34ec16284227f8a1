"""Feeding: when to offer, what, and above all when not to."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from nightround.foundation.when import on_day
from plans.evening import (
    KIND,
    ON,
    actions,
    ago,
    animal,
    feeding,
    forecast,
    job,
    look,
    moult,
    offer,
    reading,
    record,
    round_of,
    row_of,
    rule,
    sized,
)

HALF_GROWN = sized(span=60, body=25, carapace=11)


def test_a_fed_juvenile_waits_until_its_days_have_passed() -> None:
    """A juvenile (span 60 mm) took a cricket 6 days ago; juveniles are offered prey every 7 days."""
    waiting = row_of(animal(offers=(offer(6),)), sizes=(HALF_GROWN,))
    assert "wait" == feeding(waiting)
    assert ON + timedelta(days=1) == job(waiting, "wait").until
    assert "offer" == feeding(row_of(animal(offers=(offer(7),)), sizes=(HALF_GROWN,)))


@pytest.mark.parametrize(
    ("span", "matured", "waits", "offers"),
    [
        (12, False, 6, 7),  # spiderling
        (60, False, 6, 7),  # juvenile
        (130, False, 13, 14),  # large enough to be fed as an adult
        (60, True, 13, 14),  # seen mature
        (None, False, 13, 14),  # unknown size: the longest of the figures
    ],
)
def test_days_between_offers_follow_the_stage(
    span: float | None, matured: bool, waits: int, offers: int
) -> None:
    """TRADE figures: slings and juveniles weekly, adults 7–14 days; the later offer is the default."""
    sizes = (sized(span=span),) if span else ()
    one = animal(matured=on_day(ago(300)) if matured else None)
    assert "wait" == feeding(row_of(replace(one, offers=(offer(waits),)), sizes=sizes))
    assert "offer" == feeding(row_of(replace(one, offers=(offer(offers),)), sizes=sizes))


def test_unknown_size_never_gets_big_or_live_prey() -> None:
    """Nothing is known of its size, though it took adult crickets of 25 mm before."""
    one = animal(offers=(offer(30, prey_mm=25.0), offer(15, prey_mm=25.0)))
    advice = job(row_of(one), "offer").offer
    assert advice is not None
    assert advice.prekilled
    assert advice.prey_mm is None
    assert 1 == advice.number
    assert "smaller than its abdomen" in advice.size_words


def test_an_estimate_without_any_reading_of_the_animal_is_no_size() -> None:
    """The size model offers 60 mm from what its kind is like, but nobody has ever measured this one."""
    guessed = replace(HALF_GROWN, readings=())
    advice = job(row_of(animal(), sizes=(guessed,)), "offer").offer
    assert advice is not None
    assert advice.prekilled and advice.prey_mm is None


@pytest.mark.parametrize(
    ("lengths", "most_mm"),
    [
        ({"body": 30.0}, 13.5),  # half the body at its low end 27
        ({"body": 30.0, "carapace": 20.0}, 9.0),  # abdomen: a third of the body's low end
        ({"body": 30.0, "carapace": 10.0}, 13.5),  # the abdomen is longer than half the body
        ({"carapace": 12.0}, 10.8),  # as long as the carapace
        ({"span": 60.0}, 8.1),  # 15 % of the span at its low end 54
    ],
)
def test_prey_is_as_long_as_the_shortest_limit_allows(lengths: dict[str, float], most_mm: float) -> None:
    """At most half the body (D), the abdomen's length (B), and low ends of the doubt throughout."""
    advice = job(row_of(animal(), sizes=(sized(**lengths),)), "offer").offer
    assert advice is not None
    assert pytest.approx(most_mm) == advice.prey_mm
    assert not advice.prekilled


@pytest.mark.parametrize(
    ("body", "prey", "mm", "prekilled"),
    [
        (3.0, "small pre-killed piece", 1.35, True),
        (4.6, "springtail", 2.0, False),
        (6.0, "flightless fruit fly (melanogaster)", 2.6, False),
        (6.7, "pinhead cricket", 3.0, False),
        (8.8, "pinhead cricket", 3.0, False),
        (9.0, "cricket", 4.05, False),
    ],
)
def test_prey_kind_follows_the_size(body: float, prey: str, mm: float, prekilled: bool) -> None:
    """Springtails 1–2 mm (MEM), D. melanogaster 2.55–2.61 mm (A: measured), pinheads 2–3 mm (C)."""
    advice = job(row_of(animal(), sizes=(sized(body=body),)), "offer").offer
    assert advice is not None
    assert (prey, prekilled) == (advice.prey, advice.prekilled)
    assert pytest.approx(mm) == advice.prey_mm


def test_no_live_prey_is_ever_longer_than_half_the_body() -> None:
    """Bodies from 1 to 80 mm, known to ±10 %."""
    for body in range(1, 81):
        advice = job(row_of(animal(), sizes=(sized(body=float(body)),)), "offer").offer
        assert advice is not None and advice.prey_mm is not None
        assert advice.prey_mm <= body / 2
        assert advice.prekilled or body * 0.9 >= 4


def test_the_last_reading_serves_when_no_fit_is_there() -> None:
    """A list gave a leg span of 60 mm; after two more moults the low end is still the reading's."""
    one = animal(measurements=(reading("leg_span", 60.0, 200),), moults=(moult(150), moult(60)))
    advice = job(row_of(one), "offer").offer
    assert advice is not None and advice.prey_mm is not None
    assert pytest.approx(8.1) == advice.prey_mm


def test_it_is_named_after_what_it_took_last() -> None:
    """It refused a locust after it had taken a dubia roach."""
    one = animal(offers=(offer(20, prey="Dubia roach, small"), offer(15, "refused", prey="locust")))
    assert "Offer 1 roach, up to" in job(row_of(one, sizes=(HALF_GROWN,)), "offer").title


def test_an_offer_is_made_by_one_tap_and_writes_no_outcome() -> None:
    """Due for prey: one tap means offered, with the outcome open."""
    row = row_of(animal(offers=(offer(20),)), sizes=(HALF_GROWN,))
    assert row.usual is not None and "offer" == row.usual.action
    assert () == row.usual.open_offers


def test_no_further_offer_on_the_same_evening() -> None:
    """Offered tonight, nobody has looked yet."""
    row = row_of(animal(offers=(offer(0, None),)), sizes=(HALF_GROWN,))
    assert "wait" == feeding(row)
    assert "outcome" not in actions(row)
    assert "Offered tonight" in job(row, "wait").reason


def test_passing_over_is_no_refusal_and_no_offer() -> None:
    """Passed over on three evenings, last fed 20 days ago: still due, without any talk of refusals."""
    one = animal(offers=(offer(20),), passed_over=(ago(9), ago(6), ago(3)))
    row = row_of(one, sizes=(HALF_GROWN,))
    assert "offer" == feeding(row)
    assert "look" not in actions(row)
    tonight_too = row_of(replace(one, passed_over=(ON,)), sizes=(HALF_GROWN,))
    assert "wait" == feeding(tonight_too)


def test_yesterdays_open_offer_is_asked_first() -> None:
    """Offered yesterday and 9 days ago, both open: one question that names both entries."""
    row = row_of(animal(offers=(offer(9, None, 41), offer(1, None, 77))), sizes=(HALF_GROWN,))
    assert "outcome" == row.jobs[0].action
    assert (41, 77) == row.jobs[0].open_offers
    assert row.usual is None or row.usual.action not in ("outcome", "offer")


def test_an_offer_over_an_open_one_comes_with_a_caution() -> None:
    """Offered 8 days ago, nobody has looked; a juvenile is due again."""
    row = row_of(animal(offers=(offer(8, None),)), sizes=(HALF_GROWN,))
    assert ["outcome", "offer"] == actions(row)[:2]
    assert "First see what is left" in job(row, "offer").cautions[0]


@pytest.mark.parametrize(("days", "expected"), [(0, False), (1, True), (5, True)])
def test_leftovers_come_out_after_a_day(days: int, expected: bool) -> None:
    """Seen uneaten: out within 24 hours (C)."""
    row = row_of(animal(offers=(offer(days, "uneaten"),)), sizes=(HALF_GROWN,))
    assert expected == ("leftovers" in actions(row))


def test_leftovers_once_out_are_out() -> None:
    """Uneaten three days ago, taken out the day after."""
    row = row_of(animal(offers=(offer(3, "uneaten"),), leftovers_removed=(ago(2),)), sizes=(HALF_GROWN,))
    assert "leftovers" not in actions(row)


def test_leftovers_come_out_at_once_when_a_moult_is_near() -> None:
    """Offered tonight, and a dark patch was seen tonight: crickets bite moulting spiders (B)."""
    one = animal(offers=(offer(0, None, 99),), looks=(look(0, dark_patch=True),))
    row = row_of(one, sizes=(HALF_GROWN,))
    first = job(row, "leftovers")
    assert (99,) == first.open_offers
    assert first is row.jobs[0]
    assert "leave_alone" == feeding(row)


def test_a_new_arrival_settles_before_its_first_offer() -> None:
    """Arrived yesterday: first offer three days after arrival."""
    row = row_of(animal(arrived=on_day(ago(1))), sizes=(HALF_GROWN,))
    assert "wait" == feeding(row)
    assert ago(1) + timedelta(days=3) == job(row, "wait").until


def test_prey_is_pre_killed_when_a_moult_may_come() -> None:
    """An adult, 300 days into an interval of about 360: near enough for care only."""
    one = animal(moults=(moult(300),), offers=(offer(20),))
    row = row_of(one, forecast(60), sizes=(sized(span=130, body=50),))
    advice = job(row, "offer").offer
    assert advice is not None and advice.prekilled
    assert "pre-killed" in job(row, "offer").title


def test_an_animal_that_its_keeper_feeds_by_hand_alone_is_not_offered_prey() -> None:
    """Rule for K12: never."""
    row = row_of(animal(), sizes=(HALF_GROWN,), rules=(rule("feed_juvenile_days", "never", "animal", "K12"),))
    assert "wait" == feeding(row)


def test_rules_of_an_animal_win_over_those_of_its_kind() -> None:
    """Weekly by default, 10 days for the kind, 3 for K12: K12 is due after 3, K13 after 10."""
    rules = (
        rule("feed_juvenile_days", "10", "taxon", KIND),
        rule("feed_juvenile_days", "3", "animal", "K12", 2),
    )
    both = record(animal(offers=(offer(4),)), animal("K13", offers=(offer(8),)), rules=rules)
    report = round_of(both, sizes=(HALF_GROWN, sized("K13", span=60, body=25)))
    rows = {row.animal: row for row in report.shelves[0].rows}
    assert ("offer", "wait") == (feeding(rows["K12"]), feeding(rows["K13"]))
    assert "your rule for animal K12" == job(rows["K12"], "offer").rules[0].source
    assert job(rows["K12"], "offer").rules[0].overruled


def test_the_reason_names_days_odds_and_how_many_stand_behind_them() -> None:
    """Last offer 8 days ago; 9 animals of the kind."""
    reason = job(row_of(animal(offers=(offer(8),)), forecast(200), sizes=(HALF_GROWN,)), "offer").reason
    assert "8 days ago (16 Nov)" in reason and "every 7 days" in reason
    assert "9 animals like it" in reason


def test_odds_from_published_figures_alone_say_so() -> None:
    """No interval of its kind is on record."""
    row = row_of(animal(offers=(offer(20),)), forecast(200, n=0), sizes=(HALF_GROWN,))
    assert "n = 0" in job(row, "offer").sureness


def test_without_odds_prey_is_pre_killed() -> None:
    """No forecast for K12: unknown is no small risk. A mature male moults no more and needs no odds."""
    one = animal(offers=(offer(20),))
    elsewhere = forecast(400, "K99")
    advice = job(row_of(one, elsewhere, sizes=(HALF_GROWN,)), "offer").offer
    assert advice is not None and advice.prekilled
    male = replace(one, sex="male", matured=on_day(ago(90)))
    advice = job(row_of(male, elsewhere, sizes=(HALF_GROWN,)), "offer").offer
    assert advice is not None and not advice.prekilled
