"""MF4 with logged bus frames: the raw records of each group, whatever fields they have."""

from __future__ import annotations

import struct
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import RELATIVE
from fanwright.evidence.recording.formats._mdf import (
    MASTER,
    UNFINISHED,
    Group,
    Mdf,
    is_mdf,
    open_mdf,
)
from fanwright.evidence.recording.formats._mdf_values import first_bytes, numbers, times_us
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.intake import Frames, Intake
from fanwright.evidence.recording.loops.frames import DATA, ELEVEN, ERROR_FRAME, LONG_FRAME, REMOTE_FRAME
from fanwright.evidence.recording.source import Source
from fanwright.words import Message, listing, text

NAME: Final = "MF4"
PROBE: Final = False
BATCH = 1 << 18
LONG_IDENT = 1 << 31
MOST_SHOWN = 8

_MASKS = np.array([(1 << 8 * length) - 1 for length in range(9)], np.uint64)


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no MF4; None when it may be."""
    return None if is_mdf(head) else Message("it does not begin with MDF 4")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock.

    Raises:
        FileError: It is damaged, or holds decoded signals and no frames.
    """
    if source.head().startswith(UNFINISHED):
        source.said.append(
            Message(
                "{file} was not finished by its logger; what was written is read", {"file": text(source.path)}
            )
        )
    mdf = open_mdf(source)
    groups = mdf.bus_groups()
    if not groups:
        raise _decoded(source, mdf)
    parts: list[Frames] = []
    for group in groups:
        try:
            parts.append(_frames(mdf, group, intake))
        except (ValueError, struct.error):  # the other groups are still read
            intake.unread()
    intake.unread(mdf.lost)
    if source.progress is not None:
        source.progress(1, 1)
    _hand_on(parts, intake)
    first = intake.tally().first_us
    return mdf.start[1] if first is not None and first >= EARLIEST_S * 1_000_000 else RELATIVE


def _decoded(source: Source, mdf: Mdf) -> FileError:
    names = [channel.name for group in mdf.groups for channel in group.channels if channel.kind != MASTER]
    shown = tuple(text(name) for name in names[:MOST_SHOWN])
    return FileError(
        Message(
            "{file} (MF4) holds decoded signals and no frames of a bus, and no signal of them says what the "
            "fan is told; they are {names}. Let the logger export its frames, or name the signals in "
            "[telemetry] of the shop file",
            {"file": text(source.path), "names": listing(shown)},
        )
    )


def _frames(mdf: Mdf, group: Group, intake: Intake) -> Frames:
    records = mdf.records(group)
    rows, kind = len(records), group.kind

    def column(*fields: str) -> NDArray[np.int64] | None:
        for field in fields:
            channel = group.channel(".".join((kind, field)))
            if channel is not None:
                return np.asarray(numbers(channel, records), np.int64)
        return None

    ident, length, flag = column("ID"), column("DataLength", "DLC"), column("IDE")
    if ident is None or length is None:
        if kind != "CAN_ErrorFrame":
            raise ValueError("frames without identifier or length")
        ident = length = np.zeros(rows, np.int64)
    extended = ident >= LONG_IDENT
    extended |= (ident > 0x7FF) if flag is None else (flag > 0)
    kinds = np.where(extended, DATA, ELEVEN)
    long = column("EDL")
    kinds[(length > 8) if long is None else ((length > 8) | (long > 0))] = LONG_FRAME
    if kind == "CAN_ErrorFrame":
        kinds[:] = ERROR_FRAME
    elif kind == "CAN_RemoteFrame":
        kinds[:] = REMOTE_FRAME
    payload = np.zeros(rows, np.uint64)
    data = group.channel(kind + ".DataBytes")
    if data is not None:
        payload = _words(first_bytes(mdf, group, data, records), length)
    channel = _channels(column("BusChannel"), rows, intake, group.source)
    way = column("Dir")
    sent = np.zeros(rows, np.bool_) if way is None else way == 1
    return kinds, times_us(mdf, group, records), ident & 0x1FFFFFFF, payload, length, channel, sent


def _words(room: NDArray[np.uint8], length: NDArray[np.int64]) -> NDArray[np.uint64]:
    """Give eight bytes a row as one word, first byte lowest, nothing past the length."""
    words: NDArray[np.uint64] = room.view("<u8").ravel() & _MASKS[np.clip(length, 0, 8)]
    return words


def _channels(numbers: NDArray[np.int64] | None, rows: int, intake: Intake, name: str) -> NDArray[np.int64]:
    if numbers is None:
        return np.full(rows, intake.channel(name or "1"), np.int64)
    found = np.zeros(rows, np.int64)
    for number in np.unique(numbers).tolist():
        found[numbers == number] = intake.channel(str(number))
    return found


def _hand_on(parts: list[Frames], intake: Intake) -> None:
    """Hand the frames of all groups on in order of time."""
    if not parts:
        return
    columns = parts[0]
    if len(parts) > 1:
        columns = tuple(np.concatenate(column) for column in zip(*parts, strict=True))
    if (np.diff(columns[1]) < 0).any():
        order = np.argsort(columns[1], kind="stable")
        columns = tuple(column[order] for column in columns)
    for first in range(0, len(columns[1]), BATCH):
        intake.sift(tuple(column[first : first + BATCH] for column in columns))
