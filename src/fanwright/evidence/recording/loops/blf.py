"""One pass over the unpacked objects of a BLF file.

An object begins with ``LOBJ``, the size of its head, a version, its own size and what it is; behind it stand
a time stamp in tens of microseconds or in nanoseconds, and the body. Layout from memory and from what a
general bus library writes.
"""

from __future__ import annotations

from typing import Any

import numpy as np

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
    number_at,
    scaled,
)

LOBJ = 0x4A424F4C
MOST_OBJECT = 4096
CLASSIC, CLASSIC_TOO, FLEXIBLE, FLEXIBLE_64 = 1, 86, 100, 101
ERRORS_SHORT, ERRORS_LONG = 2, 73


def blf(buffer: Any, end: Any, final: Any, book: Any, lookup: Any, out: Any) -> Any:
    """Read the objects in a stretch of unpacked bytes.

    Args:
        buffer: Unpacked bytes.
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
        if number_at(buffer, at, 4) != LOBJ:
            there = next_object(buffer, at, end)
            book[UNREAD] += there - at > 8
            at = there
            continue
        head, size = number_at(buffer, at + 4, 2), number_at(buffer, at + 8, 4)
        what = number_at(buffer, at + 12, 4)
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


def next_object(buffer: Any, at: Any, end: Any) -> Any:
    """Find where the next object may begin."""
    there = at + 1
    while there + 4 <= end and number_at(buffer, there, 4) != LOBJ:
        there += 1
    return there


def one_object(buffer: Any, at: Any, what: Any, book: Any) -> Any:
    """Read one object that holds a frame, or count it as unread (kind -1)."""
    head, size = number_at(buffer, at + 4, 2), number_at(buffer, at + 8, 4)
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
    ticks = number_at(buffer, at + 24, 4) | (number_at(buffer, at + 28, 4) << 32)
    time = ticks * 10 if number_at(buffer, at + 16, 4) == 1 else ticks // 1000
    time = scaled(book[BEGIN] + time, book)
    bus = number_at(buffer, body, 1 if what == FLEXIBLE_64 else 2)
    channel = channel_of(bus + 1, np.int64(0), book)
    if least == 4:
        return np.int64(ERROR_FRAME), time, ident, payload, length, channel, sent
    kind, length, first, sent = one_body(buffer, body, what)
    ident = number_at(buffer, body + 4, 4)
    if kind == DATA and (length > 8 or first + length > at + size):
        book[UNREAD] += 1
        kind = np.int64(-1)
    elif kind == DATA and ident >> 31 == 0:
        kind = np.int64(ELEVEN)
    elif kind == DATA:
        for place in range(length):
            payload |= np.uint64(buffer[first + place]) << np.uint64(8 * place)
    return kind, time, ident & 0x1FFFFFFF, payload, length, channel, sent


def one_body(buffer: Any, body: Any, what: Any) -> Any:
    """Give kind, length, where the data begin and whether the frame is the copy of a sent one."""
    kind = np.int64(DATA)
    if what in (CLASSIC, CLASSIC_TOO):
        flags, length = number_at(buffer, body + 2, 1), number_at(buffer, body + 3, 1)
        if flags & 0x80:
            kind = np.int64(REMOTE_FRAME)
        return kind, length, body + 8, flags & 1 == 1
    if what == FLEXIBLE:
        length, long_data = number_at(buffer, body + 14, 1), number_at(buffer, body + 13, 1) & 1
        first, sent = body + 20, number_at(buffer, body + 2, 1) & 1 == 1
    else:
        length, long_data = number_at(buffer, body + 2, 1), number_at(buffer, body + 12, 4) & 0x1000
        first, sent = body + 40, False
    if long_data or length > 8:
        kind = np.int64(LONG_FRAME)
    return kind, length, first, sent
