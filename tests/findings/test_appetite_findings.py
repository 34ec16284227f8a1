"""Appetite and signs in the forecasts of whole records: what they are worth, say, and leave alone."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from nightround.findings.appetite_record import hardening_days
from nightround.findings.moult import ClockOdds, clock_odds, forecast
from nightround.findings.size import ClockSize
from nightround.foundation.clock import RoomClock
from nightround.foundation.when import on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Measured, Moulted, Offered, PassedOver, Seen
from nightround.journal.store import Journal
from nightround.journal.tables.read import read_tables
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.simulate import room as simulated_room
from nightround.simulate.truth import SimulatedRoom

END = date(2026, 11, 20)
DAYS_BACK = (40, 130, 220, 400)
HORIZON = 14


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[SimulatedRoom, list[tuple[Record, ClockOdds]]]:
    """The invented room of seed 1 on four evenings, each with its odds from what was known then."""
    made = simulated_room(1, end=END)
    journal = Journal.create(tmp_path_factory.mktemp("demo") / "room", time_zone="Europe/Paris")
    journal.append(made.drafts)
    entries, clock = journal.entries(), journal.clock
    journal.close()
    found = []
    for back in DAYS_BACK:
        record = fold(entries, END - timedelta(days=back), clock)
        odds = clock_odds(record)
        assert odds is not None
        found.append((record, odds))
    return made, found


def test_appetite_sharpens_the_forecasts_of_the_invented_room(
    demo: tuple[SimulatedRoom, list[tuple[Record, ClockOdds]]],
) -> None:
    """A keeper who offers when due and passes over what shows premoult: 14-day Brier at least 10 % better."""
    made, evenings = demo
    errors = []
    for record, odds in evenings:
        at = int(np.searchsorted(odds.plain.grid_days, HORIZON))
        for row, animal in enumerate(odds.room.asked):
            look = odds.room.histories[animal].last_look
            moults = made.truth.animals[odds.room.codes[animal]].moults
            if any(look is not None and look < day <= record.on for day in moults):
                continue  # it has moulted unseen: the odds are about animals that have not
            happened = any(0 < (day - record.on).days <= HORIZON for day in moults)
            said = (odds.plain.cumulative[row, at], odds.result.cumulative[row, at])
            errors.append([(chance - happened) ** 2 for chance in said])
    without, with_it = np.mean(errors, axis=0)
    assert len(errors) > 300
    assert with_it <= 0.9 * without, f"{without:.4f} without, {with_it:.4f} with appetite"


def test_odds_stay_odds_and_the_last_moult_stays_possible(
    demo: tuple[SimulatedRoom, list[tuple[Record, ClockOdds]]],
) -> None:
    """Chances rise from 0 to at most 1, quantiles rise, and who may never moult again may still not."""
    for _, odds in demo[1]:
        before, after = odds.plain.cumulative, odds.result.cumulative
        assert np.all(np.diff(after, axis=1) >= -1e-12)
        assert np.all((after >= 0.0) & (after <= 1.0))
        assert np.all((odds.result.unseen >= 0.0) & (odds.result.unseen <= 1.0))
        assert np.all(np.diff(np.nan_to_num(odds.result.quantile_days, nan=1e9), axis=1) >= 0.0)
        never = before[:, -1] < 0.97
        assert np.all(after[never, -1] < 1.0)
        still = np.flatnonzero(~odds.weighed.moved)
        np.testing.assert_array_equal(odds.result.within[still], odds.plain.within[still])


def test_what_is_kept_of_one_animal_fits_its_record(
    demo: tuple[SimulatedRoom, list[tuple[Record, ClockOdds]]],
) -> None:
    """Offers, meals and the run of refusals in the note are those of the record since the last moult."""
    record, odds = demo[1][0]
    seen = 0
    for code, note in odds.weighed.notes.items():
        animal = record.animals[code]
        windows = odds.room.histories[odds.room.index_of[code]].moults
        if not windows:
            continue
        known = [
            offer.outcome == "taken"
            for offer in animal.offers
            if offer.outcome in ("taken", "refused", "uneaten")
            and offer.when.last is not None
            and offer.when.last > windows[-1].last
        ]
        assert (len(known), sum(known)) == (note.offers, note.taken)
        assert note.run == next((n for n, taken in enumerate(reversed(known)) if taken), len(known))
        seen += note.offers > 0
    assert seen > 50


def test_the_chance_of_a_moult_unseen_is_what_the_last_look_promised(tmp_path: Path) -> None:
    """Looked at by all on one evening: the 14-day odds of that evening are the unseen odds 14 days later."""
    made = simulated_room(2, animals=60, years=1.5, end=END)
    looked = END - timedelta(days=30)
    journal = Journal.create(tmp_path / "room", time_zone="Europe/Paris")
    drafts = [draft for draft in made.drafts if draft.when.last is None or draft.when.last <= looked]
    journal.append(drafts)
    here = fold(journal.entries(), looked, journal.clock).living()
    journal.append([Draft(Ref("animal", animal.code), on_day(looked), Seen()) for animal in here])
    entries, clock = journal.entries(), journal.clock
    journal.close()
    then, later = (clock_odds(fold(entries, looked + timedelta(days=days), clock)) for days in (0, HORIZON))
    assert then is not None and later is not None
    at = int(np.searchsorted(then.result.grid_days, HORIZON))
    moved = then.weighed.moved & later.weighed.moved
    assert moved.sum() > 20
    np.testing.assert_array_equal(then.room.asked, later.room.asked)
    promised, weighed, plain = then.result.cumulative[:, at], later.result.unseen, later.plain.unseen
    off, off_plain = (np.abs(odds - promised)[moved] for odds in (weighed, plain))
    assert off.mean() < 0.02
    assert off.mean() < 0.3 * off_plain.mean()


def test_real_records_without_offers_are_left_alone_to_the_digit(tmp_path: Path, shared_data: Path) -> None:
    """Crab-2012: no offers, no signs; a plain look at each says nothing about its interval."""
    day = date(2012, 11, 1)
    drafts = read_tables(shared_data / "crab-2012", RoomClock("UTC")).drafts
    journal = Journal.create(tmp_path / "crabs", time_zone="UTC")
    journal.append([draft for draft in drafts if draft.when.last is None or draft.when.last <= day])
    here = fold(journal.entries(), day, journal.clock).living()
    journal.append([Draft(Ref("animal", animal.code), on_day(day), Seen()) for animal in here])
    odds = clock_odds(fold(journal.entries(), day, journal.clock))
    journal.close()
    assert odds is not None
    assert not odds.weighed.moved.any()
    np.testing.assert_array_equal(odds.plain.cumulative, odds.result.cumulative)
    np.testing.assert_array_equal(odds.plain.unseen, odds.result.unseen)


START = date(2026, 1, 1)
K1 = Ref("animal", "K1")


def day(number: int) -> date:
    """A day after the start."""
    return START + timedelta(days=number)


def report_of(folder: Path, *entries: tuple[int, object], on: int = 260):
    """K1's forecast in a room of its own: moults on days 20 and 120, then these entries."""
    journal = Journal.create(folder / f"room-{len(list(folder.iterdir()))}", time_zone="UTC")
    first = [
        (0, Arrived(taxon="Invented alpha")),
        (20, Moulted()),
        (120, Moulted()),
        (121, Measured(item="leg_span", value=60.0, unit="mm", on="live")),
    ]
    drafts = [Draft(K1, on_day(day(number)), body) for number, body in (*first, *entries)]
    journal.append(drafts)
    found = forecast(fold(journal.entries(), day(on), journal.clock)).of("K1")
    journal.close()
    assert found is not None and found.next_moult is not None
    return found


def meals(outcome: str, *days: int) -> list[tuple[int, object]]:
    """An offer with this outcome on each of the days."""
    return [(number, Offered(prey="cricket", outcome=outcome)) for number in days]


FED = meals("taken", *range(130, 200, 7))


def test_the_reasons_say_what_was_refused_the_warmth_and_how_many_are_like_it(tmp_path: Path) -> None:
    """Ate all along, then refused three in a row: said first, with its day, and named in the method."""
    found = report_of(tmp_path, *FED, *meals("refused", 204, 211), *meals("uneaten", 218), on=220)
    refused, warmth, like = found.next_moult.reasons[:3]
    assert "refused or left 3 of 3 since 24 Jul" == refused
    assert warmth.endswith("% of the usual warmth since the last moult")
    assert like == "1 animal like it, 1 interval"
    assert found.next_moult.method.endswith("; appetite and signs weighed in")
    assert (13, 10, 3, day(204)) == (
        found.appetite.offers, found.appetite.taken, found.appetite.run, found.appetite.since,
    )  # fmt: skip


def test_a_year_is_named_when_it_is_another(tmp_path: Path) -> None:
    """Refusals since last December, told in January."""
    found = report_of(tmp_path, *meals("refused", 360, 370), on=375)
    assert "refused 2 of 2 since 27 Dec 2026" == found.next_moult.reasons[0]


@pytest.mark.parametrize(
    "silent",
    [
        [],
        [(number, PassedOver(reason="premoult")) for number in (204, 211, 218)],
        [(number, Offered(prey="cricket")) for number in (204, 211, 218)],
        meals("not_seen", 204, 211, 218),
    ],
)
def test_what_tells_nothing_of_appetite_moves_nothing(tmp_path: Path, silent: list) -> None:
    """Passed over by choice, outcome open, outcome not seen: no refusals, and not a digit moves."""
    plain = report_of(tmp_path, *FED, on=220)
    found = report_of(tmp_path, *FED, *silent, on=220)
    assert plain.next_moult == found.next_moult
    assert (10, 10, 0) == (found.appetite.offers, found.appetite.taken, found.appetite.run)


def test_refusals_late_and_signs_bring_it_nearer_and_meals_do_not(tmp_path: Path) -> None:
    """A hundred days into an interval of about a hundred: 14-day odds by its last three weeks."""
    eats = report_of(tmp_path, *FED, *meals("taken", 204, 211, 218), on=220)
    refuses = report_of(tmp_path, *FED, *meals("refused", 204, 211, 218), on=220)
    patch = report_of(tmp_path, *FED, *meals("taken", 204, 211, 218), (219, Seen(dark_patch=True)), on=220)
    soon = [found.next_moult.within_days[14] for found in (eats, refuses, patch)]
    assert soon[0] < soon[2]
    assert 1.3 * soon[0] < soon[1]
    assert eats.appetite.in_premoult < 0.5 < refuses.appetite.in_premoult + refuses.appetite.unexplained


def test_a_sign_taken_back_is_gone(tmp_path: Path) -> None:
    """Sealed, then seen open: it says no more than never sealed."""
    sealed = report_of(tmp_path, *FED, (205, Seen(burrow_sealed=True)), on=220)
    opened = report_of(
        tmp_path, *FED, (205, Seen(burrow_sealed=True)), (212, Seen(burrow_sealed=False)), on=220
    )
    never = report_of(tmp_path, *FED, (205, Seen()), (212, Seen(burrow_sealed=False)), on=220)
    assert "retreat sealed noted 25 Jul" == sealed.next_moult.reasons[0]
    assert opened.next_moult.within_days[30] == pytest.approx(never.next_moult.within_days[30], abs=1e-12)
    assert sealed.next_moult.within_days[30] > opened.next_moult.within_days[30]


def test_hardening_grows_with_size_and_is_unknown_where_nothing_was_measured() -> None:
    """Keepers' figures (D): 3-7 days for slings, 14-21 for large animals; unknown is not the smallest."""

    def days(carapace_mm: float, readings: int = 5) -> float:
        return hardening_days(ClockSize("K1", (float(np.log(carapace_mm)),), (0.05,), 1, readings), 0)

    found = [days(carapace_mm) for carapace_mm in (1.0, 3.0, 8.0, 15.0, 25.0, 60.0)]
    assert sorted(found) == found
    assert 3.0 <= found[1] <= 7.0
    assert 14.0 <= found[3] <= 21.0
    assert 21.0 == found[5]
    assert np.isnan(days(8.0, readings=0))
    assert np.isnan(hardening_days(None, 0))
