"""One pass over the unpacked objects of a BLF file.

An object begins with ``LOBJ``, the size of its head, a version, its own size and what it is; behind it stand
a time stamp in tens of microseconds or in nanoseconds, and the body. Layout from memory and from what a
general bus library writes.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fanwright.evidence.recording.loops.candump import load64
from fanwright.evidence.recording.loops.frames import (
    BEGIN,
    DATA,
    ELEVEN,
    ERROR_FRAME,
    LONG_FRAME,
    NOTHING,
    REMOTE_FRAME,
    SKIP,
    UNREAD,
    channel_of,
    count_frame,
    scaled,
)

LOBJ = 0x4A424F4C
MOST_OBJECT = 4096
CLASSIC, CLASSIC_TOO, FLEXIBLE, FLEXIBLE_64 = 1, 86, 100, 101
ERRORS_SHORT, ERRORS_LONG = 2, 73


def blf(buffer: Any, end: Any, final: Any, book: Any, lookup: Any, out: Any) -> Any:
    """Read the objects in a stretch of unpacked bytes.

    Args:
        buffer: Unpacked bytes, with ``SPARE`` readable bytes behind them.
        end: Where they end.
        final: Whether the file ends there.
        book: What was counted and remembered.
        lookup: What is wanted.
        out: What is kept.

    Returns:
        How many bytes were used up; the rest is the beginning of an object.
    """
    at = min(book[SKIP], end)
    book[SKIP] -= at
    while at + 16 <= end:
        if four(buffer, at) != LOBJ:
            there = next_object(buffer, at, end)
            book[UNREAD] += there - at > 8
            at = there
            continue
        head, size = two(buffer, at + 4), four(buffer, at + 8)
        what = four(buffer, at + 12)
        holds_frame = what in (CLASSIC, CLASSIC_TOO, FLEXIBLE, FLEXIBLE_64, ERRORS_SHORT, ERRORS_LONG)
        if size < 16 or head > size or (holds_frame and size > MOST_OBJECT):
            book[UNREAD] += 1
            at += 4
            continue
        if at + size > end:
            if holds_frame and not final:
                return at
            book[UNREAD] += final
            book[SKIP] = at + size - end
            return end
        if holds_frame:
            frame = one_object(buffer, at, what, book)
            if frame[0] >= 0:
                count_frame(frame, book, lookup, out)
        at += size
    return end if final else at


def one(buffer: Any, at: Any) -> Any:
    """Read one byte."""
    return np.int64(load64(buffer, at) & np.uint64(0xFF))


def two(buffer: Any, at: Any) -> Any:
    """Read a number of two bytes."""
    return np.int64(load64(buffer, at) & np.uint64(0xFFFF))


def four(buffer: Any, at: Any) -> Any:
    """Read a number of four bytes."""
    return np.int64(load64(buffer, at) & np.uint64(0xFFFFFFFF))


def next_object(buffer: Any, at: Any, end: Any) -> Any:
    """Find where the next object may begin."""
    there = at + 1
    while there + 4 <= end and four(buffer, there) != LOBJ:
        there += 1
    return there


def one_object(buffer: Any, at: Any, what: Any, book: Any) -> Any:
    """Read one object that holds a frame, or count it as unread (kind -1)."""
    head, size = two(buffer, at + 4), four(buffer, at + 8)
    body = at + head
    least = 16
    if what in (ERRORS_SHORT, ERRORS_LONG):
        least = 4
    elif what in (FLEXIBLE, FLEXIBLE_64):
        least = 20 if what == FLEXIBLE else 40
    kind, length, ident, payload, sent = np.int64(-1), np.int64(0), np.int64(0), NOTHING, False
    if head < 32 or head + least > size:
        book[UNREAD] += 1
        return kind, np.int64(0), ident, payload, length, np.int64(0), sent
    ticks = np.int64(load64(buffer, at + 24))
    time = ticks * 10 if four(buffer, at + 16) == 1 else ticks // 1000
    time = scaled(book[BEGIN] + time, book)
    bus = one(buffer, body) if what == FLEXIBLE_64 else two(buffer, body)
    channel = channel_of(bus + 1, np.int64(0), book)
    if least == 4:
        return np.int64(ERROR_FRAME), time, ident, payload, length, channel, sent
    kind, length, first, sent = one_body(buffer, body, what)
    ident = four(buffer, body + 4)
    if kind == DATA and (length > 8 or first + length > at + size):
        book[UNREAD] += 1
        kind = np.int64(-1)
    elif kind == DATA and ident >> 31 == 0:
        kind = np.int64(ELEVEN)
    elif kind == DATA:
        payload = load64(buffer, first)
        if length < 8:
            payload &= (np.uint64(1) << np.uint64(8 * length)) - np.uint64(1)
    return kind, time, ident & 0x1FFFFFFF, payload, length, channel, sent


def one_body(buffer: Any, body: Any, what: Any) -> Any:
    """Give kind, length, where the data begin and whether the frame is the copy of a sent one."""
    kind = np.int64(DATA)
    if what in (CLASSIC, CLASSIC_TOO):
        flags, length = one(buffer, body + 2), one(buffer, body + 3)
        if flags & 0x80:
            kind = np.int64(REMOTE_FRAME)
        return kind, length, body + 8, flags & 1 == 1
    if what == FLEXIBLE:
        length, long_data = one(buffer, body + 14), one(buffer, body + 13) & 1
        first, sent = body + 20, one(buffer, body + 2) & 1 == 1
    else:
        length, long_data = one(buffer, body + 2), four(buffer, body + 12) & 0x1000
        first, sent = body + 40, False
    if long_data or length > 8:
        kind = np.int64(LONG_FRAME)
    return kind, length, first, sent
