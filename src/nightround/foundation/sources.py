"""Where a number comes from: every value shown carries the key of one of these."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Grade(StrEnum):
    """How far a source can be trusted; own records first."""

    OWN = "own record"
    A = "peer-reviewed, official or veterinary"
    B = "named expert, society or zoo"
    C = "keepers' pages and vendors"
    D = "unsigned pages"
    CP = "common practice, no source"
    MEM = "from memory"


@dataclass(frozen=True)
class Source:
    """A key, what to cite, and its grade."""

    key: str
    citation: str
    grade: Grade


COMMON_PRACTICE = Source("common-practice", "common practice, no source", Grade.CP)
OWN_RECORDS = Source("own-records", "the records of this room", Grade.OWN)
