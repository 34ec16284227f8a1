"""docs/tables.md says what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nightround.foundation.clock import RoomClock
from nightround.journal.entries import Ref
from nightround.journal.kinds import KINDS
from nightround.journal.tables import read_pasted_list, read_tables
from nightround.journal.tables.layout import TABLES
from tools import write_tables as page

CLOCK = RoomClock("Europe/Lisbon")


def text() -> str:
    return page.TABLES_FILE.read_text(encoding="utf-8")


def test_the_page_is_up_to_date() -> None:
    """The page is what tools/write_tables.py writes."""
    assert page.tables_text() == text()


def test_every_table_column_and_kind_is_on_the_page() -> None:
    """Nothing that can be imported is left undocumented."""
    sections = dict(re.findall(r"^## (\S+\.csv)\n(.*?)(?=^## )", text(), re.MULTILINE | re.DOTALL))
    assert [table.file for table in TABLES.values()] == list(sections)
    for table in TABLES.values():
        own = [column.name for column in table.columns if not page.bookkeeping(column)]
        assert own == re.findall(r"^\| `(\w+)` \|", sections[table.file], re.MULTILINE)
    described = set(re.findall(r"^\| `(\w+)` \| [^|]+ \| [^|]+ \| [^|]*\.csv", text(), re.MULTILINE))
    in_own_table = {table.shapes[word].kind.name for table in TABLES.values() for word in table.shapes
                    if word not in KINDS} - {"arrived"}  # fmt: skip
    assert set(KINDS) == described | in_own_table


@pytest.mark.parametrize("name", TABLES)
def test_the_examples_can_be_read(name: str, tmp_path: Path) -> None:
    """Each example on the page is a table that reads without a refusal."""
    assert f"```csv\n{page.EXAMPLES[name]}```" in text()
    (tmp_path / TABLES[name].file).write_text(page.EXAMPLES[name], encoding="utf-8")
    read = read_tables(tmp_path, CLOCK, known=[Ref("animal", "K12")])
    assert [] == [str(fault) for fault in read.refusals]
    assert page.EXAMPLES[name].count("\n") - 1 == len(read.drafts)


def test_the_pasted_list_of_the_page_can_be_read() -> None:
    """Two animals, one span, two moults."""
    (listed,) = re.findall(r"```text\n(code .*?)```", text(), re.DOTALL)
    read = read_pasted_list(listed, CLOCK, CLOCK.today())
    assert ([], 5) == ([str(fault) for fault in read.refusals], len(read.drafts))
