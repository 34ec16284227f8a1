"""Real records: the two data sets beside the project, and small copies of them typed here.

crab-2012: data set 33529 of the US fisheries service's catalogue, from the public repository
mikelitzow/juvenile-RKC-OA-experiments. tarantula-diaries: public diaries, each page named in its row.
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.foundation.when import UNKNOWN, between, on_day
from nightround.journal.kinds.animal import Arrived, Moulted
from nightround.journal.store import Journal
from nightround.journal.tables import TablesRead, read_tables, write_tables

CLOCK = RoomClock("America/Anchorage")

DIARY_ANIMALS = """\
animal,taxon,sex,arrived,arrived_as,hatched,place,home,note
TBAU-1,Brachypelma auratum,female,,unknown,,,,
TCVE-1,Caribena versicolor,,1999-04-16/1999-05-06,unknown,,,,by this date; captive bred
TPRE-1,Poecilotheria regalis,,1998-08-17,unknown,,,,size stated later on another page of the same site
"""
DIARY_ENTRIES = """\
when,animal,entry,item,value,unit,outcome,note
1998-08-17,TPRE-1,measured,body_length,about 10,mm,,size stated later on another page of the same site
1999-03-09/1999-03-17,TPRE-1,moulted,,,,,approximate: moulted the other day
1999-05-12/1999-05-18,TCVE-1,moulted,,,,,approximate: the other day on 05-17
1999-08-17,TCVE-1,moulted,,,,,"called by a pet name here; identified by elimination (abdomen pattern, nest)"
2022-12-31/2023-01-30,TBAU-1,died,,,,,month only; no moult since
"""
CRAB_TABLES = {
    "animals": "animal,taxon,sex,arrived,arrived_as,hatched,place,home,note\n"
    "C1-01,Paralithodes camtschaticus,,2012-08-01,captive_bred,,tub 1,,\n"
    "C1-02,Paralithodes camtschaticus,,2012-08-01,captive_bred,,tub 1,,\n",
    "entries": "when,animal,entry,item,value,unit,outcome,note\n"
    "2012-08-01,C1-01,measured,mass,20.2,mg,,\n2012-08-01,C1-02,measured,mass,19.4,mg,,\n",
    "climate": "when,place,temperature_c,humidity_percent\n"
    "2012-08-05,tub 1,10.63,\n2012-08-05,tub 2,14.47,\n",
}  # fmt: skip


def typed(folder: Path, tables: dict[str, str]) -> Path:
    """Write a small copy into a folder."""
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def refused(read: TablesRead) -> list[tuple[str, int, str, str]]:
    return [(fault.file, fault.row, fault.field, fault.got) for fault in read.refusals]


def moults(read: TablesRead) -> list[object]:
    return [draft.when for draft in read.drafts if isinstance(draft.body, Moulted)]


def round_trip(read: TablesRead, folder: Path) -> None:
    """Write what was read into a room, export it, import the export into another: the same entries."""
    with Journal.create(folder / "one", time_zone=CLOCK.zone_name) as one:
        one.append(read.drafts)
        write_tables(one.entries(), folder / "out", CLOCK)
        first = one.entries()
        again = read_tables(folder / "out", CLOCK)
        assert () == one.append(again.drafts).numbers
    with Journal.create(folder / "two", time_zone=CLOCK.zone_name) as two:
        two.append(again.drafts)
        second = two.entries()
        assert () == two.append(read.drafts).numbers
    assert [(e.about, e.when, e.body, e.key, e.recorded) for e in first] == [
        (e.about, e.when, e.body, e.key, e.recorded) for e in second
    ]


def test_a_copy_of_the_diaries(tmp_path: Path) -> None:
    """The size 'about 10' is refused by file, row and field; interval dates and unknown arrivals survive."""
    read = read_tables(typed(tmp_path, {"animals": DIARY_ANIMALS, "entries": DIARY_ENTRIES}), CLOCK)
    assert [("entries.csv", 2, "value", "'about 10'")] == refused(read)
    assert [
        between(date(1999, 3, 9), date(1999, 3, 17)), between(date(1999, 5, 12), date(1999, 5, 18)),
        on_day(date(1999, 8, 17)),
    ] == moults(read)  # fmt: skip
    arrivals = {draft.about.code: draft.when for draft in read.drafts if isinstance(draft.body, Arrived)}
    assert {
        "TBAU-1": UNKNOWN,
        "TCVE-1": between(date(1999, 4, 16), date(1999, 5, 6)),
        "TPRE-1": on_day(date(1998, 8, 17)),
    } == arrivals
    round_trip(read, tmp_path)


def test_a_copy_of_the_crabs(tmp_path: Path) -> None:
    """Animals, masses in milligrams and tub temperatures read without a refusal."""
    read = read_tables(typed(tmp_path, CRAB_TABLES), CLOCK)
    assert [] == refused(read)
    assert {"arrived": 2, "measured": 2, "reading": 2} == Counter(draft.kind.name for draft in read.drafts)
    round_trip(read, tmp_path)


def test_the_whole_diaries(shared_data: Path, tmp_path: Path) -> None:
    """12 animals, 27 entries, exactly one refused row."""
    read = read_tables(data_set(shared_data, "tarantula-diaries"), CLOCK)
    assert [("entries.csv", 2, "value", "'about 10'")] == refused(read)
    assert {"arrived": 12, "moulted": 23, "died": 2, "matured": 1} == Counter(
        draft.kind.name for draft in read.drafts
    )
    assert 10 == sum(when != on_day(when.first) for when in moults(read))  # type: ignore[attr-defined]
    round_trip(read, tmp_path)


def test_the_whole_crab_study(shared_data: Path, tmp_path: Path) -> None:
    """180 animals, 1,523 entries and 1,104 climate rows, none refused; wrong dates are not our refusals."""
    read = read_tables(data_set(shared_data, "crab-2012"), CLOCK)
    assert [] == refused(read)
    assert {"arrived": 180, "measured": 977, "moulted": 419, "died": 127, "reading": 1104} == Counter(
        draft.kind.name for draft in read.drafts
    )
    round_trip(read, tmp_path)


def data_set(shared_data: Path, name: str) -> Path:
    folder = shared_data / name
    if not folder.is_dir():
        pytest.skip(f"the data set '{name}' is not in the shared folder beside the project")
    return folder
