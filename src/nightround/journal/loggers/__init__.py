"""Files of climate loggers of any make: read by what their columns show; what is not clear is asked."""

from __future__ import annotations

from nightround.journal.loggers.days import DaysRead, drafts_of
from nightround.journal.loggers.progress import Progress, unheard
from nightround.journal.loggers.read import HowRead, LoggerRead, Question, read_logger

__all__ = [
    "DaysRead",
    "HowRead",
    "LoggerRead",
    "Progress",
    "Question",
    "drafts_of",
    "read_logger",
    "unheard",
]
