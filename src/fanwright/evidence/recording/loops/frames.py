"""What every loop does with a frame: follow the clock, count it, keep it if it is wanted.

The functions of this folder are plain Python to look at and compiled before use (``kernels.py``). Times are
whole microseconds. A payload is a 64-bit word, first byte lowest, as the bus counts its bytes.

Three arrays go through all loops: ``book`` holds what was counted and remembered, at the places below;
``lookup`` says which parameter group is which message (0: not wanted); ``out`` takes the frames that are
kept, a row each: time; identifier, length, channel and message packed into one word; payload.
"""

from __future__ import annotations

from typing import Any

import numpy as np

(
    FIRST,
    LAST,
    STARTED,
    FRAMES,
    USED,
    ERRORS,
    UNREAD,
    SHORT_IDENT,
    REMOTE,
    LONG_DATA,
    SENT,
    DISORDER,
    BORDERS,
    KEPT,
    CHANNELS,
    LEFT_OUT,
    TIMES,
    PARTS,
    BASE,
    SKIP,
    NAME,
    NAME_MASK,
    NAME_LENGTH,
    NAME_CHANNEL,
    BEGIN,
    GLITCHES,
    SUSPECT,
    SUSPECT_AT,
    HELD,
) = range(29)
"""Places in the book that hold one number each."""

MOST_CHANNELS = 8
MOST_STREAMS = 64
MOST_BORDERS = 20_000
HELD_FRAME = 29
"""The frame whose time stamp waits to be confirmed: identifier, payload, length, channel."""
FANS = HELD_FRAME + 4
"""Frames of the fan drive, by channel."""
NAMES = FANS + MOST_CHANNELS
"""Names of channels, two words each."""
COUNTS = NAMES + 2 * MOST_CHANNELS
"""Frames by channel and message."""
INTERVALS = COUNTS + MOST_CHANNELS * MOST_STREAMS
"""Shortest interval kept, by message."""
EDGES = INTERVALS + MOST_STREAMS
"""Jumps of the clock: frames kept before, time before, time after."""
SLOTS = EDGES + 3 * MOST_BORDERS
"""By channel, message and sender: time of the last frame kept; what it said, and after which fan frame."""
BOOK = SLOTS + 2 * MOST_CHANNELS * MOST_STREAMS * 256

DATA, ELEVEN, REMOTE_FRAME, LONG_FRAME, ERROR_FRAME = range(5)
"""Kinds of a frame."""

WAITING, CONFIRMED = 1, 2
SPARE = 64
"""Bytes that must stay readable behind the end of a chunk."""

GAP_US = 10_000_000
"""No frame at all for longer than this: the logger was off; a session ends (assumption)."""

WINDOW_US = 1_000_000
"""Lines out of order by less than this are sorted; a longer step back is a step of the clock (assumption)."""

ENGINE_STREAM, FAN_STREAM = 1, 2
ENGINE_ON_RAW = 3200
"""400 r/min in steps of 1/8 r/min."""

NOTHING = np.uint64(0)


def clock(time: Any, book: Any) -> Any:
    """Follow the clock: first and last time, gaps, steps back, lines out of order.

    Returns:
        Whether the time stamp is to be believed. One that jumps is not, until the next confirms it; the frame
        that came with it is held back that long.
    """
    if book[STARTED] == 0:
        book[STARTED] = 1
        book[FIRST] = time
        book[LAST] = time
        return True
    gap = time - book[LAST]
    if 0 <= gap <= GAP_US:
        book[LAST] = time
        return True
    if -WINDOW_US <= gap < 0:
        book[DISORDER] += 1
        return True
    return jump(time, book)


def follows(time: Any, book: Any) -> Any:
    """Say whether a time stamp plainly follows the last one; if so, go on with it."""
    if not 0 <= time - book[LAST] <= GAP_US:
        return False
    book[LAST] = time
    return True


def jump(time: Any, book: Any) -> Any:
    """Note that the clock jumps; say whether the stamp before this one jumped to the same place."""
    suspect = book[SUSPECT]
    since = time - suspect
    believed = -WINDOW_US <= since <= GAP_US or (since > 0 and suspect > book[LAST])
    if book[FRAMES] + book[ERRORS] - book[SUSPECT_AT] > 1 or book[SUSPECT_AT] == 0 or not believed:
        book[GLITCHES] += 1
        book[HELD] = 0
        book[SUSPECT] = time
        book[SUSPECT_AT] = book[FRAMES] + book[ERRORS]
        return False
    book[GLITCHES] -= 1
    if book[BORDERS] < MOST_BORDERS:
        at = EDGES + 3 * book[BORDERS]
        book[at] = book[KEPT]
        book[at + 1] = book[LAST]
        book[at + 2] = suspect
    book[BORDERS] += 1
    book[LAST] = time
    book[SUSPECT_AT] = 0
    book[HELD] = CONFIRMED if book[HELD] == WAITING else 0
    return True


def hold(frame: Any, book: Any) -> None:
    """Hold a data frame back until its time stamp is confirmed."""
    _, _, ident, payload, length, channel, _ = frame
    book[HELD] = WAITING
    book[HELD_FRAME], book[HELD_FRAME + 1] = ident, np.int64(payload)
    book[HELD_FRAME + 2], book[HELD_FRAME + 3] = length, channel


def let_go(frame: Any, book: Any, lookup: Any, out: Any) -> None:
    """Take the frame that was held back if its time stamp was confirmed; forget it otherwise."""
    if book[HELD] == CONFIRMED:
        kind, _, _, _, _, _, sent = frame
        payload = np.uint64(book[HELD_FRAME + 1])
        length, channel = book[HELD_FRAME + 2], book[HELD_FRAME + 3]
        held = (kind, book[SUSPECT], book[HELD_FRAME], payload, length, channel, sent)
        stream = stream_of(book[HELD_FRAME], lookup)
        if stream != 0:
            take(held, stream, book, out)
    book[HELD] = 0


def take(frame: Any, stream: Any, book: Any, out: Any) -> None:
    """Keep a data frame of a wanted message if it is not sent more often than needed."""
    _, time, ident, payload, length, channel, _ = frame
    book[USED] += 1
    if channel >= MOST_CHANNELS:
        book[LEFT_OUT] += 1
        return
    book[COUNTS + channel * MOST_STREAMS + stream] += 1
    if book[INTERVALS + stream] > 0:
        mark = engine_mark(payload, length) if stream == ENGINE_STREAM else np.int64(0)
        if not needed(frame, stream, mark, book):
            return
    if stream == FAN_STREAM:
        book[FANS + channel] += 1
    at = book[KEPT] - book[BASE]
    out[at, 0] = time
    out[at, 1] = ident | (length << 32) | (channel << 40) | (stream << 48)
    out[at, 2] = np.int64(payload)
    book[KEPT] += 1


def stream_of(ident: Any, lookup: Any) -> Any:
    """Find the message of an identifier (0: not wanted); under 240 the third byte is a receiver."""
    group = (ident >> 8) & 0x3FFFF
    if (ident >> 16) & 0xFF < 240:
        group &= 0x3FF00
    return np.int64(lookup[group])


def engine_mark(payload: Any, length: Any) -> Any:
    """Say what bytes 4 and 5 say of the engine: 1 not known, 2 under 400 r/min, 3 at or above."""
    raw = np.int64((payload >> np.uint64(24)) & np.uint64(0xFFFF))
    if length < 5 or raw >= 0xFB00:
        return np.int64(1)
    return np.int64(3) if raw >= ENGINE_ON_RAW else np.int64(2)


def needed(frame: Any, stream: Any, mark: Any, book: Any) -> Any:
    """Say whether a frame of a fast message is kept.

    One a sender and interval is; and, so that what is counted stays exact, every frame in which the engine
    passes 400 r/min, and the first engine speed after each frame of the fan drive.
    """
    _, time, ident, _, _, channel, _ = frame
    slot = SLOTS + 2 * ((channel * MOST_STREAMS + stream) * 256 + (ident & 0xFF))
    since = time - book[slot]
    seen = book[slot + 1]
    keep = since >= book[INTERVALS + stream] or since < -WINDOW_US
    if stream == ENGINE_STREAM:
        keep = keep or seen & 3 != mark or seen >> 2 != book[FANS + channel]
    if keep:
        book[slot] = time
        book[slot + 1] = (book[FANS + channel] << 2) | mark
    return keep


def channel_of(first: Any, second: Any, book: Any) -> Any:
    """Find or enter a channel by its name, given as two words; channels past the last place share it."""
    known = book[CHANNELS]
    for place in range(known):
        if book[NAMES + 2 * place] == np.int64(first) and book[NAMES + 2 * place + 1] == np.int64(second):
            return np.int64(place)
    if known < MOST_CHANNELS:
        book[NAMES + 2 * known] = np.int64(first)
        book[NAMES + 2 * known + 1] = np.int64(second)
        book[CHANNELS] = known + 1
    return np.int64(known)


def scaled(time: Any, book: Any) -> Any:
    """Bring a time stamp of a wrong unit to microseconds."""
    if book[TIMES] == book[PARTS]:
        return time
    return time * book[TIMES] // book[PARTS]


def count_frame(frame: Any, book: Any, lookup: Any, out: Any) -> None:
    """Count a frame by its kind and hand data frames with long identifiers on.

    Args:
        frame: Kind, time [us], identifier, payload, length, channel, whether it is the copy of a sent frame.
        book: What was counted and remembered.
        lookup: What is wanted.
        out: What is kept.
    """
    kind = frame[0]
    believed = clock(frame[1], book)
    if book[HELD] != 0:
        let_go(frame, book, lookup, out)
    if kind == ERROR_FRAME:
        book[ERRORS] += 1
        return
    book[FRAMES] += 1
    if frame[6]:
        book[SENT] += 1
    if kind == DATA:
        stream = stream_of(frame[2], lookup)
        if believed and stream != 0:
            take(frame, stream, book, out)
        elif not believed:
            hold(frame, book)
    elif kind == ELEVEN:
        book[SHORT_IDENT] += 1
    elif kind == REMOTE_FRAME:
        book[REMOTE] += 1
    else:
        book[LONG_DATA] += 1


def sift(frames: Any, book: Any, lookup: Any, out: Any) -> None:
    """Hand frames that were read elsewhere, as columns, to the same counting and keeping."""
    kind, time, ident, payload, length, channel, sent = frames
    for at in range(time.shape[0]):
        when = scaled(time[at], book)
        frame = (kind[at], when, ident[at], payload[at], length[at], channel[at], sent[at])
        count_frame(frame, book, lookup, out)


def number_at(buffer: Any, at: Any, size: Any) -> Any:
    """Read a little-endian number of up to four bytes."""
    value = np.int64(0)
    for place in range(size):
        value |= np.int64(buffer[at + place]) << (8 * place)
    return value
