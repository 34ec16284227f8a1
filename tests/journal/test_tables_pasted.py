"""The pasted list of the first day: code, taxon, shelf, span, last moult."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import UNKNOWN, between, on_day
from nightround.journal.entries import Ref
from nightround.journal.kinds.animal import Arrived, Measured, Moulted
from nightround.journal.tables import DateOrder, TablesRead, read_pasted_list, read_tables

CLOCK = RoomClock("America/Denver")
ON = date(2026, 3, 1)


def pasted(text: str) -> TablesRead:
    return read_pasted_list(text, CLOCK, ON)


def said(read: TablesRead) -> list[tuple[str, object, object]]:
    """Code, moment and body of every draft, where nothing was refused."""
    assert [] == [str(fault) for fault in read.refusals]
    return [(draft.about.code, draft.when, draft.body) for draft in read.drafts]


SPAN = Measured(item="leg_span", value=45.0, unit="mm", written="4.5", written_unit="cm", on="live")
FIRST = [
    ("K1", UNKNOWN, Arrived(taxon="Idiops sp.", place="shelf B")),
    ("K1", on_day(date(2026, 1, 5)), Moulted()),
    ("K1", on_day(ON), SPAN),
    ("K2", UNKNOWN, Arrived(taxon="Atypus affinis")),
]


@pytest.mark.parametrize("mark", ["\t", ";", ",", "   ", " ; "])
def test_cells_may_stand_apart_by_tabs_semicolons_commas_or_spaces(mark: str) -> None:
    """Each mark gives the same: it is here, arrival unknown, moulted then, of that span on the list's day."""
    line = mark.join(["K1", "Idiops sp.", "shelf B", "4.5 cm", "2026-01-05"])
    assert FIRST == said(pasted(f"{line}\n\n{mark.join(['K2', 'Atypus affinis'])}\n"))


@pytest.mark.parametrize(
    "text",
    [
        "Code\tTaxon\tShelf\tSpan\tLast moult\nK1\tIdiops sp.\tshelf B\t4.5 cm\t2026-01-05\n"
        "K2\tAtypus affinis\t\t\t",
        "code,span (cm),shelf,last moult,taxon\nK1,4.5,shelf B,2026-01-05,Idiops sp.\n"
        "K2,?,-,unknown,Atypus affinis",
        "animal;species;place;leg_span_cm;moulted\nK1;Idiops sp.;shelf B;4.5;2026-01-05\n"
        "K2;Atypus affinis;;;",
    ],
)
def test_a_header_may_name_and_order_the_columns(text: str) -> None:
    """Columns follow the header, which may name the unit too; ?, - and unknown are empty."""
    assert FIRST == said(pasted(text))


def test_a_moult_known_to_the_month_is_an_interval() -> None:
    """The whole month, both ends included."""
    (_, (_, when, body)) = said(pasted("K1,Idiops sp.,,,2026-02"))
    assert (between(date(2026, 2, 1), date(2026, 2, 28)), Moulted()) == (when, body)


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("K1,T,,about 4 cm,", [(1, "span")]),
        ("K1,T,,4.5,", [(1, "span")]),
        ("K1\tT\t\t4,500 cm\t", [(1, "span")]),
        ("K1\tT\t\t2-3 cm\t", [(1, "span")]),
        ("K1\tT\t\t\t10/11/2025", [(1, "last moult")]),
        ("K1\tT\t\t\t31 Nov 2025", [(1, "last moult")]),
        ("K1,T,,4 furlongs,", [(1, "span")]),
        ("K1,T,,big,last spring", [(1, "last moult"), (1, "span")]),
        ("K1,T\n,T", [(2, "code")]),
        ("K1,T\n2026-03-01,T", [(2, "code")]),
        ("K1,T\nK2,T\nK1,T", [(3, "code")]),
        ("K1,T,,,2026-01-05,nice,and calm", [(1, "")]),
    ],
)
def test_what_cannot_be_read_is_named_by_line_and_column(text: str, faults: list[tuple[int, str]]) -> None:
    """Sizes and dates that can mean two things or nothing; no code, a code twice; too many cells."""
    read = pasted(text)
    assert faults == [(fault.row, fault.field) for fault in read.refusals]
    assert 1 == read.rows_refused


def test_a_column_of_another_name_is_refused() -> None:
    """A header with a column that the list does not know names it; so does an empty paste."""
    with pytest.raises(NotReadable, match="'colour'"):
        pasted("code,taxon,colour\nK1,T,red")
    with pytest.raises(NotReadable, match="no line"):
        pasted(" \n")


def test_the_same_list_has_the_same_keys() -> None:
    """Pasting twice adds nothing, whatever the order."""
    keys = [sorted(draft.key for draft in pasted(text).drafts) for text in ("K1,T\nK2,T", "K2,T\nK1,T")]
    assert keys[0] == keys[1]


def test_a_file_may_hold_the_list(tmp_path: Path) -> None:
    """`import FILE` takes a pasted list from a file, too."""
    path = tmp_path / "my spiders.txt"
    path.write_text("K1, Idiops sp., shelf B, 4.5 cm, 2026-01-05\nK2, Atypus affinis\n")
    read = read_tables(path, CLOCK, on=ON)
    assert FIRST == said(read)
    assert [("my spiders.txt", 1)] * 3 == [(origin.file, origin.row) for origin in read.origins[:3]]
    assert Ref("animal", "K2") == read.drafts[3].about


@pytest.mark.parametrize(
    ("cell", "when"),
    [
        ("13/10/2025", on_day(date(2025, 10, 13))),
        ("10/13/2025", on_day(date(2025, 10, 13))),
        ("5.5.25", on_day(date(2025, 5, 5))),
        ("15 Nov", on_day(date(2025, 11, 15))),
        ("Feb 3", on_day(date(2026, 2, 3))),
        ("November 15th, 2025", on_day(date(2025, 11, 15))),
        ("Oct 2025", between(date(2025, 10, 1), date(2025, 10, 31))),
        ("2025-09-01/2025-09-10", between(date(2025, 9, 1), date(2025, 9, 10))),
    ],
)
def test_a_day_that_can_mean_one_thing_is_read(cell: str, when: object) -> None:
    """A list kept by hand has days in many spellings; without a year it is the latest such day."""
    assert [when] == [
        draft.when for draft in pasted(f"K1\tT\t\t\t{cell}").drafts if draft.kind.name == "moulted"
    ]


@pytest.mark.parametrize(("dates", "day"), [("day_first", (11, 10)), ("month_first", (10, 11))])
def test_the_keeper_says_which_comes_first(dates: DateOrder, day: tuple[int, int]) -> None:
    """10/11/2025 is refused until the list's order is told; a month 13 stays refused then."""
    read = read_pasted_list("K1\tT\t\t\t10/11/2025", CLOCK, ON, dates=dates)
    assert on_day(date(2025, *day)) == next(d.when for d in read.drafts if d.kind.name == "moulted")
    wrong = "10/13/2025" if dates == "day_first" else "13/10/2025"
    assert 1 == len(read_pasted_list(f"K1\tT\t\t\t{wrong}", CLOCK, ON, dates=dates).refusals)


@pytest.mark.parametrize(
    ("cell", "mm"),
    [("4,5 cm", 45.0), ("1/2 inch", 12.7), ('1 1/2"', 38.1), ("1½ in", 38.1), ("45mm", 45.0)],
)
def test_a_length_that_can_mean_one_thing_is_read(cell: str, mm: float) -> None:
    """Decimal commas and halves of inches (25.4 mm, NIST SP 811 B.8) are lengths."""
    (size,) = [draft.body for draft in pasted(f"K1\tT\t\t{cell}").drafts if draft.kind.name == "measured"]
    assert mm == pytest.approx(size.value)


def test_a_refusal_shows_the_cell_as_it_stands_in_the_list() -> None:
    """The keeper looks for what was written, not for the part of it that failed."""
    read = pasted("K1\tT\t\t2-3 cm\t10/11/2025")
    assert {"'2-3 cm'", "'10/11/2025'"} == {fault.got for fault in read.refusals}
