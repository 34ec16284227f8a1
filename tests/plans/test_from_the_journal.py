"""From entries to the round: what the keeper wrote is what the round says, for any evening."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import between, on_day
from nightround.journal.entries import Draft, Entry, Ref
from nightround.journal.kinds import animal as about
from nightround.journal.kinds import knowledge, surroundings
from nightround.journal.store import Journal
from nightround.plans.tonight import tonight
from nightround.record.fold import fold
from nightround.reports.forecast import ForecastReport
from nightround.reports.tonight import TonightReport
from nightround.simulate.rooms import room as simulated_room
from plans.evening import ON, actions, ago, feeding, job

CLOCK = RoomClock("Europe/Berlin", time(4))
K12 = Ref("animal", "K12")


def journal(*lines: tuple[int, Ref, Any]) -> list[Entry]:
    """Entries from lines of (days ago, about, body)."""
    entries = []
    for number, (days, subject, body) in enumerate(lines, 1):
        draft = Draft(subject, on_day(ago(days)), body)
        entries.append(
            Entry(number, draft.kind.name, subject, draft.when, body, datetime(2026, 11, 24, tzinfo=UTC), "",
                  str(number), None, "")
        )  # fmt: skip
    return entries


def round_on(entries: list[Entry], on: date = ON) -> TonightReport:
    """The round of an evening, without a forecast."""
    return tonight(fold(entries, on, CLOCK), ForecastReport(on, ()), {}, room="test room")


def row(entries: list[Entry], on: date = ON) -> Any:
    """The only row of that round."""
    (shelf,) = round_on(entries, on).shelves
    (only,) = shelf.rows
    return only


BEGUN = (
    (400, Ref("taxon", "Aphonopelma inventum"), knowledge.Named(habit="burrower")),
    (400, K12, about.Arrived(taxon="Aphonopelma inventum", place="shelf A", home="H1")),
    (30, K12, about.Measured(item="leg_span", value=60.0, unit="mm", on="live")),
)


def test_an_evening_and_its_morrow() -> None:
    """Offered 3 days ago and open: asked for. Then seen uneaten: taken out. Then taken out: nothing."""
    offered = (*BEGUN, (3, K12, about.Offered(prey="cricket", number=1)))
    first = row(journal(*offered))
    assert ("outcome", (4,)) == (first.jobs[0].action, first.jobs[0].open_offers)
    uneaten = (*offered, (0, K12, about.OfferSeen(outcome="uneaten", offer=4)))
    assert "leftovers" == row(journal(*uneaten)).jobs[0].action
    out = (*uneaten, (0, K12, about.LeftoversRemoved()))
    assert not {"outcome", "leftovers"} & set(actions(row(journal(*out))))


def test_a_moult_and_black_fangs() -> None:
    """It moulted 10 days ago; black fangs were seen 2 days ago; until then it was left alone."""
    entries = journal(*BEGUN, (10, K12, about.Moulted()), (2, K12, about.Seen(fangs="black")))
    assert "leave_alone" == feeding(row(entries, ago(3)))
    assert "offer" == feeding(row(entries))


def test_drops_dishes_and_water_are_told_apart() -> None:
    """Poured 40 ml into H1 5 days ago, dish filled 2 days ago: nothing is due; two weeks later both are."""
    entries = journal(
        *BEGUN,
        (5, Ref("home", "H1"), surroundings.Watered(value=40.0, unit="ml", where="side")),
        (2, K12, surroundings.Dish(state="filled")),
    )
    assert not {"water", "feel", "drink"} & set(actions(row(entries)))
    later = row(entries, date(2026, 12, 8))
    assert 40.0 == job(later, "feel").water_ml
    assert "drink" in actions(later)


def test_a_rule_set_in_the_journal_is_obeyed_and_taken_back() -> None:
    """Fed every 3 days by rule since 20 days ago; the rule was emptied yesterday."""
    rule = knowledge.RuleSet(rule="feed_juvenile_days", value="3", why="thin")
    entries = journal(*BEGUN, (20, K12, rule), (4, K12, about.Offered(prey="cricket", outcome="taken")))
    assert "offer" == feeding(row(entries))
    gone = journal(
        *BEGUN, (20, K12, rule), (4, K12, about.Offered(prey="cricket", outcome="taken")),
        (1, K12, knowledge.RuleSet(rule="feed_juvenile_days", value="")),
    )  # fmt: skip
    assert "wait" == feeding(row(gone))


def test_a_rule_for_an_old_name_of_its_kind_still_holds() -> None:
    """The rule was set for 'Aphonopelma vetus' before the kind was renamed."""
    old = Ref("taxon", "Aphonopelma vetus")
    entries = journal(
        (400, K12, about.Arrived(taxon="Aphonopelma vetus")),
        (300, old, knowledge.RuleSet(rule="feed_unknown_days", value="4")),
        (200, old, knowledge.Renamed(name="Aphonopelma novum")),
        (5, K12, about.Offered(prey="cricket", outcome="taken")),
    )
    only = row(entries)
    assert "Aphonopelma novum" == only.taxon
    assert "offer" == feeding(only)


def test_the_dead_the_sold_and_the_missing_have_no_row() -> None:
    """Four animals; one died, one was sold, one escaped."""
    arrived = about.Arrived(taxon="Aphonopelma inventum")
    entries = journal(
        *((100, Ref("animal", code), arrived) for code in ("K1", "K2", "K3", "K4")),
        (9, Ref("animal", "K1"), about.Died()),
        (9, Ref("animal", "K2"), about.Left(how="sold")),
        (9, Ref("animal", "K3"), about.Escaped()),
    )  # fmt: skip
    report = round_on(entries)
    assert ["K4"] == [only.animal for shelf in report.shelves for only in shelf.rows]
    assert any("Missing: K3" in notice for notice in report.notices)


def test_an_offer_of_an_unknown_evening_is_no_offer_of_tonight() -> None:
    """Offered between 6 and 2 days ago: the last day counts, and the offer is asked for."""
    entries = journal(*BEGUN)
    when = between(ago(6), ago(2))
    body, written = about.Offered(prey="cricket"), datetime(2026, 11, 24, tzinfo=UTC)
    entries.append(Entry(9, "offered", K12, when, body, written, "", "9", None, ""))
    only = row(entries)
    assert 2 == only.days_since_offer
    assert (9,) == job(only, "outcome").open_offers


def test_the_demo_rooms_evening_keeps_the_promises(tmp_path: Path) -> None:
    """A simulated room of 30 animals: one feeding job each, gentle where size is unknown."""
    simulated = simulated_room(seed=3, animals=30, years=1.0, end=date(2026, 11, 23))
    room = Journal.create(tmp_path / "room.sqlite", time_zone="Europe/Berlin", invented=True)
    room.append(simulated.drafts)
    record = fold(room.entries(), ON, room.clock)
    room.close()
    report = tonight(record, ForecastReport(ON, ()), {}, room="demo", invented=True)
    rows = [each for shelf in report.shelves for each in shelf.rows]
    assert sorted(each.animal for each in rows) == [one.code for one in record.living()]
    assert len(rows) > 5
    for each in rows:
        feeding(each)
        one = record.animals[each.animal]
        sized = any(reading.unit == "mm" for reading in one.measurements)
        offers = [job.offer for job in each.jobs if job.offer is not None]
        assert all(sized or (offer.prekilled and offer.prey_mm is None) for offer in offers)
    assert [each.quarantined for each in rows] == sorted(each.quarantined for each in rows)
