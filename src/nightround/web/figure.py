"""The figure of one animal: the staircase of its carapace, and where the next step is likely to fall."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Lock
from typing import TYPE_CHECKING, Any

from nightround.foundation.quantities import both
from nightround.reports.ahead import FanDay
from nightround.reports.room import AnimalReport
from nightround.reports.size import Step
from nightround.web.words import day_text

if TYPE_CHECKING:
    import altair as alt

NARROW, WIDE = 358, 600
WIDTHS = (NARROW, WIDE)
_KEPT_FIGURES = 64


@dataclass(frozen=True)
class Colours:
    """The colours of a figure in one light."""

    ground: str
    ink: str
    soft: str
    grid: str
    line: str
    band: str
    ahead: str


COLOURS = {
    "dark": Colours("#1e1a14", "#f0e9db", "#bdb19d", "#332c22", "#f2bc62", "#a87f3c", "#b9b5ea"),
    "light": Colours("#fffcf6", "#221c13", "#5b5140", "#e8e0cf", "#704100", "#b98439", "#46418c"),
    "night": Colours("#000000", "#ec0000", "#ec0000", "#3a0000", "#ec0000", "#900000", "#ec0000"),
}


@dataclass(frozen=True)
class Ahead:
    """Where the next step falls: days and carapace lengths that hold it four times in five.

    last   None when it may never come; sizes are None when they are not known
    """

    first: date
    middle: date
    last: date | None
    low_mm: float | None
    middle_mm: float | None
    high_mm: float | None

    @property
    def boxed(self) -> bool:
        """Whether every side of the box is known: none is drawn where nothing is known."""
        return None not in (self.last, self.low_mm, self.middle_mm, self.high_mm)


def height_of(width: int) -> int:
    """Return the height of a figure of that width, in px."""
    return round(width * 0.62)


def dated_steps(report: AnimalReport) -> list[Step]:
    """Return the steps that have a day to be drawn at."""
    steps = report.size.steps if report.size else ()
    return [step for step in steps if step.began is not None]


def ahead_of(report: AnimalReport) -> Ahead | None:
    """Return the next step's days and sizes, None when its middle cannot be told."""
    moult = report.forecast.next_moult if report.forecast else None
    if moult is None:
        return None
    chosen = [moult.quantiles_days.get(level) for level in ("0.10", "0.50", "0.90")]
    if chosen[1] is None or chosen[0] is None:
        return None
    first, middle, last = (
        report.on + timedelta(days=round(count)) if count is not None else None for count in chosen
    )
    if first is None or middle is None:
        return None
    sizes = (report.size.next_quantiles if report.size else None) or {}
    low, centre, high = (sizes.get(level) for level in ("0.10", "0.50", "0.90"))
    return Ahead(first, middle, last, low, centre, high)


def told_of(fan: Sequence[FanDay]) -> list[FanDay]:
    """Return a few days of the fan, for words and the table: its quarters."""
    if not fan:
        return []
    last = len(fan) - 1
    return [fan[round(last * share)] for share in (0.25, 0.5, 0.75, 1.0)]


def caption_of(report: AnimalReport, fan: Sequence[FanDay]) -> str:
    """Return what stands under the figure: which line and which band is what."""
    caption = "Solid: the carapace, with the range that holds it four times in five. Dots: measured. "
    caption += "Upright dashes: tonight."
    if fan:
        return caption + " Dashed line: half of the futures are smaller; the band holds four in five of them."
    ahead = ahead_of(report)
    if ahead is not None and ahead.boxed:
        caption += " Dashed box: where the next step falls four times in five."
    return caption


def words_of(report: AnimalReport, fan: Sequence[FanDay] = ()) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    steps = dated_steps(report)
    first, last = steps[0], steps[-1]
    words = (
        f"Staircase of carapace length over time: {len(steps)} steps from {both(first.carapace_mm, 'mm')} "
        f"to {both(last.carapace_mm, 'mm')}."
    )
    ahead = ahead_of(report)
    if ahead:
        words += f" Next step about {day_text(ahead.middle)}"
        words += f", to {both(ahead.middle_mm, 'mm')}." if ahead.middle_mm else "."
    for point in told_of(fan)[1::2]:
        words += (
            f" By {day_text(point.day)} about {both(point.middle_mm, 'mm')}, four times in five"
            f" {point.low_mm:.3g} to {point.high_mm:.3g} mm."
        )
    return words


def next_words(report: AnimalReport) -> str:
    """Return the next step in words, '' when nothing can be said."""
    ahead = ahead_of(report)
    if ahead is None:
        return ""
    if ahead.last is None:
        words = (
            f"nine times in ten after {ahead.first.isoformat()}; it may also have moulted for the last time"
        )
    else:
        words = f"about {ahead.middle.isoformat()}, four times in five between {ahead.first.isoformat()} and "
        words += f"{ahead.last.isoformat()}"
    if ahead.middle_mm and ahead.low_mm and ahead.high_mm:
        words += (
            f"; carapace about {both(ahead.middle_mm, 'mm')}, {ahead.low_mm:.3g} to {ahead.high_mm:.3g} mm"
        )
    return words


class Figures:
    """Figures drawn once each and kept: a figure of the same journal state never changes."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: OrderedDict[tuple[Any, ...], str] = OrderedDict()

    def svg(
        self, report: AnimalReport, state: int, width: int, light: str, fan: Sequence[FanDay] = ()
    ) -> str:
        """Return the figure as SVG text. Raises KeyError for an unknown light."""
        key = (report.code, state, report.on, width, light, bool(fan))
        with self._lock:
            if key not in self._kept:
                self._kept[key] = draw(report, width, COLOURS[light], fan)
                while len(self._kept) > _KEPT_FIGURES:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]


def draw(report: AnimalReport, width: int, colours: Colours, fan: Sequence[FanDay] = ()) -> str:
    """Return the figure as SVG text, drawn for `width` px."""
    import altair as alt
    import vl_convert

    layers = list(_layers(report, colours, fan))
    chart = alt.layer(*layers).properties(width=width - 96, height=height_of(width) - 64)
    chart = chart.resolve_axis(y="independent").configure(**configured(colours))
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))


def warm() -> None:
    """Load the drawing libraries, so that the first figure does not wait for them."""
    import altair
    import vl_convert

    data = altair.Chart(data_of([{"x": 1}])).mark_point().encode(x="x:Q")
    vl_convert.vegalite_to_svg(data.to_dict())


def _layers(report: AnimalReport, colours: Colours, fan: Sequence[FanDay]) -> Iterator[alt.Chart]:
    import altair as alt

    steps = dated_steps(report)
    rows = _step_rows(report, steps)
    x = alt.X("day:T", title=None, scale=alt.Scale(type="utc"), axis=_day_axis())
    y = alt.Y("mm:Q", title="carapace, mm", scale=alt.Scale(zero=False, nice=True))
    inches = alt.Axis(
        orient="right", title="inches", labelExpr="format(datum.value / 25.4, '.2f')", grid=False
    )
    band = alt.Chart(data_of(rows)).encode(x=x, x2="until:T", y=alt.Y("low:Q", axis=inches), y2="high:Q")
    yield band.mark_rect(color=colours.band, opacity=0.4)
    ahead = ahead_of(report)
    if fan:
        yield from _fan_layers(fan, colours)
    elif ahead is not None and ahead.boxed:
        yield from _ahead_layers(ahead, colours)
    yield (
        alt.Chart(data_of([{"day": report.on.isoformat()}]))
        .encode(x=x)
        .mark_rule(color=colours.soft, strokeDash=[2, 3])
    )
    line = alt.Chart(data_of([*rows, {**rows[-1], "day": report.on.isoformat()}])).encode(x=x, y=y)
    yield line.mark_line(interpolate="step-after", color=colours.line, strokeWidth=2.5)
    readings = _reading_rows(report)
    if readings:
        points = alt.Chart(data_of(readings)).encode(x=x, y=alt.Y("mm:Q", axis=None))
        yield points.mark_point(filled=True, size=42, color=colours.ink)


def _fan_layers(fan: Sequence[FanDay], colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    rows = [
        {"day": point.day.isoformat(), "low": point.low_mm, "mm": point.middle_mm, "high": point.high_mm}
        for point in fan
    ]
    x = alt.X("day:T", scale=alt.Scale(type="utc"))
    base = alt.Chart(data_of(rows)).encode(x=x)
    yield base.encode(y=alt.Y("low:Q", axis=None), y2="high:Q").mark_area(
        color=colours.ahead, opacity=0.28, interpolate="monotone"
    )
    for edge in ("low", "high"):
        yield base.encode(y=alt.Y(f"{edge}:Q", axis=None)).mark_line(
            color=colours.ahead, strokeWidth=1, interpolate="monotone"
        )
    yield base.encode(y=alt.Y("mm:Q", axis=None)).mark_line(
        color=colours.ahead, strokeWidth=2, strokeDash=[5, 3], interpolate="monotone"
    )


def _ahead_layers(ahead: Ahead, colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    row = {"day": ahead.first.isoformat(), "until": ahead.last.isoformat() if ahead.last else "",
           "low": ahead.low_mm, "high": ahead.high_mm,
           "middle": ahead.middle.isoformat(), "mm": ahead.middle_mm}  # fmt: skip
    base = alt.Chart(data_of([row]))
    scale = alt.Scale(type="utc")
    yield base.encode(
        x=alt.X("day:T", scale=scale), x2="until:T", y=alt.Y("low:Q", axis=None), y2="high:Q"
    ).mark_rect(
        fill=colours.ahead, fillOpacity=0.18, stroke=colours.ahead, strokeDash=[5, 3], strokeWidth=1.5
    )
    yield base.encode(x=alt.X("middle:T", scale=scale), y=alt.Y("mm:Q", axis=None)).mark_point(
        shape="diamond", size=110, color=colours.ahead, strokeWidth=2
    )


def data_of(rows: list[dict[str, Any]]) -> alt.Data:
    """Return rows as a figure's data."""
    import altair as alt

    return alt.Data(values=rows)  # type: ignore[no-untyped-call]


def _step_rows(report: AnimalReport, steps: list[Step]) -> list[dict[str, Any]]:
    ends = [step.began for step in steps[1:]] + [report.on]
    return [
        {
            "day": step.began.isoformat() if step.began else "",
            "until": end.isoformat() if end else "",
            "mm": step.carapace_mm,
            "low": step.low_mm,
            "high": step.high_mm,
        }
        for step, end in zip(steps, ends, strict=True)
    ]


def _reading_rows(report: AnimalReport) -> list[dict[str, Any]]:
    readings = report.size.readings if report.size else ()
    return [
        {"day": reading.day.isoformat(), "mm": reading.value}
        for reading in readings
        if reading.day is not None and reading.item == "carapace_length" and reading.unit == "mm"
    ]


def _day_axis() -> alt.Axis:
    import altair as alt

    return alt.Axis(labelOverlap=True, tickCount=5, labelFlush=True)


def configured(colours: Colours) -> dict[str, Any]:
    """Return what every figure looks like in these colours."""
    return {
        "background": colours.ground,
        "font": "sans-serif",
        "view": {"stroke": None},
        "axis": {
            "labelColor": colours.ink,
            "titleColor": colours.ink,
            "gridColor": colours.grid,
            "domainColor": colours.soft,
            "tickColor": colours.soft,
            "labelFontSize": 12,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
        },
    }
