"""The figure of one home's moisture to come: surface and bottom, with the bands that hold them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

from nightround.reports.water import HomeWater, MoistureDay
from nightround.web.figure import COLOURS, NARROW, WIDE, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

WIDTHS = (NARROW, WIDE)
# Under this share of what stays after draining a layer feels dry.
DRY = 0.25


def height_of(width: int) -> int:
    """Return the height of a figure of that width, in px."""
    return round(width * 0.62) if width == NARROW else round(width * 0.4)


def words_of(home: HomeWater) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    if not home.course:
        return f"Home {home.home}: nothing to draw."
    last = home.course[-1]
    told = [
        f"{name} {now[1]:.0%} now ({now[0]:.0%} to {now[2]:.0%}), {then[1]:.0%} by {last.day.isoformat()}"
        for name, now, then in (
            ("bottom", home.course[0].bottom, last.bottom),
            ("surface", home.course[0].surface, last.surface),
        )
    ]
    return (
        f"Home {home.home}, nobody watering: share of what stays after draining. {told[0]}; {told[1]}."
        f" Under {DRY:.0%} it feels dry."
    )


@lru_cache(maxsize=64)
def draw(home: str, course: tuple[MoistureDay, ...], width: int, light: str) -> str:
    """Return the figure as SVG text, drawn for `width` px. Raises KeyError for an unknown light."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    colours = COLOURS[light]
    chart = alt.layer(*_layers(course, colours)).properties(width=width - 72, height=height_of(width) - 56)
    return str(vl_convert.vegalite_to_svg(chart.configure(**configured(colours)).to_dict()))


def _layers(course: tuple[MoistureDay, ...], colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    axis = alt.Axis(labelOverlap=True, tickCount=5, labelFlush=True)
    x = alt.X("day:T", title=None, scale=alt.Scale(type="utc"), axis=axis)
    scale = alt.Scale(domain=[0, 100], nice=False)
    y_axis = alt.Axis(values=[0, 25, 50, 75, 100], title="% of drained")
    for layer, colour, dash in (("surface", colours.ahead, [5, 3]), ("bottom", colours.line, [1, 0])):
        base = alt.Chart(_rows(course, layer)).encode(x=x)
        yield base.encode(y=alt.Y("low:Q", scale=scale, axis=y_axis), y2="high:Q").mark_area(
            color=colour, opacity=0.25
        )
        yield base.encode(y=alt.Y("middle:Q", scale=scale, axis=y_axis)).mark_line(
            color=colour, strokeWidth=2, strokeDash=dash
        )
    rule = alt.Chart(data_of([{"middle": 100 * DRY, "words": "feels dry below"}]))
    y = alt.Y("middle:Q", scale=scale, axis=y_axis)
    yield rule.encode(y=y).mark_rule(color=colours.ink, strokeDash=[8, 4], strokeWidth=1)
    yield rule.encode(y=y, text="words:N").mark_text(align="left", x=4, dy=10, color=colours.ink, fontSize=11)


def _rows(course: tuple[MoistureDay, ...], layer: str) -> alt.Data:
    rows = []
    for each in course:
        low, middle, high = each.surface if layer == "surface" else each.bottom
        row = {"day": each.day.isoformat(), "low": 100 * low, "middle": 100 * middle, "high": 100 * high}
        rows.append(row)
    return data_of(rows)
