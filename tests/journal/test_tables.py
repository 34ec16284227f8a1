"""Reading plain tables: what is understood, and what is refused by file, row and field."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.foundation.when import UNKNOWN, between, on_day
from nightround.journal.entries import ROOM, Draft, Ref
from nightround.journal.kinds import Body
from nightround.journal.kinds.animal import Arrived, Died, Measured, Moulted, Moved, Offered, OfferSeen, Sexed
from nightround.journal.kinds.knowledge import Claim, Named, RuleSet
from nightround.journal.kinds.supplies import Supply
from nightround.journal.kinds.surroundings import (
    BatchBegun,
    Expected,
    LotBegun,
    LotChanged,
    MadeUp,
    Opening,
    PlaceSetUp,
    Reading,
    Watered,
)
from nightround.journal.tables import TablesRead, read_tables, write_rejects

CLOCK = RoomClock("Europe/Lisbon")
ANIMALS = "animal,taxon\nK1,Acanthoscurria geniculata\nK2,Idiops sp. 'coast'\n"

Tables = Callable[..., TablesRead]


@pytest.fixture
def tables(tmp_path: Path) -> Tables:
    """Write tables, given by name, into a folder and read the folder."""

    def read(animals: str = ANIMALS, *, known: tuple[Ref, ...] = (), **texts: str) -> TablesRead:
        for name, text in {"animals": animals, **texts}.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
        return read_tables(tmp_path, CLOCK, known=known)

    return read


def faults(read: TablesRead) -> list[tuple[str, int, str]]:
    """File, row and field of every refusal."""
    return [(fault.file, fault.row, fault.field) for fault in read.refusals]


def only(read: TablesRead, kind: type[Body]) -> Draft:
    """The one draft with a body of this type, where nothing was refused."""
    assert [] == [str(fault) for fault in read.refusals]
    (draft,) = (draft for draft in read.drafts if isinstance(draft.body, kind))
    return draft


# -- what is understood ------------------------------------------------------------------------------------


def test_an_animal_is_its_state_at_arrival(tables: Tables) -> None:
    """A row of animals.csv becomes an `arrived` entry; an empty arrival date is unknown."""
    read = tables(
        "animal,taxon,sex,arrived,arrived_as,hatched,place,home,note\n"
        "K1,Psalmopoeus irminia,female,2026-03,captive_bred,2025-06/2025-09,shelf B,H3,hides well\n"
        "K2,,,,,,,,\n"
    )
    arrived = Arrived(taxon="Psalmopoeus irminia", sex="female", origin="captive_bred", place="shelf B",
                      hatched="2025-06/2025-09", home="H3", note="hides well")  # fmt: skip
    assert [] == list(read.refusals)
    assert [
        (Ref("animal", "K1"), between(date(2026, 3, 1), date(2026, 3, 31)), arrived),
        (Ref("animal", "K2"), UNKNOWN, Arrived()),
    ] == [(draft.about, draft.when, draft.body) for draft in read.drafts]


@pytest.mark.parametrize(
    ("row", "body"),
    [
        ("measured,leg_span,4.5,cm,,",
         Measured(item="leg_span", value=45.0, unit="mm", written="4.5", written_unit="cm")),
        ("measured,mass,20.2,mg,,",
         Measured(item="mass", value=0.0202, unit="g", written="20.2", written_unit="mg")),
        ("measured,carapace_length,1,in,,on=shed_skin;posture=stretched",
         Measured(item="carapace_length", value=25.4, unit="mm", written="1", written_unit="in",
                  on="shed_skin", posture="stretched")),
        ("offered,cricket,2,,taken,prey_mm=6; prekilled=yes",
         Offered(prey="cricket", number=2, outcome="taken", prey_mm=6.0, prekilled=True)),
        ("offered,cricket,,,,count=3", Offered(prey="cricket", number=3)),
        ("offered,,,,,", Offered()),
        ("moved,H4,,,,place=shelf C", Moved(home="H4", place="shelf C")),
        ("moulted,kept,,,,last_checked=2026-02-27", Moulted(exuvia="kept", last_checked="2026-02-27")),
        ("sexed,Female,,,,how=ventral", Sexed(sex="female", how="ventral")),
        ("watered,corner,30,ml,,",
         Watered(where="corner", value=30.0, unit="ml", written="30", written_unit="ml")),
        ("died,,,,,during_moult=no;last_seen_alive=2026-02-20",
         Died(during_moult=False, last_seen_alive="2026-02-20")),
        (r"moved,,,,,home=a\;b\\c\ ", Moved(home="a;b\\c ")),
    ],
)  # fmt: skip
def test_rows_of_entries(tables: Tables, row: str, body: Body) -> None:
    """item, value, unit, outcome and detail stand where the table of kinds says; the original is kept."""
    read = tables(entries=f"when,animal,entry,item,value,unit,outcome,detail\n2026-03-01,K1,{row}\n")
    assert body == only(read, type(body)).body


def test_the_note_of_sexed_says_how(tables: Tables) -> None:
    """`sexed` with the note 'exuvia' was sexed by the exuvia, as the contract says; other notes stay."""
    read = tables(entries="when,animal,entry,item,note\n2026-03-01,K1,sexed,female,exuvia\n"
                          "2026-03-02,K2,sexed,male,looks like it\n")  # fmt: skip
    assert [Sexed(sex="female", how="exuvia"), Sexed(sex="male", note="looks like it")] == [
        draft.body for draft in read.drafts if isinstance(draft.body, Sexed)
    ]


@pytest.mark.parametrize(
    ("name", "text", "about", "body"),
    [
        ("taxa", "taxon,group,other names,hazard\nA. b,Theraphosidae,A. c; 'A; d',hairs\n",
         Ref("taxon", "A. b"),
         Named(group="Theraphosidae", other_names=("A. c", "'A", "d'"), hazard="hairs")),
        ("batches", "batch,taxon,number,from\nB7,A. b,140,sac of K1\n", Ref("batch", "B7"),
         BatchBegun(taxon="A. b", number=140, source="sac of K1")),
        ("homes", "home,shape,inner_length_mm,lid_cover_fraction\nH3,box,200,0.5\n", Ref("home", "H3"),
         MadeUp(shape="box", inner_length_mm=200.0, lid_cover_fraction=0.5)),
        ("openings", "home,label,shape,at,count,width_mm\nH3,front,hole,side_high,12,2\n", Ref("home", "H3"),
         Opening(label="front", shape="hole", at="side_high", number=12, width_mm=2.0)),
        ("home_entries", "home,entry,item,value,unit\nH3,watered,dish,1,fl oz\n", Ref("home", "H3"),
         Watered(where="dish", value=29.5735295625, unit="ml", written="1", written_unit="fl oz")),
        ("place_entries", "place,entry,item,value,detail\nshelf B,place_set_up,shelf,2,inside=room\n",
         Ref("place", "shelf B"), PlaceSetUp(sort="shelf", position=2, inside="room")),
        ("expected_climate", "when,place,temperature_c\n2026-04-01,shelf B,21.5\n", Ref("place", "shelf B"),
         Expected(temperature_c=21.5)),
        ("larder", "lot,entry,feeder,size_mm,count,from\nL4,bought,cricket,6,100,shop\n", Ref("lot", "L4"),
         LotBegun(how="bought", feeder="cricket", size_mm=6.0, number=100, from_whom="shop")),
        ("larder", "lot,entry,count\nL4,died_off,20\n", Ref("lot", "L4"),
         LotChanged(what="died_off", number=20)),
        ("supplies", "item,name,feeder,size_low_mm,size_high_mm,pack,price,currency,lead_days,delivery,from\n"
         "feeder,small crickets,cricket,5,7,100,3.50,EUR,2,Tue; Wed,shop\n", ROOM,
         Supply(item="feeder", name="small crickets", feeder="cricket", size_low_mm=5.0, size_high_mm=7.0,
                pack=100, price="3.50", currency="EUR", lead_days=2, delivery=("Tue", "Wed"),
                from_whom="shop")),
        ("claims", "taxon,claim,low,high,unit,sense,source,grade\nA. b,adult_span,12,14,cm,maximum,page 3,C"
         "\n", Ref("taxon", "A. b"),
         Claim(claim="adult_span", low=12.0, high=14.0, unit="cm", sense="maximum", source="page 3",
               grade="C")),
        ("room_entries", "about,entry,item,value\ntaxon A. b,rule_set,offer_every_days,9\n",
         Ref("taxon", "A. b"), RuleSet(rule="offer_every_days", value="9")),
    ],
)  # fmt: skip
def test_rows_of_the_other_tables(tables: Tables, name: str, text: str, about: Ref, body: Body) -> None:
    """Every table of the contract reads its own columns (NIST HB 44, app. C: 1 fl oz = 29.5735295625 ml)."""
    draft = only(tables(**{name: text}), type(body))
    assert (about, body) == (draft.about, draft.body)


def test_climate_by_day_instant_and_in_fahrenheit(tables: Tables) -> None:
    """A date alone is the day's mean, an instant a reading; 68 °F are 20 °C (NIST SP 811) and are kept."""
    read = tables(climate="when,place,temperature_c,temperature_f,humidity_percent\n"
                          "2026-03-01,room,19.5,,60\n2026-03-01T07:30,room,,68,\n")  # fmt: skip
    assert [] == list(read.refusals)
    mean, reading = (draft for draft in read.drafts if isinstance(draft.body, Reading))
    assert Reading(temperature_c=19.5, humidity_percent=60.0) == mean.body
    assert Reading(temperature_c=20.0, statistic="reading", written="68 F") == reading.body
    assert datetime(2026, 3, 1, 7, 30, tzinfo=UTC) == reading.when.instant


def test_cells_are_kept_to_the_letter(tables: Tables) -> None:
    """Spaces, quotes, line breaks and any script survive in words; names lose outer spaces."""
    note = ' "quoted"\r\nsecond line, Größe 蜘蛛 '
    quoted = note.replace('"', '""')
    read = tables(entries=f'when,animal,entry,note\n2026-03-01, K1 ,seen,"{quoted}"\n')
    (draft,) = read.drafts[2:]
    assert (Ref("animal", "K1"), note) == (draft.about, draft.body.note)


def test_a_byte_order_mark_and_other_header_spellings_are_no_fault(tmp_path: Path) -> None:
    """Spreadsheets put a mark in front and capitals into headers."""
    path = tmp_path / "Animals.csv"
    path.write_bytes("\ufeffAnimal,Taxon,Arrived As\r\nK1,A. b,captive_bred\r\n".encode())
    assert [Arrived(taxon="A. b", origin="captive_bred")] == [d.body for d in read_tables(path, CLOCK).drafts]


def test_empty_columns_at_the_end_are_no_fault(tables: Tables) -> None:
    """Spreadsheets leave empty columns and rows behind; with something in them they are refused."""
    read = tables(entries="when,animal,entry,,\n2026-03-01,K1,seen,,\n,,,,\n")
    assert ([], 3) == (faults(read), len(read.drafts))
    assert [("entries.csv", 1, "")] * 2 == faults(
        tables(entries="when,animal,entry,,\n2026-03-01,K1,seen,,x\n")
    )


@pytest.mark.parametrize(
    ("header", "table"),
    [("when,animal,entry,note", "entries"), ("animal,taxon,place", "animals"),
     ("home,shape,substrate", "homes"), ("lot,entry,feeder", "larder"),
     ("when,home,entry,value,unit", "home_entries")],
)  # fmt: skip
def test_a_file_of_another_name_is_judged_by_its_header(tmp_path: Path, header: str, table: str) -> None:
    """One file alone may have any name if its header fits one table."""
    path = tmp_path / "from the old laptop.csv"
    path.write_text(f"{header}\n")
    assert [table] == [file.table for file in read_tables(path, CLOCK).files]


def test_a_file_whose_header_fits_no_table_is_refused(tmp_path: Path) -> None:
    """It is not taken for a pasted list of animals; the nearest table and its columns are named."""
    path = tmp_path / "weights.csv"
    path.write_text("when,spider,grams\n2026-03-01,K1,12\n")
    with pytest.raises(NotReadable, match=r"weights\.csv.*when, spider, grams.*entries\.csv|Name it as"):
        read_tables(path, CLOCK)


def test_a_header_that_fits_two_tables_is_asked_about(tmp_path: Path) -> None:
    """Climate read and climate expected look alike: the name must say which."""
    path = tmp_path / "numbers.csv"
    path.write_text("when,place,temperature_c\n")
    with pytest.raises(NotReadable, match=r"fits climate.csv and expected_climate.csv"):
        read_tables(path, CLOCK)


# -- what is refused ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "fields"),
    [
        ("2026-03-01,K1,measured,body_length,about 10,mm,,", ["value"]),
        ("2026-03-01,K1,measured,body_length,10,,,", ["unit"]),
        ("2026-03-01,K1,measured,body_length,10,g,,", ["unit"]),
        ("2026-03-01,K1,measured,mass,10,mm,,", ["unit"]),
        ("2026-03-01,K1,measured,mass,about 10,stone,,", ["value", "unit"]),
        ("2026-03-01,K1,measured,mass,-3,mg,,", ["value"]),
        ("2026-03-01,K1,measured,girth,10,mm,,", ["item"]),
        ("2026-03-01,K1,measured,,10,mm,,", ["item"]),
        ("01.03.2026,K1,moulted,,,,,", ["when"]),
        ("2026-03-04/2026-03-01,K1,moulted,,,,,", ["when"]),
        ("2026-02-30,K1,moulted,,,,,", ["when"]),
        ("2026-03-01 00:00:00,K1,moulted,,,,,", ["when"]),
        ("0001-01-01T00:00+14:00,K1,moulted,,,,,", ["when"]),
        ("2026-03-01,,moulted,,,,,", ["animal"]),
        ("2026-03-01,K1,molted,,,,,", ["entry"]),
        ("2026-03-01,K1,,,,,,", ["entry"]),
        ("2026-03-01,K1,offered,cricket,2.5,,eaten,", ["value", "outcome"]),
        ("2026-03-01,K1,offered,cricket,1e400,,,prey_mm=1e400", ["value", "detail: prey_mm"]),
        ("2026-03-01,K1,seen,,3,,taken,", ["value", "outcome"]),
        ("2026-03-01,K1,sexed,,,,,", ["item"]),
        ("2026-03-01,K1,measured,mass,3,mg,,on=exuvia;colour=red", ["detail: on", "detail: colour"]),
        ("2026-03-01,K1,offered,cricket,2,,,number=3", ["detail: number"]),
        ("2026-03-01,K1,died,,,,,in its burrow", ["detail"]),
        ("2026-03-01,K1,died,,,,,last_seen_alive=last week", ["detail: last_seen_alive"]),
        ("2026-03-01,K3,moulted,,,,,", ["animal"]),
        ("yesterday,K1,offered,cricket,some,,,", ["when", "value"]),
        ("2026-03-01,K1,moulted,,,,", [""]),
        ('2026-03-01,K1,moulted,,,,,"unclosed', [""]),
        ("2026-03-01,K1,made_up,,,,,", ["entry"]),
    ],
)  # fmt: skip
def test_a_cell_that_cannot_be_read_refuses_its_row(tables: Tables, row: str, fields: list[str]) -> None:
    """Each fault of a row is named by file, row and field, and the row stays out."""
    read = tables(
        entries=f"when,animal,entry,item,value,unit,outcome,detail\n2026-03-01,K1,seen,,,,,\n{row}\n"
    )
    assert [("entries.csv", 3, field) for field in fields] == faults(read)
    assert (3, 1) == (len(read.drafts), read.rows_refused)
    assert all(fault.wanted and fault.got for fault in read.refusals)


def test_the_message_says_what_to_do(tables: Tables) -> None:
    """A refusal in words: where, what was wanted, what came, what to do."""
    read = tables(entries="when,animal,entry,item,value,unit\n2026-03-01,K1,measured,mass,10,\n")
    assert (
        "entries.csv, row 2, unit: wanted a unit (which unit? one of g, kg, lb, mg, oz), got an empty cell. "
        "Write the unit beside the number, such as g."
    ) == str(read.refusals[0])


def test_rows_are_numbered_as_an_editor_shows_them(tables: Tables) -> None:
    """Empty lines and line breaks inside a cell count as lines."""
    text = 'when,animal,entry,note\n\n2026-03-01,K1,seen,"two\nlines"\n,,,\nsoon,K1,seen,\n'
    assert [("entries.csv", 6, "when")] == faults(tables(entries=text))


def test_an_unknown_animal_is_named_with_the_nearest_codes(tables: Tables) -> None:
    """An entry about an animal that nobody knows is refused; one that the room knows goes in."""
    text = "when,animal,entry\n2026-03-01,k1,seen\n2026-03-01,M5,seen\n"
    read = tables(entries=text, known=(Ref("animal", "M5"),))
    assert [("entries.csv", 2, "animal")] == faults(read)
    assert "Did you mean K1" in read.refusals[0].todo


def test_entries_of_an_animal_whose_row_was_refused_name_that_row(tables: Tables) -> None:
    """The cause is named, so that one mend is seen to be enough."""
    read = tables("animal,sex\nK1,woman\n", entries="when,animal,entry\n2026-03-01,K1,seen\n")
    assert [("animals.csv", 2, "sex"), ("entries.csv", 2, "animal")] == faults(read)
    assert "Mend animals.csv, row 2, first" in read.refusals[1].todo


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        ("when,animal,entry,wieght\n", "wieght", "an unknown column"),
        ("when,animal,entry,notes\n", "notes", "note"),
        ("when,animal,note\n", "entry", "a column 'entry'"),
        ("when,animal,entry,animal\n", "animal", "twice"),
        ("2026-03-01,K1,seen\n", "", "header row"),
        ("when;animal;entry\n2026-03-01;K1;seen\n", "", "commas"),
        ("", "", "empty file"),
    ],
)  # fmt: skip
def test_a_wrong_header_refuses_the_file(tables: Tables, text: str, field: str, says: str) -> None:
    """Unknown, missing and double columns are named, the nearest name suggested, and nothing is written."""
    read = tables(entries=text)
    assert [("entries.csv", 1, field)] == faults(read)
    assert says in str(read.refusals[0])
    assert read.blocked


@pytest.mark.parametrize(
    ("raw", "says"),
    [("note,größe\n".encode("cp1252"), "the byte 0xf6 in line 1"), ("animal\n".encode("utf-16"), "UTF-16"),
     ("animal\n".encode("utf-16-le"), "UTF-16")],
)  # fmt: skip
def test_other_encodings_are_refused(tmp_path: Path, raw: bytes, says: str) -> None:
    """Only UTF-8 is read; the message says how to save it so."""
    (tmp_path / "entries.csv").write_bytes(raw)
    read = read_tables(tmp_path, CLOCK)
    assert read.blocked
    assert says in str(read.refusals[0])


def test_a_folder_with_a_table_of_no_known_name_is_refused(tables: Tables) -> None:
    """Nothing in a folder is passed over in silence."""
    read = tables(entires="when,animal,entry\n")
    assert [("entires.csv", 0, "")] == faults(read)
    assert "entries.csv" in read.refusals[0].todo


def test_nothing_to_read_is_refused(tmp_path: Path) -> None:
    """A missing path and a folder without tables are refusals of their own."""
    with pytest.raises(NotReadable, match="nothing at"):
        read_tables(tmp_path / "gone", CLOCK)
    with pytest.raises(NotReadable, match="got none"):
        read_tables(tmp_path, CLOCK)


# -- keys, numbers, corrections ----------------------------------------------------------------------------


def test_the_same_rows_have_the_same_keys_in_any_order(tables: Tables, tmp_path: Path) -> None:
    """Keys come from content and occurrence: order, file and the spelling of an instant do not matter."""
    rows = ["2026-03-01,K1,offered,cricket", "2026-03-01,K1,offered,cricket", "2026-03-01T21:30,K1,seen,"]
    head = "when,animal,entry,item\n"
    first = tables(entries=head + "\n".join(rows))
    turned = tables(entries=head + "\n".join(["2026-03-01T21:30:00+00:00,K1,seen,", *rows[:2]]))
    alone = tables("animal\nK1\n", entries=head + rows[0])
    assert sorted(draft.key for draft in first.drafts) == sorted(draft.key for draft in turned.drafts)
    assert 5 == len({draft.key for draft in first.drafts})
    assert alone.drafts[1].key in {draft.key for draft in first.drafts}


def test_corrections_and_outcomes_refer_to_rows(tables: Tables) -> None:
    """`corrects` and `offer` name numbers in the tables and become references between the drafts."""
    read = tables(entries="when,animal,entry,item,value,unit,outcome,detail,number,corrects\n"
                          "2026-03-03,K1,measured,mass,12,g,,,31,30\n"
                          "2026-03-02,K1,offer_seen,,,,taken,offer=12,40,\n"
                          "2026-03-01,K1,offered,cricket,,,,,12,\n"
                          "2026-03-03,K1,measured,mass,21,g,,,30,\n")  # fmt: skip
    assert [] == list(read.refusals)
    offered, wrong, right, seen = read.drafts[:4]  # numbered rows by number, then the others
    assert isinstance(offered.body, Offered)
    assert -2 == right.corrects
    assert OfferSeen(outcome="taken", offer=-1) == seen.body
    assert (12.0, 21.0) == (right.body.value, wrong.body.value)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("rows", "refused"),
    [
        (["K1,seen,5,,", "K1,seen,6,9,"], [(3, "corrects")]),
        (["K1,seen,5,6,", "K1,seen,6,,"], [(2, "corrects")]),
        (["K1,seen,5,,", "K1,seen,5,,"], [(3, "number")]),
        (["K1,seen,5,,", "K1,sewn,6,,", "K1,seen,7,6,"], [(3, "entry"), (4, "corrects")]),
        (["K1,seen,,,a", "K2,seen,,,a"], [(3, "key")]),
        (["K1,seen,0,,", "K1,seen,x,,"], [(2, "number"), (3, "number")]),
    ],
)
def test_numbers_and_keys_that_do_not_fit_are_refused(
    tables: Tables, rows: list[str], refused: list[tuple[int, str]]
) -> None:
    """A correction of nothing, of a later or a refused row, and a number or key used twice."""
    read = tables(entries="animal,entry,number,corrects,key\n" + "\n".join(rows))
    assert [("entries.csv", *place) for place in refused] == faults(read)


def test_a_row_that_stands_twice_under_one_key_goes_in_once(tables: Tables) -> None:
    """Two exports pasted together do not double anything."""
    read = tables(entries="animal,entry,key\nK1,seen,a\nK1,seen,a\n")
    assert (3, 1, []) == (len(read.drafts), read.repeated, faults(read))


# -- rejects -----------------------------------------------------------------------------------------------


def test_rejects_hold_the_rows_as_they_came_and_can_be_mended(tables: Tables, tmp_path: Path) -> None:
    """A rejects file has the table's own cells, then file, row, field and problem; mended, it imports."""
    read = tables(entries='when,animal,entry,item,value,unit,note\n2026-03-01,K1,seen,,,,\n'
                          '2026-03-01,K1,measured,mass,about 3,,"a, b"\n')  # fmt: skip
    (path,) = write_rejects(read, tmp_path)
    text = path.read_text(encoding="utf-8")
    assert "entries.rejects.csv" == path.name
    assert text.startswith("when,animal,entry,item,value,unit,note,file,row,field,problem\n")
    assert '\n2026-03-01,K1,measured,mass,about 3,,"a, b",entries.csv,3,value' in text
    assert 2 == len(
        read_tables(tmp_path, CLOCK).files
    )  # the rejects beside the tables are not read with them
    path.write_text(text.replace("about 3,", "3,g"), encoding="utf-8")
    mended = read_tables(path, CLOCK, known=(Ref("animal", "K1"),))
    assert ([], 1) == (faults(mended), len(mended.drafts))
    assert on_day(date(2026, 3, 1)) == mended.drafts[0].when
