"""Values of the channels of an MDF 4 file, out of its records."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.formats._mdf import (
    LINEAR,
    MASTER,
    RATIONAL,
    VARIABLE,
    VIRTUAL_MASTER,
    Bytes,
    Channel,
    Group,
    Mdf,
)

FLOATS: Final = {4: "<", 5: ">"}
BIG_ENDIAN: Final = (1, 3)
SIGNED: Final = (2, 3)
TEXTS: Final = (6, 7, 8, 9)
"""Types of data (ASAM MDF 4.1, from memory)."""
MOST_SECONDS: Final = 1e10


def numbers(channel: Channel, records: Bytes) -> NDArray[Any]:
    """Give the raw values of a channel of numbers."""
    if channel.kind == VIRTUAL_MASTER:
        return np.arange(len(records), dtype=np.int64)
    part = _part(channel, records)
    if channel.data_type in FLOATS and channel.bits in (32, 64):
        form = "".join((FLOATS[channel.data_type], "f", str(channel.bits // 8)))
        return np.ascontiguousarray(part).view(form).ravel()
    if channel.data_type == 0 and channel.bit_offset == 0 and channel.bits in (8, 16, 32):
        return np.ascontiguousarray(part).view("".join(("<u", str(channel.bits // 8)))).ravel()
    if part.shape[1] > 8 or channel.data_type > 3:
        raise ValueError("a channel that is no number")
    room = np.zeros((len(records), 8), np.uint8)
    room[:, : part.shape[1]] = part[:, ::-1] if channel.data_type in BIG_ENDIAN else part
    words = room.view("<u8").ravel() >> np.uint64(channel.bit_offset)
    words = words & np.uint64((1 << channel.bits) - 1)
    value = words.astype(np.int64)
    if channel.data_type in SIGNED and channel.bits < 64:
        value = np.where(value >> (channel.bits - 1), value - (1 << channel.bits), value)
    return value


def values(channel: Channel, records: Bytes) -> NDArray[Any]:
    """Give the values of a channel in its unit; texts as bytes."""
    if channel.data_type in TEXTS and channel.kind != VIRTUAL_MASTER:
        part = np.ascontiguousarray(_part(channel, records))
        return part.view("".join(("S", str(part.shape[1])))).ravel()
    raw = numbers(channel, records).astype(np.float64)
    kind, p = channel.scaling
    if kind == LINEAR and p:
        return p[0] + p[1] * raw
    if kind == RATIONAL and p:
        with np.errstate(divide="ignore", invalid="ignore"):
            return (p[0] * raw**2 + p[1] * raw + p[2]) / (p[3] * raw**2 + p[4] * raw + p[5])
    return raw


def _part(channel: Channel, records: Bytes) -> Bytes:
    many = (channel.bit_offset + channel.bits + 7) // 8
    if not many or channel.byte_offset + many > records.shape[1]:
        raise ValueError("a channel outside its record")
    return records[:, channel.byte_offset : channel.byte_offset + many]


def first_bytes(mdf: Mdf, group: Group, channel: Channel, records: Bytes) -> Bytes:
    """Give the first eight bytes of a channel of bytes, a row each."""
    if channel.kind != VARIABLE:
        part = _part(channel, records)[:, :8]
        if part.shape[1] == 8:
            return np.ascontiguousarray(part)
        room = np.zeros((len(records), 8), np.uint8)
        room[:, : part.shape[1]] = part
        return room
    at = numbers(channel, records)
    content = _varying(mdf, group, channel.data)
    padded = np.append(content, np.zeros(16, np.uint8))
    inside = (at >= 0) & (at + 4 <= len(content))
    mdf.lost += int((~inside).sum())
    return np.asarray(padded[np.where(inside, at, len(content))[:, None] + 4 + np.arange(8)], np.uint8)


def _varying(mdf: Mdf, group: Group, at: int) -> Bytes:
    """Give values of varying length, each behind its length, in one piece."""
    if not at:
        raise ValueError("no values of varying length")
    if mdf.block(at).kind != b"CG":
        return mdf.content(at)
    (number,) = mdf.unpack("Q", mdf.block(at))
    other = Group(-1, number, 0, 0, 4, "", (), group.data, group.id_bytes, group.sizes)
    data = mdf.content(group.data)
    parts = [data[first : first + size] for first, size in zip(*mdf.places(data, other), strict=True)]
    return np.concatenate(parts) if parts else np.empty(0, np.uint8)


def times_us(mdf: Mdf, group: Group, records: Bytes) -> NDArray[np.int64]:
    """Give the times of a group's records [us].

    Raises:
        ValueError: It has no time.
    """
    for channel in group.channels:
        if channel.kind in (MASTER, VIRTUAL_MASTER):
            seconds = values(channel, records)
            good = np.isfinite(seconds) & (np.abs(seconds) < MOST_SECONDS)
            mdf.lost += int((~good).sum())
            return mdf.start[0] + np.round(np.where(good, seconds, 0.0) * 1e6).astype(np.int64)
    raise ValueError("a group without time")
