"""MF4 with logged bus frames, read by python-can on top of asammdf (an extra package)."""

from __future__ import annotations

import importlib
from typing import Any, Final

from fanwright.evidence.recording.formats._python_can import rows
from fanwright.evidence.recording.formats._text import hand_on
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "MF4"
PROBE: Final = False


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no MF4; None when it may be."""
    if head.startswith((b"MDF     4", b"UnFinMF ")):
        return None
    return Message("it does not begin with MDF 4")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    hand_on(rows(source, intake, _open), intake)
    first = intake.tally().first_us
    return "absolute" if first is not None and first >= EARLIEST_S * 1_000_000 else "relative"


def _open(name: str) -> Any:
    importlib.import_module("asammdf")
    from can.io.mf4 import MF4Reader

    return MF4Reader(name)
