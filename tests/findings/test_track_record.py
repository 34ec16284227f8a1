"""The track record from journals told in docstrings: what is kept when, what counts, and what follows."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import msgspec
import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from nightround.findings.issued import due
from nightround.findings.look_back import look_back, past_days, written_by
from nightround.findings.moult import forecast
from nightround.findings.outcomes import Outcome, outcomes
from nightround.findings.track_record import track_record, widenings
from nightround.journal.entries import Entry
from nightround.journal.issued import Issued, Odds, Stage
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.reports.forecast import QUANTILES, AnimalForecast, ForecastReport, NextMoult
from nightround.reports.track_record import Widening
from record.notebook import CLOCK, entries_of

NOW = datetime(2026, 12, 31, 20, tzinfo=UTC)


def told(test: Callable[..., None], on: str) -> Record:
    """The record of a test's own journal as of a day."""
    return fold(entries_of(inspect.getdoc(test) or ""), date.fromisoformat(on), CLOCK)


def report_of(record: Record, code: str, median: float | None) -> ForecastReport:
    """A report whose quantiles lie evenly about a median."""
    quantiles = {level: None if median is None else 2 * median * float(level) for level in QUANTILES}
    animal = record.animals[code]
    last = max((moult.when.last for moult in animal.moults if moult.when.last), default=None)
    moult = NextMoult(quantiles, {}, 1, 1, "test", ())
    row = AnimalForecast(code, animal.taxon, last, None, None, 0.0, moult)
    return ForecastReport(record.on, (row,))


def odds(median: float = 50.0, widened: float = 1.0, group: str = "tarantula") -> Odds:
    """A forecast that is even from 0 to twice its median: its 80 % window runs from 0.2 to 1.8 medians."""
    quantiles: dict[str, float | None] = {level: 2 * median * float(level) for level in QUANTILES}
    return Odds(quantiles, {}, 0.0, widened, "Invented alpha", group, 3)


def issued(day: str, opened: str, **changes: object) -> Issued:
    """A forecast for K1, kept on its day."""
    first, _, last = opened.partition("/")
    days = (date.fromisoformat(first), date.fromisoformat(last or first))
    stage: Stage = "after_moult"
    plain = Issued("K1", stage, "", date.fromisoformat(day), days, NOW, 1, "test", odds(), 1)
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_two_forecasts_of_an_interval_are_kept() -> None:
    """The first after the moult is known and the first from half of the then expected wait on; then no more.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-03-01  animal K1  moulted
    """
    kept: list[Issued] = []
    stages = []
    for day in (
        "2026-02-01",
        "2026-03-03",
        "2026-03-04",
        "2026-04-20",
        "2026-04-21",
        "2026-04-22",
        "2026-06-01",
    ):
        record = told(test_two_forecasts_of_an_interval_are_kept, day)
        found = due(record, report_of(record, "K1", 100.0), kept, written=NOW)
        stages += [(day, each.stage, each.opened) for each in found]
        kept += found
    opened = (date(2026, 3, 1), date(2026, 3, 1))
    # Two days had passed and 100 were expected: half of 102 days after 1 March is 21 April.
    assert [("2026-03-03", "after_moult", opened), ("2026-04-21", "half_time", opened)] == stages


def test_an_interval_first_met_late_begins_at_half_time() -> None:
    """A list that is imported in the middle of intervals gives each one forecast, of the later stage.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-03-01  animal K1  moulted
    """
    record = told(test_an_interval_first_met_late_begins_at_half_time, "2026-06-01")
    assert ["half_time"] == [
        each.stage for each in due(record, report_of(record, "K1", 60.0), [], written=NOW)
    ]
    assert ["after_moult"] == [
        each.stage for each in due(record, report_of(record, "K1", 600.0), [], written=NOW)
    ]
    # One that may never moult again has no half time.
    first = due(record, report_of(record, "K1", None), [], written=NOW)
    assert ["after_moult"] == [each.stage for each in first]
    later = told(test_an_interval_first_met_late_begins_at_half_time, "2030-06-01")
    assert [] == due(later, report_of(later, "K1", None), first, written=NOW)


def test_a_wait_of_unknown_beginning_is_not_kept() -> None:
    """Nobody knows when the interval of a newcomer began: no forecast of it is held to account.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    """
    record = told(test_a_wait_of_unknown_beginning_is_not_kept, "2026-06-01")
    assert [] == due(record, report_of(record, "K1", 60.0), [], written=NOW)


def test_a_corrected_date_is_the_same_interval_and_changes_nothing_that_was_said() -> None:
    """The moult's day is corrected by two days and the animal is renamed: no second forecast is kept.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-03-01  animal K1  moulted
    2026-03-03  animal K1  moulted  @corrects 2
    2026-03-10  animal K1  renamed  name=K9
    2026-04-20  animal K9  moulted
    """
    record = told(test_a_corrected_date_is_the_same_interval_and_changes_nothing_that_was_said, "2026-03-20")
    kept = [issued("2026-03-02", "2026-03-01")]
    assert [] == due(record, report_of(record, "K9", 100.0), kept, written=NOW)
    later = told(test_a_corrected_date_is_the_same_interval_and_changes_nothing_that_was_said, "2026-12-01")
    (found,) = outcomes(later, tuple(kept))
    assert ("K9", "inside", 48.5) == (found.animal, found.fate, found.moulted)
    # A moult that was struck out, or moved by months, leaves nothing to be held to.
    assert [] == outcomes(later, (issued("2026-01-05", "2026-01-04"),))


def fate_on(test: Callable[..., None], on: str, given: Issued) -> Outcome:
    """What had become of a forecast by a day."""
    (found,) = outcomes(told(test, on), (given,))
    return found


def test_a_window_counts_on_the_day_it_is_over() -> None:
    """It ran from day 10 to day 90; the moult came on day 40: open before the end, inside from then on.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-01-01  animal K1  moulted
    2026-02-10  animal K1  moulted
    """
    test, given = test_a_window_counts_on_the_day_it_is_over, issued("2026-01-01", "2026-01-01")
    fates = [
        fate_on(test, day, given).fate for day in ("2026-01-20", "2026-03-31", "2026-04-01", "2026-12-31")
    ]
    assert ["running", "running", "inside", "inside"] == fates
    found = fate_on(test, "2026-12-31", given)
    assert (39.5, 0.395, 0.395) == pytest.approx((found.moulted, found.level, found.beyond))


@pytest.mark.parametrize(
    ("moulted", "fate", "days", "off"),
    [
        ("2026-01-08", "before", 6.5, 3.5),
        ("2026-01-10/2026-01-13", "inside", 10.0, 0.0),  # the middle lies in the window
        ("2026-04-10", "after", 98.5, 8.5),
        ("2026-06-01", "after", 150.5, 60.5),
    ],
)
def test_moults_beside_the_window(moulted: str, fate: str, days: float, off: float) -> None:
    """Before it, at its edge found late, after it, and after all that was told (a level of at least 0.95).

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-01-01  animal K1  moulted
    """
    text = (inspect.getdoc(test_moults_beside_the_window) or "") + f"\n{moulted}  animal K1  moulted"
    record = fold(entries_of(text), date(2026, 12, 1), CLOCK)
    (found,) = outcomes(record, (issued("2026-01-01", "2026-01-01"),))
    assert (fate, days, off) == (found.fate, found.moulted, found.days_off)
    assert (found.beyond == 1.0) == (days > 95.0)
    assert found.score is not None and found.score > 0.0


def test_waits_count_up_to_the_last_look() -> None:
    """Outlasted is missed; a window that is over and not looked at since is open; death ends it uncounted.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-01-01  animal K1  moulted
    2026-03-01  animal K1  seen
    2026-04-05  animal K1  seen
    2026-05-01  animal K1  died
    """
    test, given = test_waits_count_up_to_the_last_look, issued("2026-01-01", "2026-01-01")
    short = replace(given, odds=odds(30.0))
    assert "running" == fate_on(test, "2026-03-20", given).fate
    assert "unlooked" == fate_on(test, "2026-04-02", given).fate
    assert "after" == fate_on(test, "2026-04-05", given).fate
    assert "after" == fate_on(test, "2026-12-31", short).fate
    long = replace(given, odds=odds(100.0))
    found = fate_on(test, "2026-12-31", long)
    assert ("ended", None, 1.0) == (found.fate, found.moulted, found.beyond)
    assert 0.6 == pytest.approx(found.level)  # died, and looked at, on day 120 of 200
    never = replace(given, odds=replace_odds(odds(), {"0.05": 60.0, "0.10": 90.0, "0.90": None}))
    assert "open_ended" == fate_on(test, "2026-04-30", never).fate


def test_a_moult_found_to_lie_before_the_forecast_is_not_held_against_it() -> None:
    """The forecast held if it had not moulted: it had, and nobody had seen it.

    2026-01-01  animal K1  arrived  taxon=Invented alpha
    2026-01-01  animal K1  moulted
    2026-02-10  animal K1  moulted  @written 2026-03-20
    """
    test = test_a_moult_found_to_lie_before_the_forecast_is_not_held_against_it
    late = issued("2026-03-01", "2026-01-01", stage="half_time")
    assert "unseen" == fate_on(test, "2026-12-31", late).fate


ROOM = "\n".join(
    f"2026-01-01  animal K{n}  arrived  taxon=Invented alpha\n2026-01-01  animal K{n}  moulted\n"
    + f"2026-{2 + n // 28:02d}-{1 + n % 28:02d}  animal K{n}  moulted"
    for n in range(20)
)


def many(ratio: float, **changes: object) -> tuple[Record, list[Issued]]:
    """Twenty moults 31 to 50 days after the last, and forecasts whose windows widen with `ratio`."""
    record = fold(entries_of(ROOM), date(2026, 12, 1), CLOCK)
    given = []
    for n in range(20):
        quantiles: dict[str, float | None] = {
            level: 40.0 + ratio * 20.0 * (float(level) - 0.5) for level in QUANTILES
        }
        said = replace_odds(odds(group=""), quantiles)
        # On different days, so that they are no one month's common error.
        one = issued("2026-01-01", "2026-01-01", animal=f"K{n}", odds=said, number=n + 1)
        given.append(replace(one, **changes))  # type: ignore[arg-type]
    return record, given


def replace_odds(plain: Odds, quantiles: dict[str, float | None]) -> Odds:
    """The odds with other quantiles."""
    return Odds(quantiles, {}, 0.0, plain.widened, plain.taxon, plain.group, plain.n_intervals)


def test_the_report_counts_and_says_what_it_comes_to() -> None:
    """Right windows hold 16 of 20; half as wide ones 8, and the report says fewer than claimed."""
    record, right = many(1.0)
    report = track_record(record, right)
    assert report.kept is not None and report.looked_back is None
    (line,) = report.kept.lines
    assert (20, 16, 2, 2) == (line.due, line.fates["inside"], line.fates["before"], line.fates["after"])
    assert line.share is not None and line.allowing is not None
    assert (0.8, 20.0) == (line.share.value, line.share.number)
    assert 0.8 == pytest.approx(line.allowing.value)
    assert "of 20 moults given 80 % windows made after the moult, 16 fell inside" in report.verdict[0]
    assert "nothing here says that its windows are too narrow" in report.verdict[1]
    _, narrow = many(0.5)
    verdict = track_record(record, narrow).verdict
    assert "8 fell inside" in verdict[0] and "fewer than claimed" in verdict[0]
    middle = {claim.claimed: claim.seen.value for claim in report.kept.levels["after_moult"]}
    assert 0.5 == pytest.approx(middle[0.5], abs=0.051)


def test_kept_and_looked_back_forecasts_are_counted_apart_and_the_newest_look_back_counts() -> None:
    """A second look back takes the place of the first; where both are, the kept forecast speaks."""
    record, kept = many(1.0)
    old = [replace(each, run="look-back-1", number=100 + each.number) for each in many(0.3)[1]]
    new = [replace(each, run="look-back-2", number=200 + each.number) for each in many(0.5)[1]]
    report = track_record(record, [*kept[:5], *old, *new])
    assert report.kept is not None and report.looked_back is not None
    assert (5, 20) == (report.kept.issued, report.looked_back.issued)
    assert 8 == report.looked_back.lines[0].fates["inside"]
    assert {True, False} >= {miss.looked_back for miss in report.misses}


def test_one_month_of_errors_in_common_is_not_taken_for_twenty() -> None:
    """Twenty forecasts of one day speak like a few; of twenty months, like twenty."""
    record, together = many(0.3)
    apart = [replace(each, day=date.fromordinal(each.day.toordinal())) for each in together]
    weighed = track_record(record, apart).widenings[0]
    assert weighed.intervals < 5.0
    assert weighed.factor > 1.0


def test_what_was_widened_is_judged_by_what_the_clock_had_said() -> None:
    """Windows twice as wide because they were widened by 2 speak like plain ones of the plain width."""
    record, plain = many(1.2)
    wide = [replace(each, odds=replace_wide(each.odds)) for each in plain]
    unmarked = [replace(each, odds=msgspec.structs.replace(each.odds, widened=1.0)) for each in wide]
    one, other, mistaken = (
        track_record(record, each).widenings[0].factor for each in (plain, wide, unmarked)
    )
    assert one == pytest.approx(other, rel=0.02)
    assert mistaken < 0.9 * one


def replace_wide(plain: Odds) -> Odds:
    """The odds as they would have been told when widened by 2."""
    levels = np.array([float(level) for level in QUANTILES])
    # Quantiles of many(1.2) lie evenly: the level of day t is 0.5 + (t - 40) / 24.
    wider = 40.0 + 24.0 * (ndtr(2.0 * ndtri(levels)) - 0.5)
    quantiles: dict[str, float | None] = dict(zip(QUANTILES, map(float, wider), strict=True))
    return Odds(quantiles, {}, 0.0, 2.0, plain.taxon, plain.group, plain.n_intervals)


def test_a_widened_forecast_says_so_and_keeps_its_median() -> None:
    """Method, reasons and notices name it; the window is wider, the median and the unseen chance stay."""
    record = fold(entries_of(ROOM), date(2026, 4, 1), CLOCK)
    plain = forecast(record)
    asked = {"": Widening("", 1.4, 1.2, 1.6, 40.0, 1.4, "windows widened by 40 %: 31 of 52 held the moult")}
    wider = forecast(record, widenings=asked)
    assert any("widened by 40 %" in notice for notice in wider.notices)
    for before, after in zip(plain.animals, wider.animals, strict=True):
        assert before.next_moult is not None and after.next_moult is not None
        assert after.next_moult.widened == 1.4
        assert "widened" in after.next_moult.method
        assert any("31 of 52" in reason for reason in after.next_moult.reasons)
        one, other = before.next_moult.quantiles_days, after.next_moult.quantiles_days
        assert one["0.50"] == pytest.approx(other["0.50"], rel=0.02)
        assert (other["0.10"] or 0.0) < (one["0.10"] or 0.0)
        assert (other["0.90"] or 0.0) > (one["0.90"] or 0.0)
        assert before.may_have_moulted_unseen == after.may_have_moulted_unseen
    assert {} == widenings(record, [])


def test_looking_back_knows_only_what_had_been_written() -> None:
    """A moult written down in April is unknown in March; a row of a list without its day of writing is known.

    2026-01-01  animal K1  arrived  taxon=Invented alpha  @written 2026-01-01
    2026-02-01  animal K1  moulted  @written 2026-04-10
    2026-01-01  animal K2  arrived  taxon=Invented alpha  @act import-1
    2026-02-01  animal K2  moulted  @act import-1
    2026-02-15  animal K2  moulted  @corrects 4  @written 2026-05-01
    """
    entries = entries_of(inspect.getdoc(test_looking_back_knows_only_what_had_been_written) or "")
    known = {
        day: [e.number for e in written_by(entries, day, CLOCK)]
        for day in (date(2026, 3, 1), date(2026, 6, 1))
    }
    assert {date(2026, 3, 1): [1, 3, 4], date(2026, 6, 1): [1, 2, 3, 4, 5]} == known
    assert [date(2026, 2, 1), date(2026, 2, 8)] == past_days(entries, date(2026, 3, 18), every=7, most=3)
    assert [] == past_days(entries[:1], date(2026, 6, 1))


def test_looking_back_gives_what_would_have_been_kept() -> None:
    """The forecasts of a look back equal those that a desk opened on the same days would have kept."""
    entries = [replace_written(entry) for entry in entries_of(ROOM)]
    days = [date(2026, 1, 20), date(2026, 2, 17), date(2026, 3, 17)]
    found = look_back(entries, CLOCK, days, run="look-back-1", written=NOW)
    kept: list[Issued] = []
    for day in days:
        record = fold([e for e in entries if e.when.last and e.when.last <= day], day, CLOCK)
        kept += due(record, forecast(record), kept, written=NOW)
    assert len(kept) > 30
    assert [(each.animal, each.stage, each.day, each.odds) for each in kept] == [
        (each.animal, each.stage, each.day, each.odds) for each in found
    ]


def replace_written(entry: Entry) -> Entry:
    """The entry as written on the evening of the day it happened."""
    assert entry.when.last is not None
    return msgspec.structs.replace(
        entry, recorded=datetime.combine(entry.when.last, datetime.min.time(), UTC).replace(hour=20)
    )
