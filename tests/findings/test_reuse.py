"""A standing forecast takes in an evening's quiet taps as the whole room with the fits of the day, or not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from nightround.desk import kept
from nightround.desk.desk import Desk
from nightround.findings.moult import clock_room, odds_of, report_of
from nightround.findings.reuse import QUIET_KINDS, asks_for_a_fit
from nightround.findings.size import chance_last_for_clock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import KINDS
from nightround.journal.kinds.animal import LeftoversRemoved, Moulted, Offered, OfferSeen, Seen
from nightround.journal.kinds.knowledge import Struck
from nightround.journal.store import Journal
from nightround.record.make_histories import daily_climate, moult_histories
from nightround.simulate import room

END = date(2026, 3, 1)


@pytest.fixture
def desk(tmp_path):
    made = room(seed=3, animals=25, years=1.0, end=END)
    journal = Journal.create(tmp_path / "room", time_zone=made.clock.zone_name, invented=True)
    journal.append(made.drafts)
    with Desk(journal) as opened:
        yield opened


def test_quiet_kinds_are_kinds():
    """Every quiet kind is a kind, and none tells of a moult, a size, a life or the climate."""
    assert QUIET_KINDS <= set(KINDS)
    assert not QUIET_KINDS & {
        "moulted",
        "measured",
        "died",
        "left",
        "arrived",
        "reading",
        "expected",
        "moved",
    }


def test_an_offer_leaves_the_fit_standing(desk):
    """Offering prey with its outcome open is no look: not a digit of the forecast moves."""
    before = desk.forecast(END)
    code = before.animals[0].animal
    desk.write([Draft(Ref("animal", code), on_day(END), Offered(prey="cricket", number=1))])
    assert before == desk.forecast(END)
    assert before.animals[0].next_moult is desk.forecast(END).animals[0].next_moult


def test_a_look_tonight_leaves_nothing_unseen(desk):
    """Seen on the forecast's own day: it cannot have moulted unseen; a new desk, fitting anew, agrees."""
    before = desk.forecast(END)
    row = max(before.animals, key=lambda found: found.may_have_moulted_unseen)
    assert row.may_have_moulted_unseen > 0
    desk.write([Draft(Ref("animal", row.animal), on_day(END), Seen())])
    after = desk.forecast(END).of(row.animal)
    with Desk.open(desk.journal.room) as anew:
        fitted = anew.forecast(END).of(row.animal)
    assert (END, 0.0) == (after.last_look, after.may_have_moulted_unseen)
    assert (fitted.last_look, fitted.may_have_moulted_unseen) == (
        after.last_look,
        after.may_have_moulted_unseen,
    )
    if row.next_moult is not None:
        assert fitted.next_moult.within_days[30] == pytest.approx(after.next_moult.within_days[30], abs=0.03)


def test_a_look_before_tonight_asks_for_a_fit(desk):
    """A look that was written late is worked out, not guessed at."""
    before = desk.forecast(END)
    day = END - timedelta(days=1)
    looked_at_before = [found for found in before.animals if found.last_look and found.last_look < day]
    row = max(looked_at_before, key=lambda found: found.may_have_moulted_unseen)
    desk.write([Draft(Ref("animal", row.animal), on_day(day), Seen())])
    after = desk.forecast(END).of(row.animal)
    assert day == after.last_look
    assert 0 < after.may_have_moulted_unseen < row.may_have_moulted_unseen


@pytest.mark.parametrize("body", [Moulted(), Struck(why="wrong")])
def test_moults_and_corrections_ask_for_a_fit(desk, body):
    """A moult or a strike changes what the fit rests on."""
    number = desk.entries()[-1].number
    corrects = number if isinstance(body, Struck) else None
    desk.write([Draft(Ref("animal", "T01"), on_day(END), body, corrects=corrects)])
    assert asks_for_a_fit(desk.entries()[number:])


def test_outcomes_are_quiet(desk):
    """Outcomes of offers move appetite, not the moult clock."""
    number = desk.entries()[-1].number
    code = desk.forecast(END).animals[0].animal
    desk.write(
        [
            Draft(Ref("animal", code), on_day(END), Offered(prey="cricket")),
            Draft(Ref("animal", code), on_day(END), OfferSeen(outcome="taken", offer=-1)),
        ]
    )
    assert not asks_for_a_fit(desk.entries()[number:])


def hungry(report, least=3):
    """Animals late enough in their interval that what they eat is evidence, by code."""
    rows = [row for row in report.animals if row.appetite is not None and row.appetite.offers >= least]
    return sorted(rows, key=lambda row: -(row.appetite.phase or 0.0))


def no_fit(monkeypatch):
    """From here on a fit of clock or appetite fails the test."""
    monkeypatch.setattr("nightround.findings.moult.fit", lambda *_: pytest.fail("the clock was fitted"))
    monkeypatch.setattr(
        "nightround.findings.appetite.fit_appetite", lambda *_: pytest.fail("appetite was fitted")
    )


def write_an_evening(desk, rows):
    """Five taps about five animals: refused, taken, left, a dark patch, and an open offer."""
    first, second, third, fourth, fifth = (Ref("animal", row.animal) for row in rows[:5])
    before = on_day(END - timedelta(days=1))
    for drafts in (
        [Draft(first, on_day(END), Offered(prey="cricket", outcome="refused"))],
        [Draft(second, on_day(END), Offered(prey="cricket", outcome="taken"))],
        [
            Draft(third, before, Offered(prey="cricket")),
            Draft(third, on_day(END), OfferSeen(outcome="uneaten", offer=-1)),
            Draft(third, on_day(END), LeftoversRemoved()),
        ],
        [Draft(fourth, on_day(END), Seen(dark_patch=True))],
        [Draft(fifth, on_day(END), Offered(prey="cricket"))],
    ):
        desk.write(drafts)


def test_an_evening_is_weighed_as_with_the_fits_of_the_day(desk, monkeypatch):
    """After five taps every animal's odds equal, to 1e-9, the new record's room with the same two fits."""
    before = desk.forecast(END)
    odds = desk.odds(END)
    no_fit(monkeypatch)
    write_an_evening(desk, hungry(before))
    after, record = desk.forecast(END), desk.record(END)
    histories, climate = moult_histories(record), daily_climate(record)
    room = clock_room(histories, climate, odds.sizes, END.toordinal(), chance_last_for_clock(record))
    fitted = replace(odds.fitted, design=replace(odds.fitted.design, data=room.data))
    whole = odds_of(record, room, fitted, odds.sizes, appetite=odds.weighed.fit)
    anew = report_of(record, whole, desk.sizes(END))
    assert [row.animal for row in anew.animals] == [row.animal for row in after.animals]
    for one, other in zip(anew.animals, after.animals, strict=True):
        assert numbers_of(one) == pytest.approx(numbers_of(other), abs=1e-9)
        assert words_of(one) == words_of(other)
    assert desk.odds(END).fitted is odds.fitted
    np.testing.assert_allclose(desk.odds(END).result.cumulative, whole.result.cumulative, atol=1e-9)


def numbers_of(row):
    """All numbers of one animal's forecast."""
    if row.next_moult is None:
        return [row.may_have_moulted_unseen]
    days = [-1.0 if day is None else day for day in row.next_moult.quantiles_days.values()]
    note = row.appetite
    return [
        row.may_have_moulted_unseen, *days, *row.next_moult.within_days.values(), note.in_premoult,
        note.unexplained,
    ]  # fmt: skip


def words_of(row):
    """All words of one animal's forecast."""
    ahead = row.next_moult
    return (
        row.last_look,
        ahead and ahead.reasons,
        ahead and ahead.method,
        row.appetite and row.appetite.words,
    )


def test_outcomes_move_the_odds_of_their_animal_only(desk, monkeypatch):
    """Refused late in its interval: nearer; taken: not nearer; nobody else moves by a digit."""
    before = desk.forecast(END)
    no_fit(monkeypatch)
    refusing, eating = hungry(before)[:2]
    for row, outcome in ((refusing, "refused"), (eating, "taken")):
        drafts = [Draft(Ref("animal", row.animal), on_day(END), Offered(prey="cricket", outcome=outcome))]
        desk.write(drafts)
    after = desk.forecast(END)

    def within(report, row):
        return report.of(row.animal).next_moult.within_days[14]

    assert within(after, refusing) > within(before, refusing)
    assert within(after, eating) < within(before, eating)
    told = {refusing.animal, eating.animal}
    for one, other in zip(before.animals, after.animals, strict=True):
        assert one.animal in told or one is other


def test_without_the_fits_of_the_day_an_outcome_asks_for_one(desk, tmp_path, monkeypatch):
    """A desk that read its forecast from the disk has nothing to weigh with; an open offer needs nothing."""
    monkeypatch.setattr(kept, "WORTH_KEEPING_SECONDS", 0.0)
    monkeypatch.setattr(kept, "_folder", lambda *_: tmp_path / "answers")
    before = desk.forecast(END)
    row = hungry(before)[0]
    with Desk.open(desk.journal.room) as second:
        with monkeypatch.context() as strict:
            no_fit(strict)
            assert before == second.forecast(END)
            second.write([Draft(Ref("animal", row.animal), on_day(END), Offered(prey="cricket"))])
            assert before == second.forecast(END)
        second.write([Draft(Ref("animal", row.animal), on_day(END), OfferSeen(outcome="refused"))])
        moved = second.forecast(END).of(row.animal)
    assert moved.next_moult.within_days[14] > row.next_moult.within_days[14]
    assert moved.appetite.run == row.appetite.run + 1


def test_what_was_eaten_before_the_last_moult_asks_for_a_fit(desk, monkeypatch):
    """An outcome of an offer before the moult changes the ration that the clock rests on; a later one not."""
    before = desk.forecast(END)
    heard = []
    monkeypatch.setattr("nightround.findings.moult.refit", lambda fitted, data: heard.append(data) or fitted)
    row = next(row for row in before.animals if row.appetite is not None and row.last_moult is not None)
    after_it, before_it = (on_day(row.last_moult + timedelta(days=days)) for days in (1, -3))
    for day, times in ((after_it, 0), (before_it, 1)):
        desk.write(
            [
                Draft(Ref("animal", row.animal), day, Offered(prey="cricket")),
                Draft(Ref("animal", row.animal), on_day(END), OfferSeen(outcome="taken", offer=-1)),
            ]
        )
        desk.forecast(END)
        assert times == len(heard)


def test_a_moult_leaves_the_fit_of_appetite_and_a_year_of_offers_does_not(desk):
    """With one interval more the fit stands; offers of a year written at once ask for another."""
    row = hungry(desk.forecast(END))[0]
    odds = desk.odds(END)
    desk.write([Draft(Ref("animal", row.animal), on_day(END), Moulted())])
    after = desk.odds(END)
    assert after.weighed.fit is odds.weighed.fit
    assert desk.forecast(END).of(row.animal).appetite.offers == 0
    days = [on_day(END - timedelta(days=number)) for number in range(40, 200, 5)]
    animals = [Ref("animal", each.animal) for each in desk.forecast(END).animals[:12]]
    desk.write([Draft(ref, day, Offered(prey="cricket", outcome="taken")) for ref in animals for day in days])
    assert desk.odds(END).weighed.fit is not odds.weighed.fit
