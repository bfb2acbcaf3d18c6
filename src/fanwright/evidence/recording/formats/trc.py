"""TRC: text of several versions, read by python-can; lines of status and errors are dropped by it."""

from __future__ import annotations

from typing import Any, Final

from fanwright.evidence.recording.formats._python_can import rows
from fanwright.evidence.recording.formats._text import first_lines, hand_on
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "TRC"
PROBE: Final = False


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no TRC; None when it may be."""
    if any(line.startswith((";$FILEVERSION", ";##")) for line in first_lines(head, 30)):
        return None
    return Message("it does not begin with ;$FILEVERSION")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    hand_on(rows(source, intake, _open), intake)
    first = intake.tally().first_us
    return "local" if first is not None and first > 0 and b"$STARTTIME" in source.head() else "relative"


def _open(name: str) -> Any:
    from can.io.trc import TRCReader

    return TRCReader(name)
