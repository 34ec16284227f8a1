"""Leave alone: wrong advice here kills, so each hazard has its case."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from nightround.foundation.when import on_day
from nightround.record.model import Place
from plans.evening import (
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
    reading_of,
    row_of,
    rule,
    sized,
)

SLING, SMALL, MEDIUM, LARGE = (sized(span=span) for span in (12, 35, 70, 140))


@pytest.mark.parametrize(("size", "days"), [(SLING, 7), (SMALL, 10), (MEDIUM, 14), (LARGE, 21), (None, 21)])
def test_no_prey_while_it_hardens(size: Any, days: int) -> None:
    """Moulted so many days ago, fangs never seen: slings 3–7, small 7–10, medium 10–14, large 14–21 (D)."""
    sizes = (size,) if size else ()
    one = animal(offers=(offer(60),))
    last = row_of(replace(one, moults=(moult(days),)), sizes=sizes)
    assert "leave_alone" == feeding(last)
    assert ON == job(last, "leave_alone").until
    after = row_of(replace(one, moults=(moult(days + 1),)), sizes=sizes)
    assert "offer" == feeding(after)
    assert "only if you see black fangs" in job(after, "offer").cautions[0]


def test_black_fangs_end_it() -> None:
    """A large one moulted 12 days ago; black fangs seen yesterday."""
    one = animal(moults=(moult(12),), looks=(look(1, fangs="black"),), offers=(offer(60),))
    row = row_of(one, sizes=(LARGE,))
    assert "offer" == feeding(row)
    assert () == job(row, "offer").cautions


def test_black_fangs_before_the_moult_say_nothing() -> None:
    """Black fangs 20 days ago, moulted 5 days ago."""
    one = animal(moults=(moult(5),), looks=(look(20, fangs="black"),))
    assert "leave_alone" == feeding(row_of(one, sizes=(SLING,)))


def test_black_fangs_on_the_day_of_the_moult_are_the_old_ones() -> None:
    """Moulted today, and a look of today says black."""
    one = animal(moults=(moult(0, number=5),), looks=(look(0, number=9, fangs="black"),))
    assert "leave_alone" == feeding(row_of(one, sizes=(SLING,)))


def test_black_fangs_count_when_the_moult_was_found_late() -> None:
    """It moulted between 20 and 0 days ago; found today, with black fangs."""
    one = animal(
        moults=(moult(20, 0, number=5),), looks=(look(0, number=9, fangs="black"),), offers=(offer(60),)
    )
    assert "offer" == feeding(row_of(one, sizes=(LARGE,)))


def test_soft_fangs_start_the_days_anew() -> None:
    """A sling moulted 9 days ago by the record; its fangs were still white 3 days ago."""
    one = animal(moults=(moult(9),), looks=(look(3, fangs="white"),))
    row = row_of(one, sizes=(SLING,))
    assert "leave_alone" == feeding(row)
    assert ago(3) + timedelta(days=7) == job(row, "leave_alone").until


def test_white_fangs_without_a_moult_on_record_are_a_moult() -> None:
    """No moult was ever recorded, but the fangs were white yesterday."""
    assert "leave_alone" == feeding(row_of(animal(looks=(look(1, fangs="white"),)), sizes=(MEDIUM,)))


def test_a_moult_found_late_counts_from_its_last_day() -> None:
    """It moulted between 30 and 5 days ago."""
    row = row_of(animal(moults=(moult(30, 5),)), sizes=(SMALL,))
    assert "leave_alone" == feeding(row)
    assert ago(5) + timedelta(days=10) == job(row, "leave_alone").until


@pytest.mark.parametrize(
    ("signs", "left"),
    [
        ({"dark_patch": True}, True),
        ({"moult_mat": True}, True),
        ({"burrow_sealed": True}, True),
        ({"abdomen": "fat"}, False),  # fat alone is a good appetite
        ({"dark_patch": False}, False),
        ({}, False),
    ],
)
def test_signs_of_premoult(signs: dict[str, Any], left: bool) -> None:
    """Seen 4 days ago; refusals none; odds low."""
    one = animal(looks=(look(4, **signs),), moults=(moult(200),), offers=(offer(30),))
    assert ("leave_alone" if left else "offer") == feeding(row_of(one, forecast(150), sizes=(MEDIUM,)))


def test_fat_and_refusing_is_premoult() -> None:
    """Fat abdomen, two refusals since."""
    one = animal(looks=(look(4, abdomen="fat"),), offers=(offer(24, "refused"), offer(16, "refused")))
    assert "leave_alone" == feeding(row_of(one, sizes=(MEDIUM,)))


def test_a_later_look_takes_a_sign_back() -> None:
    """Sealed 20 days ago, open again 2 days ago."""
    one = animal(looks=(look(20, burrow_sealed=True), look(2, burrow_sealed=False)), offers=(offer(30),))
    assert "offer" == feeding(row_of(one, sizes=(MEDIUM,)))


def test_a_moult_ends_the_signs_before_it() -> None:
    """Dark patch 40 days ago, moulted 30 days ago."""
    one = animal(looks=(look(40, dark_patch=True),), moults=(moult(30),), offers=(offer(50),))
    assert "offer" == feeding(row_of(one, sizes=(MEDIUM,)))


@pytest.mark.parametrize(
    ("elapsed", "median", "left"),
    [
        (20, 3, True),  # a spiderling's interval of 23 days: 4.6 days ahead count
        (
            8,
            12,
            False,
        ),  # the same spiderling at 8 of 20 days is fed, though 14 days would hold an even chance
        (200, 10, True),
        (200, 40, False),
    ],
)
def test_odds_alone(elapsed: int, median: float, left: bool) -> None:
    """So many days since the last moult, so many to the even chance of the next."""
    one = animal(moults=(moult(elapsed),), offers=(offer(30),), looks=(look(1, fangs="black"),))
    row = row_of(one, forecast(median), sizes=(SLING,))
    assert ("leave_alone" if left else "offer") == feeding(row)
    if left:
        assert ON + timedelta(days=median) == job(row, "leave_alone").until
        assert "9 animals" in job(row, "leave_alone").sureness


def test_the_threshold_is_the_keepers() -> None:
    """A 62 % chance leaves alone by default; for this animal only from 90 %."""
    one = animal(moults=(moult(200),), offers=(offer(30),))
    soon = forecast(12.8)
    assert "leave_alone" == feeding(row_of(one, soon, sizes=(MEDIUM,)))
    braver = (rule("premoult_odds", "90 %", "animal", "K12"),)
    assert "offer" == feeding(row_of(one, soon, sizes=(MEDIUM,), rules=braver))


def test_on_its_back_nothing_at_all() -> None:
    """Seen on its back tonight; thirsty, unwatered, hungry, its home too small: still nothing."""
    one = animal(looks=(look(0, on_its_back=True, abdomen="shrunken"),), offers=(offer(30, None),), home="H1")
    row = row_of(one, sizes=(LARGE,))
    assert ["leave_alone"] == actions(row)
    assert "Do nothing at all" in row.jobs[0].title
    assert "Do not touch" in row.jobs[0].cautions[0]
    assert row.usual is not None and "leave_alone" == row.usual.action


def test_on_its_back_for_days_is_looked_at_without_touching() -> None:
    """On its back three days ago, nothing on record since."""
    row = row_of(animal(looks=(look(3, on_its_back=True),)), sizes=(LARGE,))
    assert {"leave_alone", "look"} == set(actions(row))
    assert "without touching" in job(row, "look").title
    assert any("veterinarian" in caution for caution in job(row, "look").cautions)


def test_after_its_back_without_a_moult_on_record_it_hardens() -> None:
    """On its back 4 days ago, upright yesterday, no moult written down."""
    one = animal(looks=(look(4, on_its_back=True), look(1, posture="upright")), offers=(offer(40),))
    row = row_of(one, sizes=(MEDIUM,))
    assert "leave_alone" == feeding(row)
    assert ago(4) + timedelta(days=14) == job(row, "leave_alone").until
    assert "no moult is on record" in job(row, "look").reason


def test_a_recorded_moult_ends_lying_on_its_back() -> None:
    """On its back yesterday, moulted yesterday: hardening, and water goes on."""
    one = animal(looks=(look(1, number=5, on_its_back=True),), moults=(moult(1, number=8),))
    row = row_of(one, sizes=(MEDIUM,))
    assert "no prey until black fangs" in job(row, "leave_alone").reason
    assert "away from the animal" in job(row, "feel").title


def test_with_a_sac() -> None:
    """She has a sac: no prey, no disturbance."""
    row = row_of(animal(with_sac=True, offers=(offer(40),)), sizes=(LARGE,))
    assert "leave_alone" == feeding(row)
    assert not {"rehouse", "measure", "weigh"} & set(actions(row))


REFUSED = tuple(offer(days, "refused") for days in (22, 15, 8))


def test_refusals_before_a_moult_leave_alone_and_others_ask_for_a_look() -> None:
    """Three refusals in a row: 70 % that premoult has begun, and 12 %, which does not explain them."""
    one = animal(offers=REFUSED, moults=(moult(150),))
    near = row_of(one, forecast(60, premoult=0.7), sizes=(MEDIUM,))
    assert "leave_alone" == feeding(near)
    assert "70 % that premoult has begun" in job(near, "leave_alone").reason
    assert "look" not in actions(near)
    far = row_of(replace(one, moults=(moult(30),)), forecast(150, premoult=0.12), sizes=(MEDIUM,))
    assert "offer" == feeding(far)
    found = job(far, "look")
    assert "Took none of the last 3 offers, since 22 days ago (2 Nov)" in found.reason
    assert "12 % that premoult has begun; 17 % of the usual interval is past" in found.reason


def test_a_look_at_refusals_says_water_first_and_is_no_diagnosis() -> None:
    """Water, warmth, hiding, in this order, as on record; hands off, and a veterinarian is named."""
    taxon = "Poecilotheria inventa"
    shelf = Place("shelf A", readings=(reading_of(19.0, 3), reading_of(21.0, 1)))
    one = animal(offers=REFUSED, moults=(moult(30),), drink_given=(ago(9),), place="shelf A", taxon=taxon)
    row = row_of(one, forecast(150, premoult=0.12), sizes=(MEDIUM,), places={"shelf A": shelf})
    found = job(row, "look")
    water, warmth, hiding = found.why
    assert water.startswith("Water first")
    assert warmth.startswith("Then warmth")
    assert hiding.startswith("Then whether it hides")
    assert "9 days ago" in found.why[0]
    assert "shelf A read 20.0 °C on average over the last 7 days" in found.why[1]
    told = " ".join((found.title, found.reason, *found.why, *found.cautions)).lower()
    assert "not a diagnosis" in told and "veterinarian" in told
    assert "do not open a sealed retreat" in told and "keep hands out of its home" in told
    assert not {"sick", "disease", "parasite", "dying", "infection"} & set(told.replace(",", " ").split())


def test_no_readings_and_no_drink_on_record_are_said_not_filled_in() -> None:
    """Nothing on record of water or warmth: the words say so, and no number stands there."""
    row = row_of(animal(offers=REFUSED, moults=(moult(30),)), forecast(150, premoult=0.12), sizes=(MEDIUM,))
    water, warmth, _ = job(row, "look").why
    assert "no chance to drink on record" in water
    assert "no reading where it stands in the last 7 days" in warmth
    assert "°C" not in warmth


def test_premoult_by_odds_or_sign_comes_before_a_look_at_refusals() -> None:
    """Left alone for its sign or its odds: the streak asks for no look on top."""
    one = animal(offers=REFUSED, moults=(moult(150),))
    by_odds = row_of(one, forecast(8, premoult=0.3), sizes=(MEDIUM,))
    signed = replace(one, looks=(look(4, dark_patch=True),))
    by_sign = row_of(signed, forecast(150, premoult=0.3), sizes=(MEDIUM,))
    assert ["leave_alone"] * 2 == [feeding(by_odds), feeding(by_sign)]
    assert "look" not in (*actions(by_odds), *actions(by_sign))


@pytest.mark.parametrize(("own", "asked"), [(0.1, False), (0.45, False), (0.55, True), (0.95, True)])
def test_refusals_while_it_hardens_or_by_chance_ask_for_nothing(own: float, asked: bool) -> None:
    """Black fangs, three refusals since the moult: a look only where a fast of its own is likelier."""
    one = animal(offers=REFUSED, moults=(moult(24),), looks=(look(23, fangs="black"),))
    row = row_of(one, forecast(150, premoult=0.0, own=own), sizes=(MEDIUM,))
    assert asked == ("look" in actions(row))
    assert "offer" == feeding(row)


def test_refusals_of_which_nothing_is_known_ask_for_a_look() -> None:
    """No forecast: unknown is not premoult."""
    row = row_of(animal(offers=REFUSED, moults=(moult(30),)), forecast(400, "K99"), sizes=(MEDIUM,))
    assert "nothing says how near a moult is" in job(row, "look").reason
    assert "offer" == feeding(row)


@pytest.mark.parametrize(("days", "asked"), [(25, True), (12, True), (5, False), (0, False)])
def test_a_look_in_the_run_settles_it_for_a_week(days: int, asked: bool) -> None:
    """Refused 22, 15 and 8 days ago; looked at so many days ago, with nothing to see."""
    one = animal(offers=REFUSED, moults=(moult(40),), looks=(look(days, abdomen="normal"),))
    row = row_of(one, forecast(150, premoult=0.1), sizes=(MEDIUM,))
    assert asked == ("look" in actions(row))


def test_where_a_streak_counts_as_premoult_is_the_keepers() -> None:
    """A 45 % chance of premoult asks for a look; with the keeper's 40 % it is left alone."""
    one = animal(offers=REFUSED, moults=(moult(150),))
    ahead = forecast(60, premoult=0.45)
    assert "look" in actions(row_of(one, ahead, sizes=(MEDIUM,)))
    surer = (rule("streak_premoult_odds", "40 %", "animal", "K12"),)
    row = row_of(one, ahead, sizes=(MEDIUM,), rules=surer)
    assert "leave_alone" == feeding(row)
    assert "look" not in actions(row)


def test_after_such_a_streak_it_is_offered_prey_again_in_time() -> None:
    """The last of three refusals was 14 days ago: one more offer, pre-killed, and no look."""
    refused = tuple(offer(days, "refused") for days in (28, 21, 14))
    one = animal(offers=refused, moults=(moult(150),))
    row = row_of(one, forecast(60, premoult=0.6), sizes=(sized(body=30),))
    assert "offer" == feeding(row)
    assert "look" not in actions(row)
    advice = job(row, "offer").offer
    assert advice is not None and advice.prekilled


def test_a_taken_meal_ends_a_streak() -> None:
    """Refused three times, then took one."""
    offers = (*(offer(days, "refused") for days in (40, 30, 20)), offer(10, "taken"))
    row = row_of(animal(offers=offers), sizes=(MEDIUM,))
    assert "look" not in actions(row)


def test_a_mature_male_is_not_fussed_over() -> None:
    """Mature males eat little and moult no more: refusals call for no look."""
    one = animal(
        sex="male", matured=on_day(ago(100)), offers=tuple(offer(days, "refused") for days in (40, 30, 20))
    )
    row = row_of(one, sizes=(LARGE,))
    assert "look" not in actions(row)
    assert "offer" == feeding(row)
    assert any("will not moult again" in why for why in job(row, "offer").why)


def test_leaving_alone_is_one_tap_that_says_passed_over() -> None:
    """Hardening: the usual tap is to pass it over; once that is written there is nothing more to tap."""
    one = animal(moults=(moult(3),), watered=(ago(1),), drink_given=(ago(1),))
    row = row_of(one, sizes=(MEDIUM,))
    assert row.usual is not None and "leave_alone" == row.usual.action
    assert row_of(replace(one, passed_over=(ON,)), sizes=(MEDIUM,)).usual is None
