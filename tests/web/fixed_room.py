"""A small invented room whose reports never change, so that only the pages are under test."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import httpx
import uvicorn

from nightround.desk.desk import Desk
from nightround.foundation.estimate import Estimate
from nightround.foundation.when import When, between, on_day
from nightround.journal.entries import Draft, Ref
from nightround.journal.kinds.animal import Arrived, Measured, Moulted, Noted, Offered
from nightround.journal.kinds.knowledge import Named, Struck
from nightround.journal.kinds.surroundings import PlaceSetUp, Reading
from nightround.journal.store import Journal
from nightround.reports.ahead import AheadReport, FanDay, Shifted, WhatIf
from nightround.reports.forecast import QUANTILES, WITHIN_DAYS, AnimalForecast, ForecastReport, NextMoult
from nightround.reports.size import (
    GrowthReport,
    MaturityToCome,
    ReadingPoint,
    SizeReport,
    SizeToCome,
    Step,
)
from nightround.reports.tonight import (
    Job,
    MoultOdds,
    OfferAdvice,
    RuleUsed,
    TonightReport,
    TonightRow,
    TonightShelf,
)
from nightround.web.app import make_app

TUESDAY = date(2026, 11, 24)
MONDAY = on_day(date(2026, 11, 23))
EVENING = datetime(2026, 11, 24, 20, 30, tzinfo=UTC)
ODD_CODE = "K 4/<x>~&"
HAIRS = "Urticating hairs: wear eye protection."
ROOM_NAME = "Invented room of tests"
AXE_WIDTHS = (390, 1280)


class FixedDesk(Desk):
    """A desk on a real journal and record whose forecast, sizes and advice are written out here."""

    comes_later = False

    def sizes(self, on: date | None = None) -> dict[str, SizeReport]:
        """Return one animal's staircase."""
        return {"K02": _size()}

    def forecast(self, on: date | None = None) -> ForecastReport:
        """Return one animal's odds."""
        return ForecastReport(on or TUESDAY, (_forecast(on or TUESDAY),), ("Shelf B has no readings.",))

    def ahead(
        self,
        code: str,
        on: date | None = None,
        *,
        days: Sequence[date] = (),
        spans_mm: Sequence[float] = (),
    ) -> AheadReport:
        """Return what lies ahead of one animal; what is asked for is echoed in its figures."""
        asked = tuple(days) or (date(2027, 11, 24),), tuple(spans_mm) or (80.0,)
        return _ahead(on or TUESDAY, *asked) if code == "K02" else nothing_ahead(code, on or TUESDAY)

    def ahead_known(self, code: str, on: date | None = None) -> AheadReport | None:
        """Return the same at once, unless a test wants it to come later."""
        return None if self.comes_later else self.ahead(code, on)

    def tonight(self, on: date | None = None) -> TonightReport:
        """Return the fixed round."""
        return TonightReport(
            on or TUESDAY, self.name, self.invented, _shelves(), self.record(on).problems,
            ("Shelf B has no readings.",), ("No spider here is called harmless.",), (("offer", 1),),
        )  # fmt: skip


def make_room(path: Path, *, filled: bool = True) -> FixedDesk:
    """Create the room in a file and open its desk."""
    journal = Journal.create(path, time_zone="Europe/Lisbon", name=ROOM_NAME, invented=True)
    if filled:
        journal.append(drafts(), intention="import-fixed", device="list")
    return FixedDesk(journal)


def drafts() -> list[Draft]:
    """Return the room's entries: six animals on two shelves, and one in quarantine."""
    set_up = on_day(TUESDAY - timedelta(days=90))
    shelves = [
        Draft(Ref("place", name), set_up, PlaceSetUp(sort="shelf", position=at))
        for at, name in enumerate(("Shelf A", "Shelf B"), 1)
    ]
    taxon = Draft(
        Ref("taxon", "Grammostola pulchra"),
        When(),
        Named(group="tarantula", hazard=HAIRS),
    )
    spring = on_day(date(2026, 3, 1))
    animals = [
        Draft(Ref("animal", code), spring, Arrived(taxon=name, place=place, home=home))
        for code, name, place, home in (
            ("K01", "Linothele fallax", "Shelf A", "H1"),
            ("K02", "Grammostola pulchra", "Shelf A", "H2"),
            ("K03", "Linothele fallax", "Shelf B", "H3"),
            (ODD_CODE, 'Ummidia sp. "cork <oaks>"', "Shelf B", ""),
            ("Q05", "", "Bench", ""),
        )
    ]
    past = [
        Draft(Ref("animal", "K02"), between(date(2026, 5, 2), date(2026, 5, 5)), Moulted(exuvia="kept")),
        Draft(
            Ref("animal", "K02"), on_day(date(2026, 5, 6)),
            Measured(item="carapace_length", value=9.4, unit="mm", written="9.4", written_unit="mm"),
        ),
        Draft(Ref("animal", "K02"), on_day(date(2026, 6, 1)), Noted(note="<b>bold</b> & calm")),
        Draft(Ref("place", "Shelf A"), MONDAY, Reading(temperature_c=21.5, humidity_percent=60)),
        Draft(Ref("animal", "K01"), MONDAY, Offered(prey="cricket", number=2)),
    ]  # fmt: skip
    written = [*shelves, taxon, *animals, *past]
    mistake = Draft(Ref("animal", "K02"), on_day(date(2026, 6, 2)), Noted(note="wrong animal"))
    struck = Draft(
        Ref("animal", "K02"), on_day(date(2026, 6, 2)), Struck(why="meant K01"), corrects=-(len(written) + 1)
    )
    return [*written, mistake, struck]


OFFER_NUMBER = 13
"""The entry of yesterday's open offer."""


def _shelves() -> tuple[TonightShelf, ...]:
    offer = Job(
        "offer", "Offer 1 small cricket, about 6.0 mm (0.24 in)", "Last offer 8 days ago; every 7 days",
        offer=OfferAdvice("small cricket", 1, 6.0, False, "about 6 mm"),
    )  # fmt: skip
    asked = Job(
        "outcome", "What became of the prey?", "Offered 2 crickets yesterday; nobody has looked yet",
        open_offers=(OFFER_NUMBER,),
    )  # fmt: skip
    alone = Job(
        "leave_alone", "Leave it alone: no prey, no disturbance", "A moult may be near (62 % within 14 days)",
        until=date(2026, 12, 8),
        rules=(RuleUsed("premoult_odds", "50 %", "choice", "chosen here", words="left alone from"),),
    )  # fmt: skip
    water = Job("water", "Water 5.0 ml (1.0 tsp): down one side", "Last watered 10 days ago", water_ml=5.0,
                water_where="side")  # fmt: skip
    look = Job(
        "look", "Look from outside first", "No sign of life for 15 days",
        why=("Water first: no chance to drink on record",), cautions=("Look from outside: do not dig.",),
    )  # fmt: skip
    wait = Job("wait", "Nothing to offer tonight", "Next offer 1 Dec", until=date(2026, 12, 1))
    odds = MoultOdds(0.31, 0.62, 0.9, 0.12, 8, 30, "test")
    return (
        TonightShelf(
            "Shelf A",
            (
                _row("K01", "Linothele fallax", "H1", (asked, offer), usual=offer),
                _row("K02", "Grammostola pulchra", "H2", (alone,), usual=alone, odds=odds, hazard=HAIRS),
            ),
        ),
        TonightShelf(
            "Shelf B",
            (
                _row("K03", "Linothele fallax", "H3", (look, water, wait), usual=water),
                _row(ODD_CODE, 'Ummidia sp. "cork <oaks>"', "", (wait,), looked=None),
            ),
        ),
        TonightShelf("Bench", (_row("Q05", "", "", (wait,), quarantined=True),)),
    )  # fmt: skip


def _row(
    code: str,
    taxon: str,
    home: str,
    jobs: tuple[Job, ...],
    *,
    usual: Job | None = None,
    odds: MoultOdds | None = None,
    hazard: str = "",
    quarantined: bool = False,
    looked: date | None = date(2026, 11, 22),
) -> TonightRow:
    return TonightRow(code, taxon, "", home, quarantined, hazard, jobs, odds, None, None, looked, usual)


def _forecast(on: date) -> AnimalForecast:
    moult = NextMoult(
        {level: 40 * float(level) for level in QUANTILES},
        {days: min(1.0, days / 40) for days in WITHIN_DAYS},
        8, 30, "fixed for tests", ("203 days since the last moult",),
    )  # fmt: skip
    return AnimalForecast("K02", "Grammostola pulchra", date(2026, 5, 5), 203, on, 0.12, moult)


def _size() -> SizeReport:
    now = Estimate(9.4, 9.2, 9.6, "mm", 1, 1, "fixed for tests")
    after = Estimate(11.3, 10.6, 12.1, "mm", 1, 1, "fixed for tests")
    steps = (
        Step(0, date(2026, 3, 1), 7.8, 7.1, 8.5, False),
        Step(1, date(2026, 5, 5), 9.4, 9.2, 9.6, True),
    )
    reading = ReadingPoint(1, date(2026, 5, 6), "carapace_length", 9.4, "mm", "live")
    quantiles = {"0.10": 10.6, "0.50": 11.3, "0.90": 12.1}
    return SizeReport("K02", steps, (reading,), now, None, None, after, None, quantiles)


def nothing_ahead(code: str, on: date) -> AheadReport:
    """What is told of an animal that was never measured and has no forecast."""
    return AheadReport(code, on, None, (), 0, 0, None)


def _levels(low: float, middle: float, high: float) -> dict[str, float]:
    return {"0.10": low, "0.50": middle, "0.90": high}


def _come(part: str, low: float, middle: float, high: float, chance: float = 1.0) -> SizeToCome:
    return SizeToCome(part, "mm", _levels(low, middle, high), chance)


def _growth(on: date, days: Sequence[date], spans_mm: Sequence[float]) -> GrowthReport:
    female = MaturityToCome(
        "female", 0.6, 0.02, 0.1, {"0.10": 400.0, "0.50": 900.0, "0.90": None},
        _levels(15.0, 18.0, 22.0), _levels(17.0, 21.0, 26.0),
    )  # fmt: skip
    male = MaturityToCome(
        "male", 0.4, 0.0, 0.2, {"0.10": 300.0, "0.50": 700.0, "0.90": 1500.0},
        _levels(13.0, 15.0, 18.0), _levels(13.0, 15.0, 18.0),
    )  # fmt: skip
    after = (
        (1, _come("carapace_length", 10.6, 11.3, 12.1)),
        (1, _come("leg_span", 61.0, 66.0, 71.0)),
        (2, _come("carapace_length", 12.0, 13.2, 14.5, 0.93)),
    )
    return GrowthReport(
        "K02", on, 2000, after,
        tuple((day, _come("leg_span", 65.0, 77.0, 86.0)) for day in days),
        tuple((span, {"0.10": 255.0, "0.50": 508.0, "0.90": None}) for span in spans_mm),
        (female, male), _come("carapace_length", 13.5, 18.0, 25.0),
        "fixed for tests", ("no death, no lost legs",),
    )  # fmt: skip


def _ahead(on: date, days: Sequence[date], spans_mm: Sequence[float]) -> AheadReport:
    fan = tuple(
        FanDay(on + timedelta(days=90 * at), 9.3 + 0.4 * at, 9.5 + 0.7 * at, 9.8 + at) for at in range(9)
    )
    rows = tuple(
        Shifted(
            shift,
            23.0 + shift,
            dict(_levels(10.0 - shift, 30.0 - 2 * shift, 70.0 - 4 * shift)),
            0.5 + shift / 20,
            "warmer than any stretch on record here: an extrapolation" if shift > 1 else "",
        )
        for shift in (-2.0, -1.0, 0.0, 1.0, 2.0)
    )
    warmer = WhatIf(
        "K02", on, rows, True, 21.0, 23.5, 30, 2.5, 2.1, 3.0, "fixed for tests",
        ("Never heat a spider to hurry a moult.",),
    )  # fmt: skip
    return AheadReport("K02", on, _growth(on, days, spans_mm), fan, 1, 12, warmer)


@contextmanager
def served(desk: Desk) -> Iterator[str]:
    """Serve a desk's pages from a thread of this process; give their address."""
    config = uvicorn.Config(make_app(desk), port=0, log_level="warning", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started:
        assert thread.is_alive() and time.monotonic() < until, "the pages did not start"
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(20)


def client_of(address: str, **headers: str) -> httpx.Client:
    """Return a client that sends the Origin a browser would send."""
    return httpx.Client(base_url=address, headers={"Origin": address, **headers}, timeout=30)
