"""The figure of the larder: prey needed and prey in the house by week, one strip for each length."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from nightround.reports.larder import LarderReport, SizeClass
from nightround.web.figure import COLOURS, NARROW, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

STRIP = {True: 64, False: 76}
_AROUND = 36


def shown(report: LarderReport) -> tuple[SizeClass, ...]:
    """Return the lengths of which anything is needed or in the house."""
    return tuple(
        each for each in report.classes
        if any(need.high >= 0.5 for need in each.needed) or any(number >= 0.5 for number in each.stock)
    )  # fmt: skip


def height_of(report: LarderReport, width: int) -> int:
    """Return the height of the figure at that width, in px."""
    return _AROUND + (STRIP[width == NARROW] + 26) * len(shown(report))


def words_of(report: LarderReport) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    told = [
        f"{each.words}: about {each.needed[0].middle:.0f} needed and {each.stock[0]:.0f} in the house in the "
        f"first week, {each.needed[-1].middle:.0f} and {each.stock[-1]:.0f} in the last"
        for each in shown(report)
    ]
    return f"Prey needed and in the house over {len(report.weeks)} weeks. {'; '.join(told)}."


@lru_cache(maxsize=32)
def draw(report: LarderReport, width: int, light: str) -> str:
    """Return the figure as SVG text, drawn for `width` px. Raises KeyError for an unknown light."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    colours = COLOURS[light]
    strip = STRIP[width == NARROW]
    lengths = [each.words for each in shown(report)]
    layered = alt.layer(*_layers(colours), data=data_of(_rows(report)))
    layered = layered.properties(width=width - 84, height=strip)
    row = alt.Row("length:N", sort=lengths, title=None, header=_header(colours))
    chart = layered.facet(row=row, spacing=10).resolve_scale(y="independent").configure(**configured(colours))
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def _header(colours: Colours) -> Any:
    import altair as alt

    return alt.Header(
        labelOrient="top", labelAnchor="start", labelAngle=0, labelPadding=2, labelColor=colours.ink,
        labelFontSize=12,
    )  # fmt: skip


def _layers(colours: Colours) -> list[alt.Chart]:
    import altair as alt

    axis = alt.Axis(labelOverlap=True, tickCount=4, labelFlush=True, format="%d %b")
    x = alt.X("week:T", title=None, scale=alt.Scale(type="utc"), axis=axis)
    counts = alt.Axis(tickCount=3, title=None)
    base = alt.Chart().encode(x=x)
    return [
        base.encode(y=alt.Y("low:Q", axis=counts), y2="high:Q").mark_area(color=colours.band, opacity=0.4),
        base.encode(y=alt.Y("needed:Q", axis=counts)).mark_line(color=colours.line, strokeWidth=2),
        base.encode(y=alt.Y("stock:Q", axis=counts)).mark_line(
            color=colours.ahead, strokeWidth=2, strokeDash=[5, 3], interpolate="step-after"
        ),
    ]


def _rows(report: LarderReport) -> list[dict[str, Any]]:
    return [
        {
            "length": each.words, "week": week.isoformat(), "low": need.low, "needed": need.middle,
            "high": need.high, "stock": stock,
        }
        for each in shown(report)
        for week, need, stock in zip(report.weeks, each.needed, each.stock, strict=True)
    ]  # fmt: skip
