"""Logs as candump -l and -L write them."""

from __future__ import annotations

import re
from typing import Final

from fanwright.evidence.recording.intake import Intake, pump
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "candump log"
LINE = re.compile(
    rb"\((\d{1,12})\.(\d{1,9})\) ([!-~]{1,15}) "
    rb"(?:(?:([0-3][0-9A-Fa-f]{7})|([0-7][0-9A-Fa-f]{2}))#)"
    rb"(?:R[0-8]?(?:_[9A-Fa-f])?|#[0-9A-Fa-f](?:[0-9A-Fa-f]{2}){0,64}"
    rb"|(?:[0-9A-Fa-f]{2}){8}_[9A-Fa-f]|(?:[0-9A-Fa-f]{2}){0,8})(?: [RT])?"
)
"""One line, without its end. An identifier of eight digits may use 30 bits, the highest for error frames."""

EARLIEST_S = 315_532_800
"""1980: a time stamp before that counts from a zero of its own (assumption) [s since 1970]."""


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no such log; None when it may be."""
    if any(LINE.fullmatch(line.rstrip(b"\r")) for line in head.split(b"\n")[:2000]):
        return None
    return Message("no line is «(seconds) channel identifier#data»")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a log on and give the kind of its clock."""
    with source.opened() as fill:
        pump(fill, intake.kernels.candump, intake)
    first = intake.tally().first_us
    return "absolute" if first is not None and first >= EARLIEST_S * 1_000_000 else "relative"
