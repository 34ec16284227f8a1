"""True sizes from the size staircase, held against claimed sizes of adults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from nightround.findings.claims_read import SIZE_KINDS, Limits
from nightround.findings.claims_words import Found, of_e
from nightround.findings.size import RoomFit, fit_room
from nightround.foundation.quantities import both
from nightround.foundation.wording import counted, day_words
from nightround.record.model import Animal, Record
from nightround.reports.claims import Evidence
from nightround.science.claims.bets import (
    CONTRADICTED,
    MOSTLY,
    OUTSIDE_MIDDLE,
    OUTSIDE_TYPICAL,
    SURE,
    Floats,
    evidence,
    mixed,
    more_needed,
)
from nightround.science.claims.sizes import chance_any_beyond, chance_beyond, reading_that_settles
from nightround.science.size.forecast import size_at

ADULT: Final = 0.95
_SHOWN: Final = 12
_ERRORS: Final = {"leg_span": 0.10, "carapace_length": 0.02}
"""Error of one good reading, log: legs stretched beside a ruler, a shed carapace under a calliper."""
_PART_ITEMS: Final = {
    "leg_span": ("leg_span",), "carapace_length": ("carapace_length", "carapace_width"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes of the animals that were ever measured, in log mm; arrays (n,)."""

    animals: tuple[Animal, ...]
    mean: Floats
    sd: Floats
    shared: Floats
    adult: np.ndarray[tuple[int], np.dtype[np.bool_]]
    readings: tuple[int, ...]

    def words(self, at: int) -> str:
        """The size now, with the range that holds it eight times in ten, and what it rests on."""
        low, middle, high = (
            float(np.exp(self.mean[at] + z * self.sd[at])) for z in (-1.2816, 0.0, 1.2816)
        )  # fmt: skip
        state = "adult" if self.adult[at] else "not known to be adult"
        return (
            f"{both(middle, 'mm', 3)}, 80 % {both(low, 'mm', 3)} to {both(high, 'mm', 3)}, "
            f"{counted(self.readings[at], 'reading')}, {state}"
        )


def true_sizes(record: Record, animals: Sequence[Animal], part: str) -> Sizes:
    """Return the true size of a part of each animal that was measured, after its last moult on record."""
    room = fit_room(record)
    rows = {history.animal: row for row, history in enumerate(room.histories)}
    known = [animal for animal in animals if room.n_readings[rows[animal.code]] > 0]
    at = [rows[animal.code] for animal in known]
    if not at:
        none = np.zeros(0)
        return Sizes((), none, none, none, np.zeros(0, dtype=np.bool_), ())
    outlook = size_at(room.fit, part)
    adult = np.asarray(room.fit.mature_now[at] >= ADULT)
    return Sizes(
        tuple(known), outlook.mean[at], outlook.sd[at], shared_doubt(room, at, part), adult,
        tuple(int(room.n_readings[row]) for row in at),
    )  # fmt: skip


def shared_doubt(room: RoomFit, rows: list[int], part: str) -> Floats:
    """Doubt that animals of a taxon share: how the part goes with the carapace, and the ruler's biases."""
    fit = room.fit
    names = [f"offset:{part}", *(c.bias.name for c in fit.data.priors.channels if c.part == part and c.bias)]
    columns = [fit.coefficient_names.index(name) for name in names if name in fit.coefficient_names]
    taxon = fit.data.taxon_of_animal[rows]
    if not columns:
        return np.zeros(len(rows))
    return np.asarray(np.sqrt((fit.coefficient_sd[taxon][:, columns] ** 2).sum(axis=1)), dtype=np.float64)


def judge_sizes(
    record: Record, animals: Sequence[Animal], limits: Limits, kind: str, moults: Mapping[str, date]
) -> Found:
    """Hold true sizes against a claim. `moults`: about when each animal moults next, where known."""
    part = SIZE_KINDS[kind]
    sizes = true_sizes(record, animals, part)
    if limits.sense in ("maximum", "minimum"):
        return _extreme(record, sizes, limits, part, moults)
    return _typical(sizes, limits, part)


def _extreme(
    record: Record, sizes: Sizes, limits: Limits, part: str, moults: Mapping[str, date]
) -> Found:  # fmt: skip
    top = limits.sense == "maximum"
    limit = limits.high if top else limits.low
    use = np.ones(len(sizes.animals), dtype=np.bool_) if top else sizes.adult
    mean, sd, shared = sizes.mean[use], sizes.sd[use], sizes.shared[use]
    log_limit = float(np.log(limit))
    chance = chance_any_beyond(mean, sd, shared, log_limit, below=not top)
    single = chance_beyond(sizes.mean, sizes.sd, log_limit, below=not top)
    adults = sizes.adult
    support = evidence(1.0 - single[adults], 1.0 - OUTSIDE_TYPICAL)
    sure = chance >= SURE
    standing = "contradicted" if sure else "supported" if support >= 20.0 and chance < 0.5 else "no_evidence"
    side = "larger" if top else "smaller, as an adult"
    words = (
        f"chance that some animal is truly {side}: {_percent(chance)}, from {counted(len(mean), 'animal')}"
        if len(mean)
        else "no animal that could speak was measured"
    )
    settle, day = ((), None) if sure else _settle(record, sizes, limit, part, top, moults)
    return Found(
        standing, words, None, support, chance, len(mean), _size_evidence(sizes, single, use, part),  # type: ignore[arg-type]
        settle, day, _assumed(sizes, limits, part),
    )  # fmt: skip


def _percent(chance: float) -> str:
    if chance > 0.999:
        return "over 99.9 %"
    return "under 0.1 %" if chance < 0.001 else f"{100 * chance:.1f} %"


def _typical(sizes: Sizes, limits: Limits, part: str) -> Found:
    adult = sizes.adult
    mean, sd = sizes.mean[adult], sizes.sd[adult]
    low = np.log(limits.low) if limits.low > 0 else -np.inf
    high = np.log(limits.high) if np.isfinite(limits.high) else np.inf
    below, above = chance_beyond(mean, sd, low, below=True), chance_beyond(mean, sd, high)
    outside = np.clip(below + above, 0.0, 1.0)
    if limits.sense == "middle":
        against = mixed(evidence(below, OUTSIDE_MIDDLE), evidence(above, OUTSIDE_MIDDLE))
    else:
        against = evidence(outside, OUTSIDE_TYPICAL)
    support = evidence(1.0 - outside, MOSTLY) if limits.sense == "typical" else 1.0
    n = len(mean)
    words = f"of {counted(n, 'adult')} measured about {outside.sum():.1f} truly lie outside"
    if limits.sense == "middle":
        words = (
            f"of {counted(n, 'adult')} measured about {above.sum():.1f} are truly larger, "
            f"{below.sum():.1f} smaller"
        )
    chances = np.zeros(len(sizes.animals))
    chances[adult] = outside
    more = more_needed(outside, OUTSIDE_TYPICAL) if limits.sense == "typical" else None
    settle = [] if more in (None, 0) else [f"contradicted by {counted(more or 0, 'more adult')} outside it"]
    inside = more_needed(1.0 - outside, MOSTLY) if limits.sense == "typical" else None
    settle += [] if inside in (None, 0) else [f"supported by {counted(inside or 0, 'more adult')} inside it"]
    if limits.sense == "middle":
        settle += _one_sided(below, above)
    settle += [f"measure adults and note them as mature: {_how(part)}"]
    return Found(
        of_e(against, support), words if n else "no adult was measured", against, support, None, n,
        _size_evidence(sizes, chances, adult, part), tuple(settle), None, _assumed(sizes, limits, part),
    )  # fmt: skip


def _one_sided(below: Floats, above: Floats) -> list[str]:
    """How many more adults on one side of a middle contradict it; the other side's bet is lost by then."""
    wanted = 2 * CONTRADICTED
    told = []
    for chances, side in ((above, "larger"), (below, "smaller")):
        more = more_needed(chances, OUTSIDE_MIDDLE, wanted)
        if more:
            told.append(f"contradicted by {counted(more, 'more adult')}, all of them {side}")
    return told


def _how(part: str) -> str:
    if part == "leg_span":
        return "legs stretched out beside a ruler, or the shed skin's carapace"
    return "the shed skin's carapace under a calliper"


def _assumed(sizes: Sizes, limits: Limits, part: str) -> tuple[str, ...]:
    told = [
        "true sizes are the size staircase's, with the doubt of every reading; a size misread or miswritten "
        "cannot be told from a large animal: measure what decides twice",
        "adult: noted as mature, or 95 % sure by size and growth",
    ]
    if part == "leg_span":
        told.append("leg span with legs stretched out; where none was read, from carapace and body")
    if limits.sense == "maximum":
        told.append("that no animal passes a maximum never proves it")
    return (*told, *limits.assumed)


def _size_evidence(
    sizes: Sizes, chance: Floats, use: np.ndarray[tuple[int], np.dtype[np.bool_]], part: str
) -> tuple[Evidence, ...]:
    order = sorted(range(len(sizes.animals)), key=lambda at: (not use[at], -chance[at], -sizes.mean[at]))
    found = []
    for at in order[:_SHOWN]:
        animal = sizes.animals[at]
        if not use[at]:
            speaks, tail = "nothing", ""
        else:
            speaks = "against" if chance[at] >= 0.5 else "open" if not sizes.adult[at] else "for"
            tail = f"; chance to lie beyond {_percent(float(chance[at]))}"
        items = (*_PART_ITEMS[part], "body_length")
        entries = tuple(m.number for m in animal.measurements if m.item in items)[-6:]
        found.append(Evidence(animal.code, sizes.words(at) + tail, speaks, entries))  # type: ignore[arg-type]
    return tuple(found)


def _settle(
    record: Record, sizes: Sizes, limit: float, part: str, top: bool, moults: Mapping[str, date]
) -> tuple[tuple[str, ...], date | None]:
    if not top:
        return (f"an adult that surely falls short of {both(limit, 'mm', 3)}: {_how(part)}",), None
    reading = reading_that_settles(limit, _ERRORS[part])
    told = [
        f"one reading of about {both(reading, 'mm', 3)} or more ({_how(part)}), or three nearer to it; "
        "note it as mature when it is",
    ]
    here = [at for at, animal in enumerate(sizes.animals) if animal.here and not animal.mature_male]
    if not here:
        return tuple(told), None
    largest = max(here, key=lambda at: float(sizes.mean[at]))
    code = sizes.animals[largest].code
    day = moults.get(code)
    when = f", about {day_words(day)}" if day else ", whose time is not known"
    told.insert(1, f"soonest after the next moult of {code}, the largest that still moults{when}")
    return tuple(told), day
