"""A standing forecast takes in an evening's quiet taps exactly as a new fit would, where it may at all."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from nightround.desk.desk import Desk
from nightround.findings.reuse import QUIET_KINDS, asks_for_a_fit
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds import KINDS
from nightround.journal.kinds.animal import Moulted, Offered, OfferSeen, Seen
from nightround.journal.kinds.knowledge import Struck
from nightround.journal.store import Journal
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
