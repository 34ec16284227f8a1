"""The figure of the track record: of the moults said to come by a level, how many had."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from nightround.reports.track_record import STAGE_WORDS, Claim, TrackPart
from nightround.web.figure import NARROW, WIDE, Colours, data_of

if TYPE_CHECKING:
    import altair as alt

TOLD_LEVELS = (0.1, 0.5, 0.9)
WIDTHS = (NARROW, WIDE)


def height_of(width: int) -> int:
    """Return the height of the figure of that width, in px: nearly square, as both axes are shares."""
    return round(width * 0.92) if width == NARROW else round(width * 0.7)


def words_of(part: TrackPart) -> str:
    """Return the figure in a few sentences, for those who do not see it."""
    words = ["Share of moults that had come by each level that forecasts claimed."]
    for stage, claims in part.levels.items():
        told = [claim for claim in claims if claim.claimed in TOLD_LEVELS]
        if told:
            said = ", ".join(f"{100 * claim.claimed:.0f} %" for claim in told)
            seen = ", ".join(f"{100 * claim.seen.value:.0f} %" for claim in told)
            words.append(f"Forecasts {STAGE_WORDS[stage]}: where they said {said}, it was {seen}.")
    return " ".join(words)


def draw(part: TrackPart, width: int, colours: Colours) -> str:
    """Return the figure as SVG text, drawn for `width` px."""
    import altair as alt
    import vl_convert

    from nightround.web.figure import configured

    chart = alt.layer(*_layers(part, colours)).properties(width=width - 70, height=height_of(width) - 90)
    return str(vl_convert.vegalite_to_svg(chart.configure(**configured(colours)).to_dict()))


def _layers(part: TrackPart, colours: Colours) -> Iterator[alt.Chart]:
    import altair as alt

    scale = alt.Scale(domain=[0, 1], nice=False)
    axis = alt.Axis(format="%", tickCount=5)
    x = alt.X("claimed:Q", title="said to have come by then", scale=scale, axis=axis)
    title = "had come"
    y = alt.Y("seen:Q", title=title, scale=scale, axis=axis)
    yield (
        alt.Chart(data_of([{"claimed": 0, "seen": 0}, {"claimed": 1, "seen": 1}]))
        .encode(x=x, y=y)
        .mark_line(color=colours.soft, strokeDash=[2, 3])
    )
    looks = {"after_moult": (colours.band, colours.line, "circle", [1, 0]),
             "half_time": (colours.ahead, colours.ahead, "diamond", [6, 3])}  # fmt: skip
    for stage, claims in part.levels.items():
        band, line, shape, dash = looks[stage]
        base = alt.Chart(data_of([_row(claim, stage) for claim in claims]))
        yield base.encode(x=x, y=alt.Y("low:Q", title=title, scale=scale), y2="high:Q").mark_area(
            color=band, opacity=0.25
        )
        yield base.encode(x=x, y=y).mark_line(color=line, strokeWidth=2.5, strokeDash=dash)
        yield base.encode(x=x, y=y).mark_point(shape=shape, filled=True, size=36, color=line)


def _row(claim: Claim, stage: str) -> dict[str, Any]:
    seen = claim.seen
    return {"claimed": claim.claimed, "seen": seen.value, "low": seen.low, "high": seen.high, "stage": stage}
