"""The size staircase applied to a room's record: how big each animal is, was, and will be."""

from __future__ import annotations

import weakref
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

import numpy as np

from nightround.findings.maturity import MaturityRoom, maturity_room
from nightround.foundation.estimate import Estimate
from nightround.foundation.sources import OWN_RECORDS, Source
from nightround.record.histories import SizeHistory, SizeReading
from nightround.record.make_histories import moult_windows, size_histories
from nightround.record.model import Animal, Record
from nightround.reports.forecast import QUANTILES, NextSize
from nightround.reports.size import ReadingPoint, SizeReport, Step
from nightround.science.size.data import FEMALE, MALE, UNKNOWN, SizeData
from nightround.science.size.fit import SizeFit, fit_size
from nightround.science.size.forecast import Outlook, last_moult_unnoticed, next_size, size_at
from nightround.science.size.priors import REFERENCE_LOG_MM, SPIDER_PRIORS, CoefficientPrior, sources_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

METHOD: Final = "size staircase: log carapace smoothed over instars, taxa pooled in groups"
SHORT_LEGS: Final = (
    "spans read while legs were missing or growing back are shown, not counted: the answer is of whole legs"
)
_LENGTHS: Final = ("carapace_length", "leg_span", "body_length")
_Z80: Final = 1.2815515655446004
_SEXES: Final = {"female": FEMALE, "male": MALE}

# What was measured, on what, in which posture → channel of the fit. Not here: shown, but not fitted.
CHANNEL_OF: Final[dict[tuple[str, bool, str | None], str]] = {
    ("carapace_length", False, None): "carapace_length",
    ("carapace_length", True, None): "carapace_length_shed",
    ("carapace_width", False, None): "carapace_width",
    ("carapace_width", True, None): "carapace_width_shed",
    ("leg_span", False, None): "leg_span",
    ("leg_span", False, "bent"): "leg_span_bent",
    ("leg_span", False, "stretched"): "leg_span_stretched",
    ("leg_span", True, None): "leg_span_shed",
    ("body_length", False, None): "body_length",
    ("mass", False, None): "mass",
}


@dataclass(frozen=True, slots=True)
class ClockSize:
    """Log carapace length [log mm] of one animal per instar (instar k follows its k-th recorded moult).

    n_readings_of_animal, n_readings_of_taxon   0 and 0: the published prior only, wide
    """

    animal: str
    mean: tuple[float, ...]
    sd: tuple[float, ...]
    n_readings_of_animal: int
    n_readings_of_taxon: int


@dataclass(frozen=True)
class RoomFit:
    """The fit of a whole room and which row is which animal."""

    histories: tuple[SizeHistory, ...]
    fit: SizeFit
    n_readings: NDArray[np.int64]


def channel_of(reading: SizeReading) -> str | None:
    """Return the channel a reading enters the fit by, None when it does not.

    A shed skin has no mass, and a span of legs that are missing or growing back is not the animal's span.
    """
    if reading.short_legs:
        return None
    shed = reading.on == "shed_skin"
    posture = reading.posture if reading.item == "leg_span" and not shed else None
    return CHANNEL_OF.get((reading.item, shed, posture))


def to_size_data(histories: Sequence[SizeHistory]) -> SizeData:
    """Turn histories into arrays, one row an animal in the same order; taxa and groups numbered by name.

    A taxon without a group is a group of its own: nothing says whom it is like.
    """
    taxa = sorted({history.taxon for history in histories})
    group_name = {history.taxon: history.group or f"\0{history.taxon}" for history in histories}
    groups = sorted(set(group_name.values()))
    rows = [
        (animal, reading.instar, SPIDER_PRIORS.channel_index(channel), reading.value)
        for animal, history in enumerate(histories)
        for reading in history.readings
        if (channel := channel_of(reading)) is not None and reading.value > 0
    ]
    owner, instar, channel_index, value = zip(*rows, strict=True) if rows else ((), (), (), ())
    taxon_index = {taxon: index for index, taxon in enumerate(taxa)}
    return SizeData(
        _integers(taxon_index[history.taxon] for history in histories),
        _integers(groups.index(group_name[taxon]) for taxon in taxa),
        _integers(history.n_instars for history in histories),
        _integers(_SEXES.get(history.sex or "", UNKNOWN) for history in histories),
        _integers(-1 if history.mature_instar is None else history.mature_instar for history in histories),
        _integers(owner),
        _integers(instar),
        _integers(channel_index),
        np.array(value, dtype=np.float64),
    )


def _integers(values: Iterable[int]) -> NDArray[np.int64]:
    return np.array(list(values), dtype=np.int64)


_last: list[tuple[weakref.ref[Record], RoomFit]] = []


def fit_room(record: Record) -> RoomFit:
    """Fit the staircase to a record; the fit of the record asked for last is kept."""
    for reference, fitted in list(_last):
        if reference() is record:
            return fitted
    fitted = fit_histories(tuple(size_histories(record).values()))
    _last[:] = [(weakref.ref(record), fitted)]
    return fitted


def fit_histories(histories: tuple[SizeHistory, ...]) -> RoomFit:
    """Fit the staircase to size histories."""
    data = to_size_data(histories)
    fit = fit_size(data)
    believed = data.reading_animal[~fit.slips]
    return RoomFit(histories, fit, np.bincount(believed, minlength=len(histories)))


def sizes_for_clock(record: Record) -> dict[str, ClockSize]:
    """Return the smoothed log size of every animal in every instar, for the moult clock.

    Animals never measured have their taxon's wide answer; with no reading of the taxon it is the prior's.
    """
    room = fit_room(record)
    fit = room.fit
    found = {}
    for row, history in enumerate(room.histories):
        mean, sd = fit.log_size_mean[row, : history.n_instars], fit.log_size_sd[row, : history.n_instars]
        of_taxon = int(fit.n_readings[fit.data.taxon_of_animal[row]])
        found[history.animal] = ClockSize(
            history.animal, tuple(mean.tolist()), tuple(sd.tolist()), int(room.n_readings[row]), of_taxon
        )
    return found


def chance_last_for_clock(record: Record) -> dict[str, float]:
    """Return by animal the chance that its latest moult was its last, for the moult clock (below 1).

    It may be a male that matured then and was not noticed. Animals noted as mature males are 0 here: the
    clock is not asked about them. Never measured: 0, nothing speaks for it.
    """
    room = fit_room(record)
    if not room.histories:
        return {}
    chance = np.where(room.n_readings > 0, last_moult_unnoticed(room.fit), 0.0)
    return {h.animal: min(float(c), 0.9) for h, c in zip(room.histories, chance, strict=True)}


def sizes(record: Record) -> dict[str, SizeReport]:
    """Return the sizes of every animal of the record, by code.

    An animal that was never measured has no size here, whatever its taxon's fit says of it.
    """
    room = fit_room(record)
    if not room.histories:
        return {}
    answers = _answers(room)
    return {
        history.animal: _report(room, answers, row, record, record.animals[history.animal])
        for row, history in enumerate(room.histories)
    }


@dataclass(frozen=True)
class _Answers:
    """All animals at once: 10, 50, 90 % of each part now and next, next tables, what each taxon rests on."""

    fit: SizeFit
    now: dict[str, NDArray[np.float64]]
    after: dict[str, NDArray[np.float64]]
    after_full: dict[str, NDArray[np.float64]]
    parts_read: tuple[frozenset[str], ...]
    basis: dict[tuple[int, str], tuple[tuple[str, ...], tuple[Source, ...]]]
    maturity: MaturityRoom
    short_legs: frozenset[int]

    def estimate(self, row: int, part: str, three: NDArray[np.float64]) -> Estimate | None:
        """One number of one animal with what it rests on; None where there is none."""
        if np.isnan(three).any():
            return None
        fit, taxon = self.fit, int(self.fit.data.taxon_of_animal[row])
        low, value, high = three.tolist()
        assumptions, sources = self.basis[taxon, part]
        if part == "leg_span" and row in self.short_legs:
            assumptions += (SHORT_LEGS,)
        return Estimate(
            value, low, high, fit.data.priors.part(part).unit,
            int(fit.n_animals_measured[taxon]), int(fit.n_readings[taxon]), METHOD,
            sources=sources, assumptions=assumptions,
        )  # fmt: skip

    def reads(self, row: int) -> frozenset[str]:
        """The parts that its taxon was measured in."""
        return self.parts_read[int(self.fit.data.taxon_of_animal[row])]


def _answers(room: RoomFit) -> _Answers:
    fit = room.fit
    now = {
        part: _three(size_at(fit, part)) for part in ("carapace_length", "leg_span", "body_length", "mass")
    }
    levels = tuple(float(level) for level in QUANTILES)
    full = {part: next_size(fit, part).quantiles(levels) for part in _LENGTHS}
    middle, low, high = levels.index(0.5), levels.index(0.1), levels.index(0.9)
    after = {part: table[:, [low, middle, high]] for part, table in full.items()}
    parts_read = _parts_read(fit)
    basis = {(taxon, part): _basis(fit, read, part) for taxon, read in enumerate(parts_read) for part in now}
    short = frozenset(
        row for row, history in enumerate(room.histories) if any(r.short_legs for r in history.readings)
    )
    return _Answers(fit, now, after, full, parts_read, basis, maturity_room(fit), short)


def _parts_read(fit: SizeFit) -> tuple[frozenset[str], ...]:
    data = fit.data
    believed = ~fit.slips
    taxon = data.taxon_of_animal[data.reading_animal[believed]]
    pairs = set(zip(taxon.tolist(), data.reading_channel[believed].tolist(), strict=True))
    names = [channel.part for channel in data.priors.channels]
    return tuple(frozenset(names[c] for t, c in pairs if t == taxon_) for taxon_ in range(data.n_taxa))


def _three(outlook: Outlook) -> NDArray[np.float64]:
    """10, 50 and 90 % of an outlook of one normal each."""
    logs = outlook.mean[:, None] + outlook.sd[:, None] * np.array([-_Z80, 0.0, _Z80])
    return np.asarray(np.exp(logs), dtype=np.float64)


def _report(room: RoomFit, answers: _Answers, row: int, record: Record, animal: Animal) -> SizeReport:
    points = tuple(_point(room, row, reading) for reading in room.histories[row].readings)
    if room.n_readings[row] == 0:
        return SizeReport(animal.code, (), points, None, None, None, None, None, None)
    now = {part: answers.estimate(row, part, table[row]) for part, table in answers.now.items()}
    steps = _steps(room, row, _began(record, animal))
    mass = now["mass"] if "mass" in answers.reads(row) else None
    mature = float(room.fit.mature_now[row])
    present = (now["carapace_length"], now["leg_span"], now["body_length"])
    if not animal.here:
        return SizeReport(
            animal.code, steps, points, *present, None, None, None, mass_now=mass, mature_chance=mature,
            mature=answers.maturity.of(row),
        )  # fmt: skip
    kind = _measured_part(answers.reads(row))
    return SizeReport(
        animal.code, steps, points, *present,
        answers.estimate(row, "carapace_length", answers.after["carapace_length"][row]),
        answers.estimate(row, "leg_span", answers.after["leg_span"][row]),
        _quantiles(answers.after_full["carapace_length"][row]),
        _next_size(kind, answers.after_full[kind][row]),
        mass,
        mature,
        answers.maturity.of(row),
    )  # fmt: skip


def _quantiles(values: NDArray[np.float64]) -> dict[str, float] | None:
    if np.isnan(values).any():
        return None
    return {level: float(value) for level, value in zip(QUANTILES, values, strict=True)}


def _next_size(kind: str, values: NDArray[np.float64]) -> NextSize | None:
    quantiles = _quantiles(values)
    return None if quantiles is None else NextSize(kind, "mm", quantiles)


def _measured_part(read: frozenset[str]) -> str:
    """The part to answer in: carapace where the taxon has one, else the length it is measured in."""
    if not read & {"carapace_length", "carapace_width"}:
        for part in ("leg_span", "body_length"):
            if part in read:
                return part
    return "carapace_length"


def _basis(fit: SizeFit, read: frozenset[str], part: str) -> tuple[tuple[str, ...], tuple[Source, ...]]:
    """What an answer in this part assumes, and its sources, for a taxon measured in the parts `read`."""
    assumptions = ["size changes only at a moult; moults that nobody recorded are not counted"]
    names = ["step", "decline"]
    if part == "leg_span":
        assumptions.append("legs stretched out")
    if part != "carapace_length":
        names += [f"offset:{part}", f"slope:{part}"]
    if part not in read:
        assumptions.append(
            f"{part.replace('_', ' ')} worked out from other parts: none of this taxon measured"
        )
    return tuple(assumptions), (OWN_RECORDS, *sources_of(fit.data.priors, *names))


def _steps(room: RoomFit, row: int, began: Sequence[date | None]) -> tuple[Step, ...]:
    fit, history = room.fit, room.histories[row]
    mean, sd = (
        fit.log_size_mean[row, : history.n_instars, None],
        fit.log_size_sd[row, : history.n_instars, None],
    )
    three = np.exp(mean + sd * np.array([-_Z80, 0.0, _Z80])).tolist()
    return tuple(
        Step(instar, began[instar], value, low, high, bool(fit.measured[row, instar]))
        for instar, (low, value, high) in enumerate(three)
    )


def _began(record: Record, animal: Animal) -> tuple[date | None, ...]:
    """The day each instar began: hatching, then the last possible day of each moult."""
    return (animal.hatched.last, *(window.last for window in moult_windows(record, animal)))


def _point(room: RoomFit, row: int, reading: SizeReading) -> ReadingPoint:
    unit = "g" if reading.item == "mass" else "mm"
    standing_for = _implied_carapace(room.fit, row, reading)
    return ReadingPoint(
        reading.instar, reading.day, reading.item, reading.value, unit, reading.on, standing_for
    )


def _implied_carapace(fit: SizeFit, row: int, reading: SizeReading) -> float | None:
    """The carapace length [mm] a reading stands for under its taxon's fitted offset, slope and bias."""
    name = channel_of(reading)
    if name is None or reading.value <= 0:
        return None
    priors = fit.data.priors
    channel = priors.channels[priors.channel_index(name)]
    part = priors.part(channel.part)
    log_value = float(np.log(reading.value))
    if channel.bias is not None:
        log_value -= _fitted(fit, row, channel.bias)
    if part.offset is None or part.slope is None:
        return float(np.exp(log_value))
    offset, slope = _fitted(fit, row, part.offset), _fitted(fit, row, part.slope)
    return float(np.exp(REFERENCE_LOG_MM + (log_value - offset) / slope))


def _fitted(fit: SizeFit, row: int, prior: CoefficientPrior) -> float:
    if prior.name not in fit.coefficient_names:
        return prior.mean
    at = fit.coefficient_names.index(prior.name)
    return float(fit.coefficient_mean[fit.data.taxon_of_animal[row], at])
