"""The figure of one place's year: what was read day by day, where nothing was, and what is to be expected."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from nightround.foundation.quantities import both
from nightround.reports.climate import CourseDay, PlaceClimate
from nightround.web.figure import COLOURS, NARROW, WIDE, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

WIDTHS = (NARROW, WIDE)
DAY = timedelta(days=1)
# A threshold is drawn when it is no further than so many degrees from what is shown.
NEAR_C = 3.0


def height_of(width: int) -> int:
    """Return the height of a figure of that width, in px."""
    return round(width * 0.6) if width == NARROW else round(width * 0.5)


def words_of(place: PlaceClimate, on: date) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    if not place.course:
        return f"{place.place}: no reading in the last year."
    means = [each.mean_c for each in place.course if each.mean_c is not None]
    lows = [each.low_c if each.low_c is not None else each.mean_c for each in place.course]
    highs = [each.high_c if each.high_c is not None else each.mean_c for each in place.course]
    known_low, known_high = _numbers(lows), _numbers(highs)
    words = f"{place.place}: temperature of {len(place.course)} days read in the year to {on.isoformat()}"
    if means:
        words += f", mean {both(sum(means) / len(means), 'C')}"
    if known_low and known_high:
        words += f", from {both(min(known_low), 'C')} to {both(max(known_high), 'C')}"
    words += f"; {len(runs_of(place.course))} stretches without a gap."
    if place.ahead:
        last = place.ahead[-1]
        words += f" Expected by {last.day.isoformat()}: about {both(last.mean_c, 'C')}"
        words += f", four times in five {last.low_c:.1f} to {last.high_c:.1f} °C."
    return words


def _numbers(values: Sequence[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def runs_of(course: Sequence[CourseDay]) -> list[list[CourseDay]]:
    """Return the read days in stretches without a gap: nothing is drawn over a gap."""
    runs: list[list[CourseDay]] = []
    for each in course:
        if runs and each.day == runs[-1][-1].day + DAY:
            runs[-1].append(each)
        else:
            runs.append([each])
    return runs


@lru_cache(maxsize=64)
def draw(place: PlaceClimate, on: date, width: int, light: str) -> str:
    """Return the figure as SVG text, drawn for `width` px. Raises KeyError for an unknown light."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    colours = COLOURS[light]
    chart = alt.layer(*_layers(place, on, colours)).properties(width=width - 96, height=height_of(width) - 64)
    chart = chart.resolve_axis(y="independent").configure(**configured(colours))
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def _layers(place: PlaceClimate, on: date, colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    scale = alt.Scale(domain=list(_domain(place)), nice=False)
    axis = alt.Axis(labelOverlap=True, tickCount=5, labelFlush=True)
    x = alt.X("day:T", title=None, scale=alt.Scale(type="utc"), axis=axis)
    y = alt.Y("c:Q", title="°C", scale=scale)
    fahrenheit = alt.Axis(
        orient="right", title="°F", labelExpr="format(datum.value * 1.8 + 32, '.0f')", grid=False
    )
    rows = _rows_of(place)
    band = alt.Chart(data_of([row for row in rows if row["low"] is not None]))
    yield band.encode(
        x=x, y=alt.Y("low:Q", axis=fahrenheit, scale=scale), y2="high:Q", detail="run:N"
    ).mark_area(color=colours.band, opacity=0.45)
    yield from _limits(place, on, colours, scale)
    known = alt.Chart(data_of([row for row in rows if row["c"] is not None])).encode(x=x, y=y, detail="run:N")
    yield known.mark_line(color=colours.line, strokeWidth=1.6)
    alone = [row for row in rows if row["alone"] and row["c"] is not None]
    if alone:
        yield alt.Chart(data_of(alone)).encode(x=x, y=y).mark_point(filled=True, size=14, color=colours.line)
    hidden = alt.Y("low:Q", axis=None, scale=scale)
    if place.ahead:
        base = alt.Chart(
            data_of(
                [
                    {"day": each.day.isoformat(), "low": each.low_c, "c": each.mean_c, "high": each.high_c}
                    for each in place.ahead
                ]
            )
        ).encode(x=x)
        yield base.encode(y=hidden, y2="high:Q").mark_area(color=colours.ahead, opacity=0.28)
        yield base.encode(y=alt.Y("c:Q", axis=None, scale=scale)).mark_line(
            color=colours.ahead, strokeWidth=2, strokeDash=[5, 3]
        )
    yield (
        alt.Chart(data_of([{"day": on.isoformat()}]))
        .encode(x=x)
        .mark_rule(color=colours.soft, strokeDash=[2, 3])
    )


def _limits(place: PlaceClimate, on: date, colours: Colours, scale: Any) -> Iterator[alt.Chart]:
    """The thresholds that lie near what is shown, each with its figure."""
    import altair as alt

    low, high = _domain(place)
    for limit, what in ((place.thresholds.cold_c, "cold under"), (place.thresholds.heat_c, "hot over")):
        if limit is None or not low <= limit <= high:
            continue
        base = alt.Chart(data_of([{"c": limit, "words": f"{what} {limit:g} °C"}]))
        y = alt.Y("c:Q", axis=None, scale=scale)
        yield base.encode(y=y).mark_rule(color=colours.ink, strokeDash=[8, 4], strokeWidth=1)
        yield base.encode(y=y, text="words:N").mark_text(
            align="left", x=4, dy=-6 if what == "hot over" else 10, color=colours.ink, fontSize=11
        )


def _domain(place: PlaceClimate) -> tuple[float, float]:
    """Lowest and highest of what is shown, wide enough for thresholds that are near."""
    values = [c for each in place.course for c in (each.low_c, each.mean_c, each.high_c) if c is not None]
    values += [c for each in place.ahead for c in (each.low_c, each.high_c)]
    low, high = min(values, default=18.0), max(values, default=28.0)
    near = [
        limit
        for limit in (place.thresholds.cold_c, place.thresholds.heat_c)
        if limit is not None and low - NEAR_C <= limit <= high + NEAR_C
    ]
    return min([low, *near]) - 0.8, max([high, *near]) + 0.8


def _rows_of(place: PlaceClimate) -> list[dict[str, Any]]:
    return [
        {
            "day": each.day.isoformat(),
            "low": each.low_c if each.low_c is not None and each.high_c is not None else None,
            "c": each.mean_c,
            "high": each.high_c,
            "run": at,
            "alone": len(run) == 1,
        }
        for at, run in enumerate(runs_of(place.course))
        for each in run
    ]
