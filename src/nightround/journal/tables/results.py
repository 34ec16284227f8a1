"""What reading tables gives: drafts in writing order, refusals by file, row and field, and what was seen."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time

from nightround.journal.entries import Draft
from nightround.journal.issued import Issued


@dataclass(frozen=True, slots=True)
class RowRefusal:
    """One fault that keeps a row (or, with `whole_file`, a file) out of the journal.

    row     line of the file, as an editor numbers it, at which the row begins (0: the file itself)
    field   column (or `detail: key`); '' when it is about the row as a whole
    """

    file: str
    row: int
    field: str
    got: str
    wanted: str
    todo: str = ""
    whole_file: bool = False

    def __str__(self) -> str:
        place = f"{self.file}, row {self.row}" if self.row else self.file
        if self.field:
            place += f", {self.field}"
        todo = f" {self.todo.rstrip('.')}." if self.todo else ""
        return f"{place}: {self.problem}{todo}"

    @property
    def problem(self) -> str:
        """What was wanted and what came, in one sentence."""
        return f"wanted {self.wanted.rstrip('.')}, got {self.got}."


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A refused row as it came, for the rejects file."""

    row: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FileRead:
    """One file that was read: the table it holds, its rows, and those among them that were refused."""

    file: str
    table: str
    header: tuple[str, ...] = ()
    rows: int = 0
    refused: tuple[RefusedRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a draft came from."""

    file: str
    row: int


@dataclass(frozen=True, slots=True)
class RoomSettings:
    """The settings of the room that an export came from."""

    name: str = ""
    time_zone: str = "UTC"
    turns_at: time = time(4)
    invented: bool = False


@dataclass(frozen=True)
class TablesRead:
    """Everything that was read.

    drafts     ready for one `append`: a draft that others refer to stands before them, references are −k
    origins    file and row of each draft, in the same order
    repeated   rows left out because they carry a key that stands on another row with the same content
    settings   of the exported room, when the folder is an export
    issued     forecasts of the exported room's track record
    """

    drafts: tuple[Draft, ...] = ()
    refusals: tuple[RowRefusal, ...] = ()
    files: tuple[FileRead, ...] = ()
    origins: tuple[Origin, ...] = ()
    repeated: int = 0
    settings: RoomSettings | None = None
    on: date | None = field(default=None)
    issued: tuple[Issued, ...] = ()

    @property
    def blocked(self) -> bool:
        """Whether a whole file could not be read: then nothing should be written, good rows included."""
        return any(refusal.whole_file for refusal in self.refusals)

    @property
    def rows(self) -> int:
        """How many rows with content were seen."""
        return sum(file.rows for file in self.files)

    @property
    def rows_refused(self) -> int:
        """How many rows were refused (a row may have several faults)."""
        return sum(len(file.refused) for file in self.files)
