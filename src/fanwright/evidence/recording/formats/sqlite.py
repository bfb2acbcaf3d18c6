"""The SQLite file that python-can writes."""

from __future__ import annotations

from typing import Any, Final

from fanwright.evidence.recording.formats._python_can import rows
from fanwright.evidence.recording.formats._text import hand_on
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "SQLite"
PROBE: Final = False
MAGIC = b"SQLite format 3\0"


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no such file; None when it may be."""
    return None if head.startswith(MAGIC) else Message("it does not begin with SQLite format 3")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    hand_on(rows(source, intake, _open), intake)
    first = intake.tally().first_us
    return "absolute" if first is not None and first >= EARLIEST_S * 1_000_000 else "relative"


def _open(name: str) -> Any:
    from can.io.sqlite import SqliteReader

    return SqliteReader(name)
