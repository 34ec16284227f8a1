"""Plain tables: the journal as text that a person can read, mend and keep, and back again."""

from nightround.journal.tables.loose import DateOrder
from nightround.journal.tables.pasted import read_pasted_list
from nightround.journal.tables.read import read_tables
from nightround.journal.tables.rejects import write_rejects
from nightround.journal.tables.results import FileRead, Origin, RoomSettings, RowRefusal, TablesRead
from nightround.journal.tables.write import write_tables

__all__ = [
    "DateOrder", "FileRead", "Origin", "RoomSettings", "RowRefusal", "TablesRead",
    "read_pasted_list", "read_tables", "write_rejects", "write_tables",
]  # fmt: skip
