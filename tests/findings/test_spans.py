"""Drawn spans of a whole room on days to come: agreeing with single futures, never invented."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from nightround.findings.growth import room_futures
from nightround.findings.moult import clock_odds
from nightround.findings.spans import RoomSpans, room_spans
from nightround.foundation.refusal import Refusal
from nightround.journal.store import Journal
from nightround.record.fold import fold
from nightround.record.model import Record
from nightround.simulate import room
from nightround.simulate.truth import SimulatedRoom

WEEKS = 40


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> tuple[SimulatedRoom, Record, RoomSpans]:
    """An invented room of 60 animals, with the spans drawn from what was known 300 days before its end."""
    invented = room(2, animals=60, years=2.0, end=date(2026, 11, 20))
    journal = Journal.create(tmp_path_factory.mktemp("spans") / "room.sqlite", time_zone="Europe/Paris")
    journal.append(invented.drafts)
    record = fold(journal.entries(), invented.end - timedelta(days=300), journal.clock)
    journal.close()
    return invented, record, room_spans(record, clock_odds(record), days_of(record), 200)


def days_of(record: Record) -> list[date]:
    """Every second week."""
    return [record.on + timedelta(weeks=2 * step) for step in range(WEEKS // 2)]


def test_every_living_animal_is_there_once(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Arrays are draws by living animals by days, in the order of the codes."""
    _, record, spans = seen
    assert list(spans.codes) == [animal.code for animal in record.living()]
    assert spans.span_mm.shape == (200, len(spans.codes), WEEKS // 2)
    assert spans.carapace_mm.shape == spans.span_mm.shape
    assert spans.moult_day.shape[1:] == (200, len(spans.codes))


def test_never_measured_has_no_size(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Sizes are NaN exactly where no reading is believed: unknown is never a number."""
    _, _, spans = seen
    unmeasured = spans.readings == 0
    assert np.array_equal(np.isnan(spans.span_mm).all(axis=(0, 2)), unmeasured)
    assert np.array_equal(np.isnan(spans.span_mm).any(axis=(0, 2)), unmeasured)


def test_sizes_change_only_at_moults(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Between two days without a drawn moult the span stays what it was."""
    _, _, spans = seen
    known = spans.readings > 0
    for column, (before, after) in enumerate(zip(spans.ahead, spans.ahead[1:], strict=False)):
        moulted = ((spans.moult_day > before) & (spans.moult_day <= after)).any(axis=0)
        same = spans.span_mm[:, :, column] == spans.span_mm[:, :, column + 1]
        assert same[:, known][~moulted[:, known]].all()


def test_agrees_with_the_growth_of_single_animals(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Medians agree with those of `room_futures`, another draw of the same futures, within 6 % on average."""
    _, record, spans = seen
    odds = clock_odds(record)
    assert odds is not None
    futures = room_futures(record, odds, draws=200)
    far = []
    for row, code in enumerate(spans.codes):
        other = futures.size_on(code, spans.days[-1])
        if other is not None:
            far.append(abs(np.log(np.median(spans.span_mm[:, row, -1]) / other.quantiles["0.50"])))
    assert len(far) > 20
    assert float(np.mean(far)) < 0.06


def test_true_sizes_lie_inside_the_draws(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """The invented room's true carapaces lie in the 10-90 % of draws for 60-97 % of those still alive."""
    invented, record, spans = seen
    inside = []
    for row, code in enumerate(spans.codes):
        true = invented.truth.animals.get(code)
        if true is None or not spans.measured(code) or (true.died and true.died <= spans.days[-1]):
            continue
        size = true.carapace_mm[sum(day <= spans.days[-1] for day in true.moults)]
        low, high = np.quantile(spans.carapace_mm[:, row, -1], (0.1, 0.9))
        inside.append(bool(low <= size <= high))
    assert len(inside) >= 15
    assert 0.60 <= float(np.mean(inside)) <= 0.97


def test_the_same_numbers_come_again(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """The same record, days and seed give the same draws."""
    _, record, spans = seen
    again = room_spans(record, clock_odds(record), days_of(record), 200)
    assert np.array_equal(spans.span_mm, again.span_mm, equal_nan=True)


def test_reached_is_the_first_day_at_the_span(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Days until a span is reached are 0 for one reached already and infinite for one out of reach."""
    _, _, spans = seen
    code = spans.codes[int(np.flatnonzero(spans.readings > 0)[0])]
    assert (spans.reached(code, 0.1) == 0.0).all()
    assert np.isinf(spans.reached(code, 10_000.0)).all()


def test_days_in_the_past_are_refused(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Days before the record's, and days that do not rise, are refused."""
    _, record, _ = seen
    odds = clock_odds(record)
    for days in ([record.on - timedelta(days=1)], [record.on, record.on], []):
        with pytest.raises(Refusal):
            room_spans(record, odds, days)


def test_an_empty_room_has_no_spans(seen: tuple[SimulatedRoom, Record, RoomSpans]) -> None:
    """Without animals the arrays are empty and nothing is refused."""
    _, record, _ = seen
    spans = room_spans(Record(record.on, record.clock), None, [record.on])
    assert spans.codes == ()
    assert spans.span_mm.shape[1] == 0
