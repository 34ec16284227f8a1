"""The figure of the homes' plan: who lives where, when each moves, and when the home left is outgrown."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from nightround.reports.homes import Course, HomesReport
from nightround.web.figure import COLOURS, NARROW, WIDE, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

WIDTHS = (NARROW, WIDE)
ROW = 26
MOST_ROWS = 40
_AROUND = 72


def shown(report: HomesReport) -> tuple[Course, ...]:
    """Return the animals that move, the soonest first, as many as a figure has room for."""
    moving = [course for course in report.courses if course.moves]
    return tuple(sorted(moving, key=lambda course: (course.moves[0].day, course.animal))[:MOST_ROWS])


def height_of(report: HomesReport) -> int:
    """Return the height of the figure, in px."""
    return _AROUND + ROW * len(shown(report))


def words_of(report: HomesReport) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    told = [
        f"{course.animal} into {move.to} in the fortnight from {move.day.isoformat()}"
        for course in shown(report)
        for move in course.moves
    ]
    return f"Who moves when, until {report.until.isoformat()}. {'; '.join(told)}."


@lru_cache(maxsize=32)
def draw(report: HomesReport, width: int, light: str) -> str:
    """Return the figure as SVG text, drawn for `width` px. Raises KeyError for an unknown light."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    colours = COLOURS[light]
    chart = alt.layer(*_layers(report, colours)).properties(width=width - 84, height=ROW * len(shown(report)))
    return str(vl_convert.vegalite_to_svg(chart.configure(**configured(colours)).to_dict()))


def _layers(report: HomesReport, colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    courses = shown(report)
    ends = [report.on.isoformat(), report.until.isoformat()]
    scale = alt.Scale(type="utc", domain=ends)
    axis = alt.Axis(labelOverlap=True, tickCount=5, labelFlush=True, format="%b %Y")
    x = alt.X("day:T", title=None, scale=scale, axis=axis)
    names = [course.animal for course in courses]
    y = alt.Y("animal:N", title=None, sort=names, axis=alt.Axis(labelLimit=72))
    stays = alt.Chart(data_of([row for course in courses for row in _stays(course, report.on, report.until)]))
    yield stays.encode(
        x=x, x2="until:T", y=y,
        opacity=alt.Opacity("number:O", scale=alt.Scale(domain=[0, 1, 2, 3], range=[0.3, 0.55, 0.8, 1.0]),
                            legend=None),
    ).mark_bar(color=colours.band, height=12)  # fmt: skip
    windows = [row for course in courses for row in _windows(course, report.until)]
    if windows:
        base = alt.Chart(data_of(windows)).encode(y=y)
        yield base.encode(x=x, x2="until:T").mark_rule(color=colours.ahead, strokeWidth=2)
        middles = [row for row in windows if row["middle"]]
        if middles:
            yield (
                alt.Chart(data_of(middles))
                .encode(x=alt.X("middle:T", scale=scale), y=y)
                .mark_tick(color=colours.ahead, thickness=2, height=12)
            )
    moves = [{"animal": m.animal, "day": m.day.isoformat()} for course in courses for m in course.moves]
    yield (
        alt.Chart(data_of(moves))
        .encode(x=x, y=y)
        .mark_point(filled=True, shape="diamond", size=90, color=colours.ink, opacity=1)
    )


def _stays(course: Course, on: date, until: date) -> list[dict[str, Any]]:
    """One bar for each home of an animal; the first begins tonight."""
    days = [on, *(move.day for move in course.moves), until]
    return [
        {"animal": course.animal, "day": begin.isoformat(), "until": end.isoformat(), "number": number}
        for number, (begin, end) in enumerate(zip(days, days[1:], strict=False))
    ]


def _windows(course: Course, until: date) -> list[dict[str, Any]]:
    """From one in ten to nine in ten that the home left is outgrown, as far as the plan looks."""
    rows = []
    for move in course.moves:
        window = move.outgrows
        if window is None or window.early is None:
            continue
        late = min(window.late or until, until)
        middle = window.middle.isoformat() if window.middle is not None else ""
        rows.append(
            {
                "animal": move.animal, "day": window.early.isoformat(), "until": late.isoformat(),
                "middle": middle,
            }
        )  # fmt: skip
    return rows
