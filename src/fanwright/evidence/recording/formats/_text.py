"""Frames read line by line in Python, handed on as columns; what the text formats share."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.loops.frames import DATA, ELEVEN, ERROR_FRAME, LONG_FRAME, REMOTE_FRAME

BATCH = 1 << 14

Row = tuple[int, int, int, int, int, int, bool]
"""Kind, time [us], identifier, payload, length, channel, whether sent."""


def data_row(
    time_us: int,
    ident: int,
    extended: bool,
    data: bytes,
    channel: int,
    *,
    sent: bool = False,
    long: bool = False,
) -> Row:
    """Make a row of a data frame; one with over 8 bytes is only counted."""
    kind = DATA if extended else ELEVEN
    if long or len(data) > 8:
        kind = LONG_FRAME
    return kind, time_us, ident & 0x1FFFFFFF, int.from_bytes(data[:8], "little"), len(data), channel, sent


def error_row(time_us: int, channel: int) -> Row:
    """Make a row of an error frame."""
    return ERROR_FRAME, time_us, 0, 0, 0, channel, False


def remote_row(time_us: int, ident: int, channel: int) -> Row:
    """Make a row of a remote frame."""
    return REMOTE_FRAME, time_us, ident & 0x1FFFFFFF, 0, 0, channel, False


def hand_on(rows: Iterator[Row], intake: Intake) -> None:
    """Hand rows on in batches."""
    batch: list[Row] = []
    for row in rows:
        batch.append(row)
        if len(batch) >= BATCH:
            _send(batch, intake)
            batch.clear()
    if batch:
        _send(batch, intake)


def _send(batch: list[Row], intake: Intake) -> None:
    kind, time, ident, payload, length, channel, sent = zip(*batch, strict=True)
    intake.sift(
        (
            np.array(kind, np.int64),
            np.array(time, np.int64),
            np.array(ident, np.int64),
            np.array(payload, np.uint64),
            np.array(length, np.int64),
            np.array(channel, np.int64),
            np.array(sent, np.bool_),
        )
    )


def microseconds(seconds: str) -> int:
    """Turn decimal text in seconds into whole microseconds, without a float.

    Example:
        >>> microseconds("12.0451219"), microseconds("7")
        (12045121, 7000000)
    """
    whole, _, fraction = seconds.partition(".")
    return int(whole or "0") * 1_000_000 + int((fraction + "000000")[:6])


def first_lines(head: bytes, most: int = 300) -> list[str]:
    """Give the first lines of a text file without the one that was cut."""
    lines = head.decode("utf-8", "replace").lstrip("\ufeff").splitlines()
    if len(lines) > 1 and not head.endswith((b"\n", b"\r")):
        lines.pop()
    return lines[:most]
