"""Findings and curves of a taxon in words, the same on the page and in the terminal."""

from __future__ import annotations

import math
from typing import Final

from nightround.foundation.estimate import Estimate
from nightround.foundation.quantities import both
from nightround.foundation.sources import OWN_RECORDS
from nightround.foundation.wording import counted, joined
from nightround.reports.taxon import (
    CLOCKS,
    BatchLoss,
    BatchLosses,
    Clock,
    CurvePoint,
    Finding,
    HomeUsed,
    LifeCurve,
    TaxonLine,
    Unit,
)

_YEAR: Final = 365.25
# Times shorter than this are said in days.
_LONG_DAYS: Final = 400.0
_OBSERVED: Final = {
    "growth_ratio": ("moult", "moults"),
    "intermoult_25": ("interval", "intervals"),
    "appetite": ("offer", "offers"),
    "temperature": ("animal-day", "animal-days"),
    "humidity": ("animal-day", "animal-days"),
    "moves": ("move", "moves"),
    "deaths": ("death", "deaths"),
}
_SINCE: Final[dict[Clock, str]] = {"age": "of age", "care": "here", "mature": "past the ultimate moult"}


def amount(value: float, unit: Unit, *, like: float | None = None) -> str:
    """A value in its unit, metric and US; times in days or years as suits `like` (usually the estimate)."""
    if not math.isfinite(value):
        return "later than all that was watched"
    if unit == "day":
        scale = value if like is None else like
        return f"{value / _YEAR:.1f} years" if scale >= _LONG_DAYS else counted(round(value), "day")
    written = {
        "ratio": f"× {value:.2f}",
        "share": f"{100 * value:.0f} %",
        "percent": f"{value:.0f} %",
        "a year": f"{value:.2f} an animal-year",
    }
    return written.get(unit) or both(value, unit)


def told(finding: Finding) -> str:
    """Its value with the range, or 'not enough yet' with what is missing."""
    estimate = finding.estimate
    if estimate is None:
        return f"not enough yet: {finding.missing}"
    return with_range(estimate, finding.unit)


def with_range(estimate: Estimate, unit: Unit) -> str:
    """A value with its range, the unit said once where it can be."""
    value, low, high = (
        amount(each, unit, like=estimate.value) for each in (estimate.value, estimate.low, estimate.high)
    )
    if "(" in value:
        return f"{value}, range {low} to {high}"
    before, after = ("× ", "") if unit == "ratio" else ("", value.partition(" ")[2])
    low, high = (each.removeprefix(before).removesuffix(after).strip() for each in (low, high))
    return (
        f"{value} ({low} to {high})" if unit != "a year" else f"{value.split()[0]} ({low} to {high}) {after}"
    )


def basis(finding: Finding) -> str:
    """What a finding rests on: interval, n, method, source and grade, and what is assumed."""
    estimate = finding.estimate
    if estimate is None:
        return ""
    one, many = _OBSERVED.get(finding.key, ("", ""))
    if finding.key.startswith("life_span"):
        one, many = "death", "deaths"
    elif finding.key.startswith("age_at_maturity"):
        one, many = "maturing", "maturings"
    counts = [counted(estimate.n_animals, "animal")]
    if one:
        counts.append(counted(estimate.n_observations, one, many))
    return "; ".join(
        [f"{100 * estimate.level:.0f} % range", joined(counts), estimate.method, sources(estimate),
         *estimate.assumptions]
    )  # fmt: skip


def sources(estimate: Estimate) -> str:
    """The sources of an estimate with their grades."""
    named = [source.citation if source == OWN_RECORDS else source.key for source in estimate.sources]
    return ", ".join(f"{name} ({each.grade})" for name, each in zip(named, estimate.sources, strict=True))


def title(curve: LifeCurve) -> str:
    """Whose curve it is, by which clock."""
    return f"{curve.who}, by {CLOCKS[curve.clock]}" if curve.clock != "mature" else curve.who


def counts(curve: LifeCurve) -> str:
    """n and deaths, and what became of the others."""
    parts = [counted(curve.n, "animal"), counted(curve.deaths, "death")]
    parts += [f"{curve.gone} sold or given"] if curve.gone else []
    parts += [f"{curve.lost} lost or escaped"] if curve.lost else []
    parts += [f"{curve.vague} of the deaths found later"] if curve.vague else []
    if curve.drawn and curve.behind < curve.n:
        parts.append(f"{curve.n - curve.behind} ended before the curve begins")
    return ", ".join(parts)


def median(curve: LifeCurve) -> str:
    """The day half of them reach, or why it is not known."""
    if curve.median is None:
        return f"median {curve.median_words}"
    return f"half reach {with_range(curve.median, 'day')}, {100 * curve.median.level:.0f} % range"


def begins(curve: LifeCurve) -> str:
    """From where on the curve holds, when that is not its zero."""
    if not curve.from_days:
        return ""
    return f"holds for those that reached {amount(curve.from_days, 'day')} {_SINCE[curve.clock]}"


def share(point: CurvePoint) -> str:
    """Survival at a point with its range."""
    if point.survival is None or point.low is None or point.high is None:
        return "not known"
    return f"{100 * point.survival:.0f} % ({100 * point.low:.0f} to {100 * point.high:.0f})"


def changed(curve: LifeCurve) -> str:
    """Where the curve ends if those sold or given died half, or twice, as fast later; '' if nobody left."""
    if not curve.half or not curve.double:
        return ""
    last = next((p.survival for p in reversed(curve.points) if p.survival is not None), None)
    if last is None:
        return ""
    ends = [100 * curve.half[-1][1], 100 * curve.double[-1][1]]
    return (
        f"at its end {100 * last:.0f} %; if those sold or given died half as fast later {ends[0]:.0f} %, "
        f"twice as fast {ends[1]:.0f} %"
    )


def loss(row: BatchLoss) -> str:
    """Losses of one batch with their denominator."""
    if row.share_low is None or row.share_high is None or row.low is None or row.high is None:
        return f"not enough yet: {row.words}"
    same = row.share_low == row.share_high
    shares = f"{100 * row.share_low:.0f} %" + ("" if same else f" to {100 * row.share_high:.0f} %")
    unknown = f", {row.unknown} of unknown fate" if row.unknown else ""
    return (
        f"{row.lost} of {row.started} dead{unknown}: {shares} lost "
        f"({100 * row.low:.0f} to {100 * row.high:.0f} %, 95 %)"
    )


def together(losses: BatchLosses) -> str:
    """Losses of all counted batches together."""
    if losses.share_low is None or losses.share_high is None:
        return losses.words
    shares = f"{100 * losses.share_low:.0f} to {100 * losses.share_high:.0f} % lost"
    wide = (
        ""
        if losses.low is None or losses.high is None
        else (f" ({100 * losses.low:.0f} to {100 * losses.high:.0f} %, 95 %)")
    )
    told = f"{losses.lost} of {losses.started} dead, {losses.unknown} of unknown fate"
    return f"Together {told}: {shares}{wide}, {losses.words}"


def home(used: HomeUsed) -> str:
    """The inner sizes of a home, as far as they are written."""
    sizes = [both(each, "mm") for each in (used.length_mm, used.width_mm, used.height_mm) if each is not None]
    name = counted(used.homes, "home") if used.homes > 1 else used.example
    return f"{name}, {' × '.join(sizes) or 'inner sizes not written'}"


def oldest(line: TaxonLine) -> str:
    """How old the oldest alive is, by the clock that is known."""
    if line.oldest_days is None or line.oldest_clock is None:
        return "none alive" if not line.alive else "not known"
    return f"{amount(line.oldest_days, 'day')} {_SINCE[line.oldest_clock]}"
