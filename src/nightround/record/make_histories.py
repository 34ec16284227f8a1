"""Histories for science, made from the record: moults with censoring, sizes on instars, daily climate."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from statistics import fmean
from typing import cast

from nightround.foundation.refusal import Refusal
from nightround.foundation.when import parse
from nightround.journal.kinds.animal import Moulted
from nightround.record.histories import (
    DailyClimate,
    Ending,
    MoultHistory,
    MoultWindow,
    SizeHistory,
    SizeReading,
)
from nightround.record.model import Animal, ClimateReading, Measurement, Place, Record
from nightround.record.moults import SAME_MOULT_DAYS, dated_windows, distinct
from nightround.record.wintering import wintered

# A lost leg grows back short and is whole after the third moult or so (common practice, no source).
MOULTS_TO_REGROW = 2
DAY = timedelta(days=1)
LONGEST_MEAN_DAYS = 31
"""A mean dated by an interval counts for each of its days up to a month; a longer one says too little."""
_ENDINGS: dict[str, Ending] = {"alive": "running", "dead": "died", "left": "left", "escaped": "escaped"}


def moult_windows(record: Record, animal: Animal) -> tuple[MoultWindow, ...]:
    """Return the animal's moults as windows: written twice counted once, none after its end."""
    windows = distinct(dated_windows(animal, last_checked(record, animal)))
    end = animal.ended.last if animal.ended is not None else None
    return tuple(w for w in windows if end is None or w.first <= end)


def last_checked(record: Record, animal: Animal) -> dict[int, date]:
    """Return, by number of the moult, the day that its entry names as surely before it."""
    said: dict[int, date] = {}
    for moult in animal.moults:
        entry = record.entries.get(moult.number)
        text = cast(Moulted, entry.body).last_checked if entry is not None else ""
        if not text:
            continue
        try:
            day = parse(text, record.clock).last
        except Refusal:  # the fold put down a problem
            continue
        if day is not None:
            said[moult.number] = day
    return said


def moult_histories(record: Record) -> dict[str, MoultHistory]:
    """Return the moults of every animal, by code, with censoring and late entry."""
    return {code: moult_history(record, animal) for code, animal in record.animals.items()}


def moult_history(record: Record, animal: Animal) -> MoultHistory:
    """Return the moults of one animal, with censoring and late entry."""
    windows = moult_windows(record, animal)
    taken, offered = _meals(animal)
    stays = _stays(record, animal, windows)
    taxon = record.taxa.get(animal.taxon)
    return MoultHistory(
        animal=animal.code,
        taxon=animal.taxon,
        group=taxon.group if taxon is not None else "",
        sex=animal.sex,
        hatched_first=animal.hatched.first,
        hatched_last=animal.hatched.last,
        under_watch=animal.arrived.last or animal.promoted.last,
        moults=windows,
        last_look=_last_look(animal, windows),
        ending=_ENDINGS[animal.status],
        stays=stays,
        mature_since=animal.matured.last if animal.matured is not None else None,
        legs_lost=animal.injuries,
        taken=taken,
        offered=offered,
        wintered=wintered(record, animal, stays),
    )


def _last_look(animal: Animal, windows: tuple[MoultWindow, ...]) -> date | None:
    """Return the day to which the running interval is known to have gone without a moult."""
    look = animal.last_look
    if look is not None and animal.ended is not None and animal.ended.last is not None:
        look = min(look, animal.ended.last)
    if look is not None and windows:
        look = max(look, windows[-1].last)
    return look


def _meals(animal: Animal) -> tuple[tuple[date, ...], tuple[tuple[date, str], ...]]:
    known = [
        (offer.when.last, offer.outcome)
        for offer in animal.offers
        if offer.outcome in ("taken", "refused", "uneaten") and offer.when.last is not None
    ]
    return tuple(day for day, outcome in known if outcome == "taken"), tuple(known)


def _stays(
    record: Record, animal: Animal, windows: tuple[MoultWindow, ...]
) -> tuple[tuple[str, date, date], ...]:
    """Return (place, first, last) without gaps from the first day that matters to the last.

    Days before the first known stay have an unknown place; a running stay lasts to the record's day.
    """
    end = animal.ended.last if animal.ended is not None and animal.ended.last is not None else record.on
    dated = [day for day in (animal.hatched.first, *(w.first for w in windows), animal.last_look) if day]
    begin = min(dated, default=None)
    stays: list[tuple[str, date, date]] = []
    for stay in animal.stays:
        first = stay.first or begin or stay.last or end
        last = min(stay.last, end) if stay.last is not None else end
        if stays and first > stays[-1][2] + DAY:
            stays.append(("", stays[-1][2] + DAY, first - DAY))
        if first <= last:
            stays.append((stay.place, first, last))
    if not stays:
        return (("", begin, end),) if begin is not None and begin <= end else ()
    if begin is not None and begin < stays[0][1]:
        stays.insert(0, ("", begin, stays[0][1] - DAY))
    return tuple(stays)


def size_histories(record: Record) -> dict[str, SizeHistory]:
    """Return the measurements of every animal, by code, each placed on its instar."""
    return {code: _size_history(record, animal) for code, animal in record.animals.items()}


def _size_history(record: Record, animal: Animal) -> SizeHistory:
    windows = moult_windows(record, animal)
    placed = ((m, instar_of(m, windows)) for m in animal.measurements)
    taxon = record.taxa.get(animal.taxon)
    return SizeHistory(
        animal=animal.code,
        taxon=animal.taxon,
        group=taxon.group if taxon is not None else "",
        sex=animal.sex,
        n_instars=len(windows) + 1,
        readings=tuple(
            SizeReading(
                instar, m.item, m.value, m.on, m.posture, m.when.last, _short_legs(animal, windows, m, instar)
            )
            for m, instar in placed
            if instar is not None
        ),
        mature_instar=_mature_instar(animal, windows),
        legs_lost=animal.legs_lost,
    )


def _short_legs(animal: Animal, windows: tuple[MoultWindow, ...], reading: Measurement, instar: int) -> bool:
    """Whether it is a leg span of an animal whose legs were missing then, or still growing back."""
    day = reading.when.last
    if reading.item != "leg_span" or day is None:
        return False
    return any(
        lost <= day and 0 <= instar - sum(w.last <= lost for w in windows) <= MOULTS_TO_REGROW
        for lost, number in animal.injuries
        if number > 0
    )


def _mature_instar(animal: Animal, windows: tuple[MoultWindow, ...]) -> int | None:
    if animal.matured is None or animal.matured.last is None:
        return None
    day = animal.matured.last
    return sum(w.last <= day for w in windows)


def instar_of(reading: Measurement, windows: tuple[MoultWindow, ...]) -> int | None:
    """Return how many of the moults came before what was measured, None where that cannot be told.

    A shed skin is the instar before the latest moult begun by its day (or up to three days later: skins and
    moults are written on neighbouring days). An animal measured on the day of a moult has moulted. A carapace
    within a moult's window that may be of the skin or of the animal belongs to neither.
    """
    day = reading.when.last
    if day is None:
        return 0 if not windows else None
    if reading.on == "shed_skin":
        return _instar_of_skin(day, windows)
    either = reading.on is None and reading.item in ("carapace_length", "carapace_width")
    if either and any(w.first <= day <= w.last for w in windows):
        return None
    return sum(w.last <= day for w in windows)


def _instar_of_skin(day: date, windows: tuple[MoultWindow, ...]) -> int | None:
    begun = [place for place, w in enumerate(windows) if w.first <= day]
    soon = [place for place, w in enumerate(windows) if day < w.first <= day + SAME_MOULT_DAYS * DAY]
    if soon and not (begun and windows[begun[-1]].last == day):
        return soon[0]
    return begun[-1] if begun else None


def daily_climate(record: Record) -> dict[str, DailyClimate]:
    """Return the daily means of every place, by name; days without a reading are absent."""
    return {name: _climate_of(name, place) for name, place in record.places.items()}


def _climate_of(name: str, place: Place) -> DailyClimate:
    low, high = _extremes(place)
    return DailyClimate(
        place=name,
        temperature_c=_daily(place.readings, "temperature_c"),
        humidity_percent=_daily(place.readings, "humidity_percent"),
        expected_c=_daily(place.expected, "temperature_c", latest=True),
        low_c=low,
        high_c=high,
    )


def _extremes(place: Place) -> tuple[dict[date, float], dict[date, float]]:
    """Lowest and highest by day: of a logger, of a thermometer with a memory, of several moments of a day."""
    shown: list[tuple[date, float]] = []
    low: dict[date, float] = {}
    high: dict[date, float] = {}
    moments: dict[date, list[float]] = {}
    for reading in place.readings:
        day, value = reading.when.last, reading.temperature_c
        if day is None or value is None or day != reading.when.first:
            continue
        if reading.statistic == "min":
            low[day] = min(value, low.get(day, value))
        elif reading.statistic == "max":
            high[day] = max(value, high.get(day, value))
        elif reading.statistic == "reading" or reading.when.instant is not None:
            moments.setdefault(day, []).append(value)
    shown += [(day, value) for day, values in moments.items() if len(values) > 1 for value in values]
    lows = [(each.day, each.low_c) for each in place.logged if each.low_c is not None]
    highs = [(each.day, each.high_c) for each in place.logged if each.high_c is not None]
    for day, value in (*shown, *lows):
        low[day] = min(value, low.get(day, value))
    for day, value in (*shown, *highs):
        high[day] = max(value, high.get(day, value))
    return low, high


def _daily(readings: Iterable[ClimateReading], field: str, *, latest: bool = False) -> dict[date, float]:
    """Return day → mean: a mean of the day, else the mean of its readings, else halfway from min to max.

    latest   of several means for one day the last one written holds, instead of their average
    """
    by_day: dict[date, dict[str, list[float]]] = {}
    for reading in readings:
        value = getattr(reading, field)
        first, last = reading.when.first, reading.when.last
        if value is None or first is None or last is None or (last - first).days >= LONGEST_MEAN_DAYS:
            continue
        statistic = reading.statistic
        if reading.when.instant is not None and statistic == "mean":
            statistic = "reading"
        day = first
        while day <= last:
            by_day.setdefault(day, {}).setdefault(statistic, []).append(value)
            day += DAY
    means = ((day, _mean_of_day(kinds, latest)) for day, kinds in by_day.items())
    return {day: mean for day, mean in sorted(means) if mean is not None}


def _mean_of_day(kinds: dict[str, list[float]], latest: bool) -> float | None:
    for statistic in ("mean", "reading"):
        if statistic in kinds:
            return kinds[statistic][-1] if latest else fmean(kinds[statistic])
    if "min" in kinds and "max" in kinds:
        return (min(kinds["min"]) + max(kinds["max"])) / 2
    return None
