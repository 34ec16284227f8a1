"""Whatever is in a file, reading answers with drafts and refusals, or with one refusal of its own."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from nightround.foundation.clock import RoomClock
from nightround.foundation.refusal import NotReadable
from nightround.journal.entries import Ref
from nightround.journal.kinds import KINDS
from nightround.journal.tables import TablesRead, read_pasted_list, read_tables, write_rejects
from nightround.journal.tables.layout import TABLES

CLOCK = RoomClock("America/Denver")
KNOWN = (Ref("animal", "K1"),)

cells = st.one_of(
    st.sampled_from([
        "", " ", "K1", "2026-03-01", "2026-03-01/", "/", "9999-12-31T23:59+14:00", "0001-01-01T00:00",
        "2026-13", "mass", "mm", "g", "1", "-1", "1e999", "nan", "9" * 400, "taken", "yes", "female", "room",
        "batch B7", "lot ", "on=live", "on=", "=", "a=b=c", "\\", ";;", "on=live;on=live", "offer=1",
        "value=x", "written=\\;", "\0", '"', 'a"b', "\r", "\n",
    ]),
    st.sampled_from(list(KINDS)), st.text(max_size=6),
)  # fmt: skip


@st.composite
def files(draw: st.DrawFn) -> tuple[str, str]:
    """A table's name and a text that more or less looks like it."""
    table = draw(st.sampled_from(list(TABLES.values())))
    header = draw(st.lists(st.sampled_from(table.names), min_size=1, max_size=12, unique=draw(st.booleans())))
    header = [*table.needed, *(name for name in header if name not in table.needed)]
    width = len(header) + draw(st.sampled_from([0, 0, 0, 1, -1]))
    rows = draw(st.lists(st.lists(cells, min_size=width, max_size=width), max_size=4))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    return table.file, end.join([",".join(header), *(",".join(row) for row in rows)])


def sound(read: TablesRead) -> None:
    """Every row is a draft or has a refusal with words in it; every reference names an earlier draft."""
    assert all(fault.file and fault.wanted and fault.got for fault in read.refusals)
    for position, draft in enumerate(read.drafts, start=1):
        assert draft.key
        assert draft.corrects is None or -position < draft.corrects < 0
    assert len(read.drafts) == len(read.origins) == len({draft.key for draft in read.drafts})
    assert bool(read.refusals) == bool(read.rows_refused) or read.blocked


@given(st.lists(files(), min_size=1, max_size=3))
@settings(max_examples=300)
def test_tables_with_anything_in_their_cells(tables: list[tuple[str, str]]) -> None:
    """No cell makes reading fail otherwise than by a refusal; rejects can always be written."""
    with TemporaryDirectory() as folder:
        for name, text in tables:
            (Path(folder) / name).write_text(text, encoding="utf-8", errors="replace", newline="")
        read = read_tables(folder, CLOCK, known=KNOWN)
        sound(read)
        if not read.blocked:
            assert read.rows == len(read.drafts) + read.rows_refused + read.repeated
        assert len(write_rejects(read, folder)) == sum(bool(file.refused) for file in read.files)


@given(st.sampled_from(["entries.csv", "animals.csv", "anything.csv", "list.txt"]), st.binary(max_size=200))
@settings(max_examples=200)
def test_files_of_any_bytes(name: str, content: bytes) -> None:
    """A file that is no table at all is refused in words."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        try:
            sound(read_tables(path, CLOCK, known=KNOWN, on=date(2026, 3, 1)))
        except NotReadable as refusal:
            assert str(refusal)


@given(st.text(st.sampled_from(list("K1 2026-03,;\t\n\"'.cm inchcodetaxonspan()?é")), max_size=80))
@settings(max_examples=300)
def test_pasted_lists_of_any_text(text: str) -> None:
    """A paste that is no list is refused in words."""
    try:
        read = read_pasted_list(text, CLOCK, date(2026, 3, 1))
    except NotReadable as refusal:
        assert str(refusal)
        return
    sound(read)
