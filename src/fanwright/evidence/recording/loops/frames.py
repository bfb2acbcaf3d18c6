"""What every loop does with a frame: follow the clock, count it, keep it if it is wanted.

The functions of this folder are plain Python to look at and compiled before use (``kernels.py``). Times are
whole microseconds. A payload is a 64-bit word, first byte lowest, as the bus counts its bytes.

A *sink* is a tuple of arrays, in the order of the places below: what is wanted, counted and kept.
"""

from __future__ import annotations

from typing import Any

import numpy as np

(
    LOOKUP,
    INTERVAL,
    SLOT_TIME,
    SLOT_MARK,
    SLOT_FAN,
    FANS,
    COUNTS,
    EDGES,
    STATE,
    NAMES,
    OUT_TIME,
    OUT_IDENT,
    OUT_PAYLOAD,
    OUT_LENGTH,
    OUT_CHANNEL,
    OUT_STREAM,
) = range(16)

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
) = range(20)
"""Places in the state array."""

STATES = 20
DATA, ELEVEN, REMOTE_FRAME, LONG_FRAME, ERROR_FRAME = range(5)
"""Kinds of a frame."""

MOST_CHANNELS = 8
MOST_STREAMS = 64
MOST_BORDERS = 20_000
SLOTS = MOST_CHANNELS * MOST_STREAMS * 256
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


def clock(time: Any, state: Any, edges: Any) -> None:
    """Follow the clock: first and last time, gaps, steps back, lines out of order."""
    if state[STARTED] == 0:
        state[STARTED] = 1
        state[FIRST] = time
        state[LAST] = time
        return
    gap = time - state[LAST]
    if gap > GAP_US or gap < -WINDOW_US:
        if state[BORDERS] < MOST_BORDERS:
            edges[state[BORDERS], 0] = state[KEPT]
            edges[state[BORDERS], 1] = state[LAST]
            edges[state[BORDERS], 2] = time
        state[BORDERS] += 1
    elif gap < 0:
        state[DISORDER] += 1
        return
    state[LAST] = time


def take(time: Any, ident: Any, payload: Any, length: Any, channel: Any, *, sink: Any) -> None:
    """Keep a frame if its message is wanted and not sent more often than needed."""
    state = sink[STATE]
    group = ident >> 8 if (ident >> 16) & 0xFF >= 240 else (ident >> 8) & 0x3FF00
    stream = np.int64(sink[LOOKUP][group & 0x3FFFF])
    if stream == 0:
        return
    state[USED] += 1
    if channel >= MOST_CHANNELS:
        state[LEFT_OUT] += 1
        return
    sink[COUNTS][channel, stream] += 1
    slot = (channel * MOST_STREAMS + stream) * 256 + (ident & 0xFF)
    if sink[INTERVAL][stream] > 0 and not needed(
        slot, stream, channel, time, engine_mark(payload, length), sink
    ):
        return
    if stream == FAN_STREAM:
        sink[FANS][channel] += 1
    kept = state[KEPT]
    at = kept - state[BASE]
    sink[OUT_TIME][at] = time
    sink[OUT_IDENT][at] = ident
    sink[OUT_PAYLOAD][at] = payload
    sink[OUT_LENGTH][at] = length
    sink[OUT_CHANNEL][at] = channel
    sink[OUT_STREAM][at] = stream
    state[KEPT] = kept + 1


def engine_mark(payload: Any, length: Any) -> Any:
    """Say what bytes 4 and 5 say of the engine: 1 not known, 2 under 400 r/min, 3 at or above."""
    raw = np.int64((payload >> np.uint64(24)) & np.uint64(0xFFFF))
    if length < 5 or raw >= 0xFB00:
        return 1
    return 3 if raw >= ENGINE_ON_RAW else 2


def needed(slot: Any, stream: Any, time: Any, mark: Any, sink: Any) -> Any:
    """Say whether a frame of a fast message is kept.

    One a sender and interval is; and, so that what is counted stays exact, every frame in which the engine
    passes 400 r/min, and the first engine speed after each frame of the fan drive.
    """
    slot_time, slot_mark, slot_fan = sink[SLOT_TIME], sink[SLOT_MARK], sink[SLOT_FAN]
    fan_frames = sink[FANS][slot // (MOST_STREAMS * 256)]
    since = time - slot_time[slot]
    keep = since >= sink[INTERVAL][stream] or since < -WINDOW_US
    if stream == ENGINE_STREAM:
        keep = keep or mark != slot_mark[slot] or slot_fan[slot] != fan_frames
        slot_mark[slot] = mark
    if keep:
        slot_time[slot] = time
        slot_fan[slot] = fan_frames
    return keep


def channel_of(first: Any, second: Any, sink: Any) -> Any:
    """Find or enter a channel by its name, given as two words; channels past the last place share it."""
    names, state = sink[NAMES], sink[STATE]
    known = state[CHANNELS]
    for place in range(known):
        if names[place, 0] == first and names[place, 1] == second:
            return place
    if known >= MOST_CHANNELS:
        return MOST_CHANNELS
    names[known, 0] = first
    names[known, 1] = second
    state[CHANNELS] = known + 1
    return known


def scaled(time: Any, state: Any) -> Any:
    """Bring a time stamp of a wrong unit to microseconds."""
    if state[TIMES] == state[PARTS]:
        return time
    return time * state[TIMES] // state[PARTS]


def count_frame(frame: Any, sink: Any) -> None:
    """Count a frame by its kind and hand data frames with long identifiers on.

    Args:
        frame: Kind, time [us], identifier, payload, length, channel, whether it is the copy of a sent frame.
        sink: What is wanted, counted and kept.
    """
    kind, time, ident, payload, length, channel, sent = frame
    state = sink[STATE]
    clock(time, state, sink[EDGES])
    if kind == ERROR_FRAME:
        state[ERRORS] += 1
        return
    state[FRAMES] += 1
    if sent:
        state[SENT] += 1
    if kind == DATA:
        take(time, ident, payload, length, channel, sink=sink)
    elif kind == ELEVEN:
        state[SHORT_IDENT] += 1
    elif kind == REMOTE_FRAME:
        state[REMOTE] += 1
    else:
        state[LONG_DATA] += 1


def sift(frames: Any, sink: Any) -> None:
    """Hand frames that were read elsewhere, as columns, to the same counting and keeping."""
    kind, time, ident, payload, length, channel, sent = frames
    for at in range(time.shape[0]):
        when = scaled(time[at], sink[STATE])
        whole = np.int64(ident[at]), payload[at], np.int64(length[at]), np.int64(channel[at])
        count_frame((np.int64(kind[at]), when, whole[0], whole[1], whole[2], whole[3], sent[at]), sink)


def number_at(buffer: Any, at: Any, size: Any) -> Any:
    """Read a little-endian number of up to four bytes."""
    value = np.int64(0)
    for place in range(size):
        value |= np.int64(buffer[at + place]) << (8 * place)
    return value
