"""The round: looks, water, homes, quarantine, the walk, notices, and what is never asked."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from nightround.foundation.problem import Problem
from nightround.foundation.when import UNKNOWN, on_day
from nightround.journal.entries import Entry, Ref
from nightround.journal.kinds.animal import Arrived, Hatched, Quarantine
from nightround.journal.kinds.knowledge import Named
from nightround.plans.tonight import MOST_PROBLEMS, NO_SHELF
from nightround.record.model import Batch, Place, Taxon
from plans.evening import (
    KIND,
    ON,
    actions,
    ago,
    animal,
    feeding,
    forecast,
    home,
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

MEDIUM, LARGE = sized(span=70), sized(span=140)


def test_not_seen_for_long_is_a_look_from_outside() -> None:
    """No sign of life for 40 days, looked for twice: look from outside, never dig."""
    one = animal(last_life=ago(40), last_look=ago(40), not_found=(ago(20), ago(10)))
    found = job(row_of(one, habit="burrower"), "look")
    assert "No sign of life for 40 days, looked for and not seen 2 times" == found.reason
    assert "from outside" in found.title
    assert any("do not dig" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("days", "sealed", "span", "expected"),
    [
        (30, False, 70, False),
        (31, False, 70, True),
        (15, False, 12, True),
        (60, True, 70, False),
        (91, True, 70, True),
    ],
)
def test_how_long_is_long(days: int, sealed: bool, span: float, expected: bool) -> None:
    """30 days; 14 for a spiderling; 90 behind a sealed retreat (CP)."""
    looks = (look(days, burrow_sealed=True),) if sealed else ()
    one = animal(last_life=ago(days), last_look=ago(days), looks=looks)
    assert expected == ("look" in actions(row_of(one, sizes=(sized(span=span),))))


def test_no_word_of_the_round_advises_digging_or_opening_a_retreat() -> None:
    """Every reason to look at once: the only mention of digging forbids it."""
    one = animal(
        last_life=ago(200),
        last_look=ago(200),
        offers=tuple(offer(days, "refused") for days in (150, 140, 130)),
        looks=(look(200, burrow_sealed=True, abdomen="shrunken"),),
    )
    row = row_of(one, forecast(100, unseen=0.5, level=0.99), habit="trapdoor")
    told = " ".join(
        text for each in row.jobs for text in (each.title, each.reason, *each.why, *each.cautions)
    ).lower()
    assert told.count("dig") == told.count("do not dig") > 0
    assert told.count("open a sealed retreat") == told.count("do not open a sealed retreat") > 0


@pytest.mark.parametrize(("unseen", "looks"), [(0.1, False), (0.3, True), (0.8, True)])
def test_an_unseen_moult_is_looked_for_before_anything_is_offered(unseen: float, looks: bool) -> None:
    """Due for prey, last seen 60 days ago; it may have moulted since and be soft."""
    one = animal(offers=(offer(20),), last_look=ago(20), last_life=ago(20))
    row = row_of(one, forecast(150, unseen=unseen), sizes=(MEDIUM,))
    assert ("wait" if looks else "offer") == feeding(row)
    assert looks == ("look" in actions(row))
    if looks:
        assert "look" == row.jobs[0].action
        assert row.usual is None or "offer" != row.usual.action


def test_overdue_beyond_the_95_percent_point() -> None:
    """400 days since the last moult: 97 % of such intervals are shorter; a look last week settles it."""
    one = animal(moults=(moult(400),), offers=(offer(3),))
    row = row_of(one, forecast(100, level=0.97), sizes=(MEDIUM,))
    assert "400 days since the last moult" in job(row, "look").reason
    assert "look" not in actions(row_of(one, forecast(100, level=0.94), sizes=(MEDIUM,)))
    seen = replace(one, looks=(look(6, abdomen="normal"),))
    assert "look" not in actions(row_of(seen, forecast(100, level=0.97), sizes=(MEDIUM,)))


def test_a_shrunken_abdomen_is_offered_water_and_a_veterinarian_is_named() -> None:
    """Seen shrunken yesterday; it drank three days ago."""
    row = row_of(animal(looks=(look(1, abdomen="shrunken"),), drank=(ago(3),)), sizes=(MEDIUM,))
    assert row.jobs[0].action in ("drink", "look")
    assert "Shrunken abdomen" in job(row, "drink").reason
    assert any("veterinarian" in caution for caution in job(row, "look").cautions)


@pytest.mark.parametrize(
    ("habit", "days"),
    [("ground", 10), ("burrower", 14), ("trapdoor", 14), ("tube", 14), ("tree", 7), ("web_builder", 7),
     ("wanderer", 7), (None, 10)],
)  # fmt: skip
def test_a_home_nobody_measured_is_felt_by_a_plain_interval_that_says_so(habit: Any, days: int) -> None:
    """CP: no water model stands behind the days, and nothing is poured before it is felt."""
    due = row_of(animal(watered=(ago(days),)), habit=habit)
    assert "by a plain interval" in job(due, "feel").reason
    assert "nobody has measured this home" in job(due, "feel").sureness
    assert "water" not in actions(due)
    assert "feel" not in actions(row_of(animal(watered=(ago(days - 1),)), habit=habit))


def test_the_amount_is_the_keepers_or_the_last_on_record_or_unknown() -> None:
    """30 ml by rule; else 25 ml as poured last in this home; else no number."""
    homes = {"H1": home(watered=((ago(40), 25.0), (ago(20), None)))}
    one = animal(home="H1")
    assert 25.0 == job(row_of(one, homes=homes), "feel").water_ml
    ruled = row_of(one, homes=homes, rules=(rule("water_ml", "30", "animal", "K12"),))
    assert 30.0 == job(ruled, "feel").water_ml
    assert "30 ml (1.0 fl oz)" in job(ruled, "feel").title
    unknown = job(row_of(animal()), "feel")
    assert unknown.water_ml is None
    assert "Amount unknown" in unknown.why[1]


def test_a_home_that_feels_wet_below_is_not_watered_and_a_dry_one_is() -> None:
    """Watered 20 days ago and felt wet 5 days ago; or watered 5 days ago and felt dry 1 day ago."""
    wet = {"H1": home(watered=((ago(20), None),), felt=((ago(5), None, "wet"),))}
    assert not {"water", "feel"} & set(actions(row_of(animal(home="H1"), homes=wet)))
    dry = {"H1": home(watered=((ago(5), None),), felt=((ago(1), "dry", "dry"),))}
    assert "felt dry below" in job(row_of(animal(home="H1"), homes=dry), "water").reason


def test_a_shared_home_is_watered_once() -> None:
    """K12 and K13 live in H1; the dead K01 does not count."""
    both = (animal("K12", home="H1"), animal("K13", home="H1"), animal("K01", home="H1", status="dead"))
    shared = {"H1": replace(home(), occupants=("K01", "K12", "K13"))}
    rows = round_of(record(*both, homes=shared)).shelves[0].rows
    assert [True, False] == ["feel" in actions(row) for row in rows]


def test_drinking_is_not_the_substrates_water() -> None:
    """Watered yesterday, last chance to drink 8 days ago: drops or a dish are due all the same."""
    one = animal(watered=(ago(1),), drink_given=(ago(8),))
    assert "drink" in actions(row_of(one, sizes=(MEDIUM,)))
    assert "drink" not in actions(row_of(replace(one, drank=(ago(2),)), sizes=(MEDIUM,)))


@pytest.mark.parametrize(("side", "due"), [(139.0, True), (141.0, False), (None, False)])
def test_rehouse_under_two_leg_spans(side: float | None, due: bool) -> None:
    """Floor against a span of 70 mm: 2 leg spans both ways at least (B)."""
    row = row_of(animal(home="H1"), sizes=(MEDIUM,), homes={"H1": home(side)})
    assert due == ("rehouse" in actions(row))


@pytest.mark.parametrize(("side", "words"), [(139.0, "just under 2 spans"), (105.0, "1.5 spans, under 2")])
def test_a_shortage_that_rounds_away_is_told_in_words(side: float, words: str) -> None:
    """139 mm for a span of 70 mm must not read '2.0 spans, under 2'."""
    row = row_of(animal(home="H1"), sizes=(MEDIUM,), homes={"H1": home(side)})
    assert words in job(row, "rehouse").reason


@pytest.mark.parametrize(
    "facts",
    [
        {"moults": (moult(3),)},
        {"looks": (look(1, dark_patch=True),)},
        {"looks": (look(0, on_its_back=True),)},
        {"with_sac": True},
        {"arrived": on_day(ago(13))},
    ],
)
def test_never_rehouse_measure_or_weigh_when_it_could_harm(facts: dict[str, Any]) -> None:
    """Hardening, premoult, on its back, with a sac, just arrived: the home is far too small all the same."""
    one = animal(home="H1", offers=(offer(60),), **facts)
    rules = (rule("weigh_days", "30"),)
    row = row_of(one, forecast(200), sizes=(MEDIUM,), homes={"H1": home(50)}, rules=rules)
    assert not {"rehouse", "weigh"} & set(actions(row))
    if "arrived" not in facts:
        assert "measure" not in actions(row)
    calm = row_of(animal(home="H1"), forecast(200), sizes=(MEDIUM,), homes={"H1": home(50)}, rules=rules)
    assert {"rehouse", "weigh"} <= set(actions(calm))


def test_weighing_is_asked_for_only_where_the_keeper_wants_it() -> None:
    """By default never: it disturbs."""
    assert "weigh" not in actions(row_of(animal()))
    one = animal(measurements=(reading("mass", 12.0, 20, "g"),))
    assert "weigh" not in actions(row_of(one, rules=(rule("weigh_days", "30"),)))
    assert "weigh" in actions(row_of(one, rules=(rule("weigh_days", "20"),)))


def test_a_round_asks_for_a_few_sizes_only() -> None:
    """Twelve animals without a size: five are asked for; with the rule at 0 none."""
    many = [animal(f"K{number:02}") for number in range(12)]
    asked = [row.animal for row in round_of(record(*many)).shelves[0].rows if "measure" in actions(row)]
    assert ["K00", "K01", "K02", "K03", "K04"] == asked
    none = round_of(record(*many, rules=(rule("measure_per_round", "0"),)))
    assert not [row for row in none.shelves[0].rows if "measure" in actions(row)]


def test_a_kept_shed_skin_is_measured_without_disturbing_anybody() -> None:
    """Moulted 3 days ago, skin kept; yesterday its carapace was measured."""
    one = animal(moults=(moult(3, exuvia="kept"),))
    assert "shed skin" in job(row_of(one), "measure").title
    done = replace(one, measurements=(reading("carapace_length", 9.0, 1, on="shed_skin"),))
    assert "measure" not in actions(row_of(done))


def entry(number: int, code: str, body: Any, kind: str, days_ago: int) -> Entry:
    """A journal entry about an animal."""
    day = on_day(ago(days_ago))
    written = datetime(2026, 1, 1, tzinfo=UTC)
    return Entry(number, kind, Ref("animal", code), day, body, written, "", str(number), None, "")


def newcomer(code: str, days_ago: int, place: str = "shelf A", **facts: Any) -> Any:
    """An animal that arrived so many days ago."""
    return animal(code, arrived=on_day(ago(days_ago)), place=place, **facts)


def test_quarantine_is_walked_last_whatever_the_shelf() -> None:
    """Shelf A first: K2 arrived 10 days ago, K1 long ago; K3 stands in quarantine by an entry on shelf 0."""
    report = round_of(
        record(
            animal("K1", place="shelf A"), newcomer("K2", 10), animal("K3", place="shelf 0", quarantined=True)
        )
    )
    walked = [(shelf.place, [row.animal for row in shelf.rows]) for shelf in report.shelves]
    assert [
        ("shelf A", ["K1"]),
        ("shelf 0 (quarantine, last)", ["K3"]),
        ("shelf A (quarantine, last)", ["K2"]),
    ] == walked
    assert any("2 animals in quarantine" in notice for notice in report.notices)
    order = [row.quarantined for row, _ in report.ranked]
    assert sorted(order) == order and True in order


@pytest.mark.parametrize(("days", "in_it"), [(0, True), (29, True), (30, False)])
def test_quarantine_lasts_thirty_days(days: int, in_it: bool) -> None:
    """At least 30 days (A: AZA 2007)."""
    assert in_it == round_of(record(newcomer("K1", days))).shelves[0].rows[0].quarantined


def test_a_newcomer_starts_the_days_of_the_others_anew() -> None:
    """K1 arrived 40 days ago, K2 on the same shelf 20 days ago, K3 elsewhere 40 days ago."""
    report = round_of(record(newcomer("K1", 40), newcomer("K2", 20), newcomer("K3", 40, "shelf B")))
    state = {row.animal: row.quarantined for shelf in report.shelves for row in shelf.rows}
    assert {"K1": True, "K2": True, "K3": False} == state
    off = round_of(record(newcomer("K1", 40), newcomer("K2", 20), rules=(rule("quarantine_restarts", "no"),)))
    assert {"K1": False, "K2": True} == {row.animal: row.quarantined for s in off.shelves for row in s.rows}


def test_a_newcomer_after_the_end_restarts_nothing() -> None:
    """K1 arrived 60 days ago and was through when K2 came 20 days ago."""
    report = round_of(record(newcomer("K1", 60), newcomer("K2", 20)))
    assert {"K1": False, "K2": True} == {
        row.animal: row.quarantined for s in report.shelves for row in s.rows
    }


def test_hatched_here_is_exempt_and_an_ended_quarantine_is_over() -> None:
    """K1 was promoted out of a batch 5 days ago; K2 arrived 10 days ago and its quarantine was ended."""
    entries = {
        1: entry(1, "K1", Hatched(batch="B1"), "hatched", 5),
        2: entry(2, "K2", Arrived(), "arrived", 10),
        3: entry(3, "K2", Quarantine(state="ends"), "quarantine", 2),
        4: entry(4, "K3", Arrived(), "arrived", 10),
    }
    room = record(
        newcomer("K1", 5, promoted=on_day(ago(5)), entries=(1,)),
        newcomer("K2", 10, entries=(2, 3)), newcomer("K3", 10, entries=(4,)),
        entries=entries,
    )  # fmt: skip
    state = {row.animal: row.quarantined for shelf in round_of(room).shelves for row in shelf.rows}
    assert {"K1": False, "K2": False, "K3": True} == state


def test_unknown_arrival_is_not_taken_for_yesterday() -> None:
    """A pasted list of animals without arrival dates."""
    assert not row_of(animal(arrived=UNKNOWN)).quarantined


def test_the_walk_goes_by_position_then_name_and_by_home_then_code() -> None:
    """Shelves C (1), A (2), then B and D without a position, then animals without a shelf."""
    places = {"C": Place("C", position=1), "A": Place("A", position=2), "B": Place("B")}
    room = record(
        animal("K1", place="A", home="H2"), animal("K2", place="A", home="H1"), animal("K3", place="A"),
        animal("K4", place="D"), animal("K5", place="C"), animal("K6"), animal("K7", place="B"),
        places=places,
    )  # fmt: skip
    walked = [(shelf.place, [row.animal for row in shelf.rows]) for shelf in round_of(room).shelves]
    assert [
        ("C", ["K5"]),
        ("A", ["K2", "K1", "K3"]),
        ("B", ["K7"]),
        ("D", ["K4"]),
        (NO_SHELF, ["K6"]),
    ] == walked


def test_the_missing_are_a_notice_and_no_row() -> None:
    """K9 escaped 3 days ago; its kind climbs glass and its bite is marked."""
    described = Named(hazard="Bites can be medically significant: seek medical advice", climbs="smooth")
    one = animal("K9", status="escaped", ended=on_day(ago(3)))
    report = round_of(record(one, animal("K1"), taxa={KIND: Taxon(KIND, (KIND,), described)}))
    assert ["K1"] == [row.animal for shelf in report.shelves for row in shelf.rows]
    notice = report.notices[0]
    for words in ("Missing: K9", "3 days ago", "climbs clean glass", "seek medical advice"):
        assert words in notice


def test_notices_of_heat_homes_batches_and_the_forecast() -> None:
    """Heating failed yesterday, mites in K1's home, a batch of 43, and the forecast misses readings."""
    fed = {"offers": (offer(3),), "watered": (ago(8),)}
    room = record(
        animal("K1"),
        places={"A": Place("A", heat_failed=ago(1))},
        homes={"H1": home(troubles=((ago(30), "mould"), (ago(2), "mites")))},
        batches={
            "B1": Batch("B1", KIND, living=43, **fed),
            "B2": Batch("B2", KIND, living=0),
            "B3": Batch("B3", ""),
        },
    )
    notices = round_of(room, notices=("shelf A: 12 days without a reading",)).notices
    told = (
        "Heating failed at A yesterday and is not on record as restored",
        "shelf A: 12 days without a reading",
        "Home H1 (K12) had mites 2 days ago (22 Nov)",
        f"Batch B1 ({KIND}): 43 animals; last offer 3 days ago (21 Nov); prey is not due; "
        "last watered 8 days ago (16 Nov)",
        "Batch B3 (taxon unknown): number unknown; no offer on record; prey is due; no watering on record",
    )
    assert told == notices


def test_odds_that_are_no_chances_count_as_unknown() -> None:
    """A fit that broke down gave 'not a number': no odds are shown, and the keeper is told."""
    good = forecast(100)
    broken = replace(good, may_have_moulted_unseen=float("nan"))
    report = round_of(record(animal(offers=(offer(20),))), broken)
    row = report.shelves[0].rows[0]
    assert row.odds is None
    assert "offer" == feeding(row)
    assert "No usable odds for K12: they count as unknown" in report.notices
    assert good.next_moult is not None
    ahead = replace(good.next_moult, within_days=dict.fromkeys(good.next_moult.within_days, float("nan")))
    assert round_of(record(animal()), replace(good, next_moult=ahead)).shelves[0].rows[0].odds is None


def test_contradictions_come_before_doubts_and_the_rest_is_counted() -> None:
    """Six doubts and one contradiction: five are shown, two more are counted."""
    doubts = tuple(Problem("odd", f"animal K{n}", "odd", "look", (n,), "doubt") for n in range(1, 7))
    bad = Problem("two_homes", "animal K9", "cannot be", "strike one", (3,))
    report = round_of(record(animal(), problems=(*doubts, bad)))
    assert MOST_PROBLEMS == len(report.problems)
    assert bad == report.problems[0]
    assert "2 more problems in the record" in report.notices


@pytest.mark.parametrize(
    ("taxon", "words"),
    [
        ("Hadronyche inventa", "medically significant"),
        ("Phoneutria sp. 'north'", "medically significant"),
        ("Poecilotheria inventa", "cramps for days"),
        ("Aphonopelma inventum", ""),
    ],
)
def test_hazards_are_marked_and_nothing_is_called_harmless(taxon: str, words: str) -> None:
    """Groups of TRADE.md (A: Isbister 2005; Fuchs 2013; Hauke & Herzig); unmarked means unknown."""
    report = round_of(record(animal(taxon=taxon), taxa={}))
    assert words in report.shelves[0].rows[0].hazard
    assert any("No spider here is called harmless" in caution for caution in report.cautions)
    for subject in (
        "eye protection",
        "allerg",
        "thermostat",
        "nsecticide",
        "authority",
        "veterinarian",
        "poison",
    ):
        assert any(subject in caution for caution in report.cautions), subject


def test_counts_are_of_animals() -> None:
    """Two animals, one due for prey."""
    report = round_of(record(animal("K1", offers=(offer(30),)), animal("K2", offers=(offer(1),))))
    assert (1, 1, 2) == tuple(dict(report.counts)[action] for action in ("offer", "wait", "feel"))


def test_an_empty_room_has_an_empty_round() -> None:
    """Nobody lives here yet."""
    report = round_of(record())
    assert ((), (), ON) == (report.shelves, report.counts, report.on)


def test_nothing_is_known_of_the_animal() -> None:
    """A code alone: gentle advice, no crash, no invented number."""
    from nightround.record.model import Animal

    row = row_of(Animal("K12", ""), forecast(400, "K99"), taxa={})
    assert "offer" == feeding(row)
    advice = job(row, "offer").offer
    assert advice is not None and advice.prekilled and advice.prey_mm is None
    assert row.odds is None and row.days_since_moult is None and row.days_since_offer is None
