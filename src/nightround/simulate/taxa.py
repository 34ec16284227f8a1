"""The fourteen taxa of the invented room: real names, invented growth.

The names are public taxonomy. The growth numbers are the simulator's own: chosen to stand inside the
published facts that the tests type out with their sources, not measured on anybody's animals. Hazards and
laws are words for the label; what is not published is called unknown, never harmless (docs/demo-room.md).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

Habit = Literal["ground", "burrower", "trapdoor", "tree", "web_builder", "wanderer", "tube"]
Climbs = Literal["smooth", "rough", "poor"]

HAIRS = (
    "Urticating hairs: pierce eyes and irritate skin and lungs; wear eye protection. "
    "Bites happen: seek medical advice, call the local poison service."
)
CRAMPS = (
    "Medically significant bite: cramps for days are published for this subfamily. "
    "Seek medical advice, call the local poison service."
)
UNKNOWN = "Effect of the bite unknown (little or nothing published). Seek medical advice after a bite."
ASK = "Rules differ and change: ask the local authority before buying, selling, importing or posting."


@dataclass(frozen=True)
class SimulatedTaxon:
    """One taxon: what the keeper says of it, and the true growth that the record should find again.

    carapace_mm       carapace length on leaving the sac
    ratio, decline    size ratio of the first moult; log ratio lost per unit of log size gained
    days, exponent    first interval in days at 25 C; the interval grows with (size / first size) ** exponent
    male_mm, female_mm  carapace length at which half of the moults are the maturing one
    last_step         extra log size at the maturing moult: (male, female)
    females_go_on     females moult on after maturity
    adult_days        median days from the maturing moult to death: (male, female that has stopped)
    span, body        leg span and body length in carapace lengths
    mass_g            mass at 10 mm carapace
    clear             chance that a look from outside shows the whole animal
    feed_days         days between offers: smallest and largest animals
    share             share of the room's animals
    """

    name: str
    letter: str
    group: str
    habit: Habit
    climbs: Climbs | None
    hazard: str
    carapace_mm: float
    ratio: float
    decline: float
    days: float
    exponent: float
    male_mm: float
    female_mm: float
    span: float
    clear: float
    share: int
    q10: float = 2.4
    last_step: tuple[float, float] = (0.0, 0.0)
    females_go_on: bool = True
    adult_days: tuple[float, float] = (260.0, 3000.0)
    body: float = 2.2
    mass_g: float = 1.9
    feed_days: tuple[float, float] = (3.5, 8.0)
    law: str = ASK
    other_names: tuple[str, ...] = ()
    first_weeks_risk: float = 0.05
    moult_risk: float = 0.013
    yearly_risk: float = 0.03
    pace_sd: float = 0.10
    interval_sd: float = 0.22
    growth_sd: float = 0.015
    step_sd: float = 0.030

    @property
    def first_log_size(self) -> float:
        """Log carapace length [log mm] on leaving the sac."""
        return log(self.carapace_mm)


TARANTULA = "tarantulas"
TRAPDOOR = "trapdoor spiders"
PURSEWEB = "purseweb spiders"
FUNNEL = "funnel-web-building spiders"
WANDERING = "wandering spiders"
_CITES = "CITES Appendix II (from memory): keep the papers. " + ASK

TAXA: tuple[SimulatedTaxon, ...] = (
    SimulatedTaxon(
        "Grammostola pulchripes", "G", TARANTULA, "ground", "rough", HAIRS,
        1.4, 1.36, 0.045, 66, 0.53, 17.0, 22.0, 6.2, 0.88, 12, q10=2.3, feed_days=(4.0, 9.5),
        first_weeks_risk=0.08, moult_risk=0.02, yearly_risk=0.04,
    ),
    SimulatedTaxon(
        "Brachypelma hamorii", "B", TARANTULA, "ground", "rough", HAIRS,
        1.3, 1.34, 0.042, 60, 0.60, 14.5, 18.5, 6.0, 0.85, 10, q10=2.3, law=_CITES, feed_days=(4.0, 9.5),
    ),
    SimulatedTaxon(
        "Brachypelma albopilosum", "T", TARANTULA, "ground", "rough", HAIRS,
        1.3, 1.38, 0.050, 38, 0.68, 14.0, 18.0, 6.1, 0.80, 14, q10=2.5, law=_CITES,
    ),
    SimulatedTaxon(
        "Caribena versicolor", "C", TARANTULA, "tree", "smooth", HAIRS,
        2.8, 1.33, 0.060, 45, 0.75, 12.0, 15.0, 6.8, 0.80, 8, q10=2.6, mass_g=1.5,
        other_names=("Avicularia versicolor",),
    ),
    SimulatedTaxon(
        "Poecilotheria regalis", "P", TARANTULA, "tree", "smooth", CRAMPS,
        2.6, 1.36, 0.055, 38, 0.85, 16.0, 21.0, 7.0, 0.55, 7, q10=2.5, mass_g=1.6, law=_CITES,
    ),
    SimulatedTaxon(
        'Chilobrachys sp. "Kaeng Krachan"', "H", TARANTULA, "burrower", "rough", UNKNOWN,
        1.8, 1.36, 0.055, 36, 0.80, 15.0, 20.0, 6.2, 0.45, 7, q10=2.6,
    ),
    SimulatedTaxon(
        "Liphistius malayanus", "L", TRAPDOOR, "trapdoor", "poor", UNKNOWN,
        1.2, 1.27, 0.030, 60, 0.75, 8.5, 11.0, 4.6, 0.18, 6, q10=2.2, feed_days=(5.0, 9.5),
    ),
    SimulatedTaxon(
        "Ummidia audouini", "U", TRAPDOOR, "trapdoor", "poor", UNKNOWN,
        0.9, 1.28, 0.030, 60, 0.75, 6.5, 9.0, 3.4, 0.16, 6, q10=2.2, mass_g=2.4, feed_days=(5.0, 9.5),
    ),
    SimulatedTaxon(
        "Atypus affinis", "A", PURSEWEB, "tube", "poor", UNKNOWN,
        0.8, 1.28, 0.035, 75, 0.80, 4.0, 4.8, 3.2, 0.12, 6, q10=2.1, mass_g=2.6, feed_days=(5.0, 9.5),
        adult_days=(120.0, 2500.0),
    ),
    SimulatedTaxon(
        "Sphodros rufipes", "S", PURSEWEB, "tube", "poor", UNKNOWN,
        0.9, 1.28, 0.035, 70, 0.80, 4.6, 6.2, 3.4, 0.12, 5, q10=2.2, mass_g=2.6, feed_days=(5.0, 9.5),
        adult_days=(120.0, 2500.0),
    ),
    SimulatedTaxon(
        "Linothele megatheloides", "N", FUNNEL, "web_builder", "poor", UNKNOWN,
        1.4, 1.34, 0.045, 28, 0.75, 12.5, 16.0, 6.6, 0.72, 9, q10=2.5, mass_g=1.4, feed_days=(3.0, 7.0),
        adult_days=(200.0, 2500.0),
    ),
    SimulatedTaxon(
        "Aglaoctenus lagotis", "W", FUNNEL, "web_builder", "rough", UNKNOWN,
        0.62, 1.55, 0.170, 22, 0.31, 5.5, 5.7, 5.0, 0.75, 10, q10=2.25, mass_g=1.1, feed_days=(2.5, 5.0),
        last_step=(0.16, 0.37), females_go_on=False, adult_days=(81.0, 120.0), first_weeks_risk=0.08,
    ),
    SimulatedTaxon(
        "Cupiennius salei", "K", WANDERING, "wanderer", "smooth", UNKNOWN,
        1.0, 1.31, 0.025, 17, 0.38, 11.0, 13.0, 6.5, 0.80, 12, q10=2.4, mass_g=1.3, feed_days=(3.0, 7.0),
        last_step=(0.0, 0.05), females_go_on=False, adult_days=(150.0, 260.0), first_weeks_risk=0.08,
    ),
    SimulatedTaxon(
        "Ancylometes rufus", "F", WANDERING, "wanderer", "rough", UNKNOWN,
        1.0, 1.32, 0.028, 20, 0.42, 11.0, 14.0, 6.2, 0.75, 8, q10=2.4, mass_g=1.4, feed_days=(3.0, 7.0),
        last_step=(0.0, 0.05), females_go_on=False, adult_days=(150.0, 300.0), first_weeks_risk=0.08,
    ),
)  # fmt: skip

NEW_NAME = ("Brachypelma albopilosum", "Tliltocatl albopilosus")
"""A name that gives way during the three years: the genus was split in 2019 (from memory)."""


def true_name(taxon: SimulatedTaxon) -> str:
    """The name at the end of the record."""
    return NEW_NAME[1] if taxon.name == NEW_NAME[0] else taxon.name
