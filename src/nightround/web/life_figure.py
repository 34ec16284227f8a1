"""The figure of a survival curve: steps with their band, and the curves if those sold had died otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from nightround.desk.taxon_words import amount, counts, share, title
from nightround.reports.taxon import CLOCKS, CurvePoint, LifeCurve
from nightround.web.figure import NARROW, WIDE, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

WIDTHS = (NARROW, WIDE)
_YEAR = 365.25
# Shorter curves are drawn in days.
_LONG_DAYS = 400.0
_TOLD = 4


def height_of(width: int) -> int:
    """Return the height of a figure of that width, in px."""
    return round(width * 0.7)


def words_of(curve: LifeCurve) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    rows = curve.table or curve.points
    step = max(1, len(rows) // _TOLD)
    told = [f"{share(point)} at {amount(point.days, 'day')}" for point in rows[::step]]
    return f"Survival, {title(curve)}: {counts(curve)}. Alive: {'; '.join(told)}."


def caption_of(curve: LifeCurve) -> str:
    """Return what stands under the figure: which line and which band is what."""
    caption = (
        f"Up: the share still alive. Across: {CLOCKS[curve.clock]}. Line: the estimate; band: its "
        f"{100 * curve.level:.0f} % range on each day. It ends where nobody was watched any more."
    )
    if curve.half and curve.double:
        caption += " Dashed: if those sold or given had died half (upper) or twice (lower) as fast later."
    return caption


def draw(curve: LifeCurve, width: int, colours: Colours) -> str:
    """Return the figure as SVG text, drawn for `width` px."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    chart = alt.layer(*_layers(curve, colours)).properties(width=width - 70, height=height_of(width) - 70)
    return str(vl_convert.vegalite_to_svg(chart.configure(**configured(colours)).to_dict()))


def _layers(curve: LifeCurve, colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    first, last = curve.from_days or 0.0, curve.to_days or 0.0
    per, unit = (_YEAR, "years") if last > _LONG_DAYS else (1.0, "days")
    scale = alt.Scale(domain=[0.0, max(last, 1.0) / per], nice=False)
    x = alt.X("time:Q", title=f"{CLOCKS[curve.clock]}, {unit}", scale=scale, axis=alt.Axis(tickCount=6))
    shares = alt.Scale(domain=[0, 1], nice=False)
    axis = alt.Axis(format="%", tickCount=5)
    y = alt.Y("share:Q", title="alive", scale=shares, axis=axis)
    # Steps alone would draw the band too wide or too narrow where animals join or leave between deaths.
    points = sorted({point.days: point for point in (*curve.table, *curve.points)}.items())
    every = _with_end(tuple(point for _, point in points), last)
    rows = [_row(point, per) for point in every if point.survival is not None]
    base = alt.Chart(data_of(rows))
    yield base.encode(x=x, y=alt.Y("low:Q", title="alive", scale=shares), y2="high:Q").mark_area(
        color=colours.band, opacity=0.25, interpolate="step-after"
    )
    for line in (curve.half, curve.double):
        if line:
            changed = [(first, 1.0), *line, (last, line[-1][1])]
            told = [{"time": day / per, "share": value} for day, value in changed]
            yield (
                alt.Chart(data_of(told))
                .encode(x=x, y=y)
                .mark_line(color=colours.ahead, strokeDash=[6, 3], interpolate="step-after")
            )
    # All live before the first day is over, also where somebody died on it.
    whole = alt.Chart(data_of([{"time": first / per, "share": 1.0}, *rows]))
    yield whole.encode(x=x, y=y).mark_line(color=colours.line, strokeWidth=2.5, interpolate="step-after")


def _with_end(points: tuple[CurvePoint, ...], last: float) -> tuple[CurvePoint, ...]:
    """The curve runs on to the last day anybody was watched."""
    if not points or points[-1].days >= last:
        return points
    end = points[-1]
    return (*points, CurvePoint(last, end.survival, end.low, end.high, end.at_risk))


def _row(point: CurvePoint, per: float) -> dict[str, Any]:
    return {"time": point.days / per, "share": point.survival, "low": point.low, "high": point.high}
