"""The rules of fit of the program as the judge of a trial room, the same for every policy."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.knowledge import Named
from nightround.plans.fit import Build, best_depth_mm, build_of_taxon, fit_range
from nightround.plans.rules import RuleBook
from nightround.record.model import Record
from nightround.simulate.policies import Feeding, Limits, Vessel
from nightround.simulate.policies.notebook import Notebook
from nightround.simulate.taxa import TAXA, Habit, true_name

_DAY = date(2023, 9, 4)


def empty_record() -> Record:
    """A record that knows the taxa and nothing else: the trade's rules without any overrule."""
    book = Notebook(RoomClock("Europe/Paris"))
    for kind in TAXA:
        named = Named(group=kind.group, habit=kind.habit, climbs=kind.climbs, hazard=kind.hazard)
        book.write(_DAY, Ref("taxon", true_name(kind)), named, on_day(_DAY))
    return book.record(_DAY)


@dataclass
class FitJudge:
    """Asks `plans.fit` and remembers the answers."""

    record: Record = field(default_factory=empty_record)
    _builds: dict[str, Build] = field(default_factory=dict)
    _limits: dict[tuple[str, str, float], Limits] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.book = RuleBook(self.record)
        self.habits: dict[str, Habit] = {true_name(kind): kind.habit for kind in TAXA}

    def build(self, taxon: str) -> Build:
        """The build of a taxon."""
        if taxon not in self._builds:
            self._builds[taxon] = build_of_taxon(self.record, taxon, book=self.book)
        return self._builds[taxon]

    def limits(self, taxon: str, vessel: Vessel, depth_mm: float) -> Limits:
        """Leg spans that fit by every rule but the gaps, and the carapace that may leave."""
        key = taxon, vessel.name, round(depth_mm, 1)
        if key not in self._limits:
            body = vessel.made_up(self.habits[taxon], depth_mm, "")
            fit = fit_range(body, (vessel.opening(),), self.build(taxon), self.book)
            assert fit.escape_carapace_mm is not None and not fit.unknown
            self._limits[key] = Limits(fit.low_mm, fit.high_mm, fit.escape_carapace_mm)
        return self._limits[key]

    def depth_mm(self, taxon: str, vessel: Vessel, low_span_mm: float, high_span_mm: float) -> float | None:
        """The least depth by the rules of substrate, drop and height."""
        body = vessel.made_up(self.habits[taxon], 0.0, "")
        return best_depth_mm(body, self.build(taxon), self.book, low_span_mm, high_span_mm)

    def feeding(self) -> Feeding:
        """The rules of feeding as the program has them."""

        def number(key: str) -> float:
            found = self.book.ask(key).number
            assert found is not None, key
            return found

        return Feeding(
            sling_days=int(number("feed_sling_days")),
            juvenile_days=int(number("feed_juvenile_days")),
            adult_days=int(number("feed_adult_days")),
            sling_below_span_mm=number("sling_below_span_mm"),
            adult_from_span_mm=number("adult_from_span_mm"),
            most_of_body=number("prey_of_body"),
            scavenges_below_body_mm=number("live_prey_from_body_mm"),
            tiny_number=int(number("tiny_prey_number")),
        )
