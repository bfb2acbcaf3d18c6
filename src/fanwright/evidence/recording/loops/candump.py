"""One pass over the text of a candump log, eight characters at a time.

A line is ``(seconds.fraction) channel identifier#data``, with ``#R`` for a remote frame, ``##`` and a flag
for a frame with long data, and maybe `` R`` or `` T`` at the end. Eight digits of identifier are a long one,
three a short one; bit 29 of a long one marks an error frame.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fanwright.evidence.recording.loops.frames import (
    DATA,
    ELEVEN,
    ERROR_FRAME,
    FRAMES,
    LONG_FRAME,
    MOST_CHANNELS,
    NAME,
    NAME_CHANNEL,
    NAME_LENGTH,
    NAME_MASK,
    NAMES,
    NOTHING,
    REMOTE_FRAME,
    UNREAD,
    channel_of,
    count_frame,
    follows,
    scaled,
    stream_of,
    take,
)

_LOW = np.uint64(0x0F0F0F0F0F0F0F0F)
_HIGH = np.uint64(0xF0F0F0F0F0F0F0F0)
_ZEROS = np.uint64(0x3030303030303030)
_SIXES = np.uint64(0x0606060606060606)
_SIGNS = np.uint64(0x8080808080808080)
_ONES = np.uint64(0x0101010101010101)
_CASE = np.uint64(0x2020202020202020)
_TO_0 = np.uint64(0x5050505050505050)
_OVER_9 = np.uint64(0x4646464646464646)
_TO_A = np.uint64(0x1F1F1F1F1F1F1F1F)
_OVER_F = np.uint64(0x1919191919191919)
_EVEN = np.uint64(0x00FF00FF00FF00FF)
_PAIRS = np.uint64(0x0000FFFF0000FFFF)
_HALF = np.uint64(0x00000000FFFFFFFF)
_M1, _M2, _M3 = np.uint64(2561), np.uint64(6553601), np.uint64(42949672960001)
_S4, _S6, _S8, _S16, _S24, _S32, _S48, _NINE = (
    np.uint64(4),
    np.uint64(6),
    np.uint64(8),
    np.uint64(16),
    np.uint64(24),
    np.uint64(32),
    np.uint64(48),
    np.uint64(9),
)
_BYTE, _THIRD_BYTE = np.uint64(0xFF), np.uint64(0xFF0000)
_LINE_ENDS = np.uint64(0x0A0A0A0A0A0A0A0A)
_TWO_ZEROS = np.uint64(0x3030)
_SIX_ZEROS = np.uint64(0x0000303030303030)
_MARKS = np.uint64(0x2029_0A23_2E28)
"""What stands between the fields of the plainest line: ``(``, ``.``, ``#``, its end, ``)`` and a blank."""

UNREADABLE = -1
PLAIN_AROUND = 47
"""Characters of the plainest line, its channel's name left out."""


def load64(buffer: Any, at: Any) -> Any:
    """Load eight bytes from any place as one word; one instruction when compiled."""
    return buffer[at : at + 8].view(np.uint64)[0]


def all_digits(word: Any) -> Any:
    """Say whether eight characters are all decimal digits."""
    return (word & _HIGH) == _ZEROS and ((word + _SIXES) & _HIGH) == _ZEROS


def eight_digits(word: Any) -> Any:
    """Turn eight decimal digits into a number."""
    word = ((word & _LOW) * _M1) >> _S8
    word = ((word & _EVEN) * _M2) >> _S16
    return np.int64(((word & _PAIRS) * _M3) >> _S32)


def all_hex(word: Any) -> Any:
    """Say whether eight characters are all hexadecimal digits, of either case."""
    folded = word | _CASE
    digit = (word + _TO_0) & ~(word + _OVER_9)
    letter = (folded + _TO_A) & ~(folded + _OVER_F)
    return (word & _SIGNS) == NOTHING and ((digit | letter) & _SIGNS) == _SIGNS


def four_bytes(word: Any) -> Any:
    """Turn eight hexadecimal digits into four bytes, first byte lowest."""
    nibbles = (word & _LOW) + ((word >> _S6) & _ONES) * _NINE
    pairs = ((nibbles << _S4) | (nibbles >> _S8)) & _EVEN
    pairs = (pairs | (pairs >> _S8)) & _PAIRS
    return (pairs | (pairs >> _S16)) & _HALF


def turned(word: Any) -> Any:
    """Turn four bytes, first lowest, into the number they spell."""
    low = np.int64(word)
    return ((low & 0xFF) << 24) | ((low & 0xFF00) << 8) | ((low >> 8) & 0xFF00) | (low >> 24)


def candump(buffer: Any, end: Any, final: Any, book: Any, lookup: Any, out: Any) -> Any:
    """Read the lines of a chunk of a candump log.

    The plainest line (ten digits of seconds, six of fraction, a long identifier, eight bytes) is read by its
    known places; everything else goes to :func:`any_line`.

    Args:
        buffer: The chunk, with ``SPARE`` readable bytes behind it.
        end: Where it ends.
        final: Whether the file ends there, so that an unfinished last line is read too.
        book: What was counted and remembered.
        lookup: What is wanted.
        out: What is kept.

    Returns:
        How many bytes were used up; the rest is the beginning of a line.
    """
    at = np.int64(0)
    name, mask, length = np.uint64(book[NAME]), np.uint64(book[NAME_MASK]), book[NAME_LENGTH]
    while at < end:
        if (
            length > 0
            and at + length + PLAIN_AROUND <= end
            and (load64(buffer, at + 20) & mask) == name
            and plain_line(buffer, at, book, lookup, out)
        ):
            at += length + PLAIN_AROUND
            continue
        stop = end_of_line(buffer, at, end)
        if stop == end and not final:
            return at
        last = stop - 1 if stop > at and buffer[stop - 1] == 13 else stop
        if last > at:
            frame = any_line(buffer, at, last, book)
            if frame[0] >= 0:
                count_frame(frame, book, lookup, out)
                name, mask, length = np.uint64(book[NAME]), np.uint64(book[NAME_MASK]), book[NAME_LENGTH]
        at = stop + 1
    return min(at, end)


def end_of_line(buffer: Any, at: Any, end: Any) -> Any:
    """Find the next end of a line, or the end of the chunk; eight characters at a time."""
    stop = at
    while stop < end:
        word = load64(buffer, stop) ^ _LINE_ENDS
        if (word - _ONES) & ~word & _SIGNS != NOTHING:
            break
        stop += 8
    while stop < end and buffer[stop] != 10:
        stop += 1
    return min(stop, end)


def plain_line(buffer: Any, at: Any, book: Any, lookup: Any, out: Any) -> Any:
    """Read a line of the plainest form, its channel's name known; say whether it was one.

    Single characters are cut out of words, too: a word is loaded without a look at its place's sign.
    """
    ident_at = at + book[NAME_LENGTH] + 21
    seconds, middle, rest = load64(buffer, at + 1), load64(buffer, at + 9), load64(buffer, at + 12)
    ident_text = load64(buffer, ident_at)
    low_text, high_text = load64(buffer, ident_at + 9), load64(buffer, ident_at + 17)
    marks = (
        (load64(buffer, at) & _BYTE)
        | ((middle & _THIRD_BYTE) >> _S8)
        | ((load64(buffer, ident_at + 8) & _BYTE) << _S16)
        | ((load64(buffer, ident_at + 25) & _BYTE) << _S24)
        | ((rest >> _S48) << _S32)
    )
    whole = (rest << _S16) | _TWO_ZEROS
    last_two = (middle << _S48) | _SIX_ZEROS
    if not (
        marks == _MARKS
        and all_digits(seconds)
        and all_digits(whole)
        and all_digits(last_two)
        and all_hex(ident_text)
        and all_hex(low_text)
        and all_hex(high_text)
    ):
        return False
    ident = turned(four_bytes(ident_text))
    if ident > 0x1FFFFFFF:
        return False
    time = (eight_digits(seconds) * 100 + eight_digits(last_two)) * 1_000_000 + eight_digits(whole)
    time = scaled(time, book)
    if not follows(time, book):
        payload = four_bytes(low_text) | (four_bytes(high_text) << _S32)
        frame = (np.int64(DATA), time, ident, payload, np.int64(8), book[NAME_CHANNEL], False)
        count_frame(frame, book, lookup, out)
        return True
    book[FRAMES] += 1
    stream = stream_of(ident, lookup)
    if stream != 0:
        payload = four_bytes(low_text) | (four_bytes(high_text) << _S32)
        take((DATA, time, ident, payload, np.int64(8), book[NAME_CHANNEL], False), stream, book, out)
    return True


def remember_name(channel: Any, book: Any) -> None:
    """Remember a channel's name with its blank as a word, the mask over both, its length (0: too long)."""
    book[NAME_CHANNEL], book[NAME_LENGTH] = channel, 0
    if channel >= MOST_CHANNELS:
        return
    word = np.uint64(book[NAMES + 2 * channel])
    length = np.int64(0)
    while length < 8 and (word >> np.uint64(8 * length)) & np.uint64(0xFF) != NOTHING:
        length += 1
    if length < 8:
        book[NAME_LENGTH] = length
        book[NAME] = np.int64(word | (np.uint64(32) << np.uint64(8 * length)))
        book[NAME_MASK] = np.int64((~NOTHING) >> np.uint64(8 * (7 - length)))


def any_line(buffer: Any, at: Any, end: Any, book: Any) -> Any:
    """Read one line of any form as a frame, or count it as unread (kind -1)."""
    time, place = parse_time(buffer, at, end)
    name_at = place + 1
    kind, ident, payload, length, sent = np.int64(UNREADABLE), np.int64(0), NOTHING, np.int64(0), False
    if 0 <= place < end and buffer[place] == 32:
        place = after_name(buffer, name_at, end)
        if place >= 0:
            kind, ident, payload, length, sent = parse_frame(buffer, place + 1, end)
    if kind < 0:
        book[UNREAD] += 1
        return kind, time, ident, payload, length, np.int64(0), sent
    first, second = word_of(buffer, name_at, place), word_of(buffer, name_at + 8, place)
    channel = channel_of(first, second, book)
    if channel != book[NAME_CHANNEL] or book[NAME_LENGTH] < 0:
        remember_name(channel, book)
    return kind, scaled(time, book), ident, payload, length, channel, sent


def after_name(buffer: Any, at: Any, end: Any) -> Any:
    """Find the blank behind a channel's name of 1 to 15 characters, or -1."""
    place = at
    while place < end and 33 <= buffer[place] <= 126:
        place += 1
    if not 1 <= place - at <= 15 or place >= end or buffer[place] != 32:
        return -1
    return place


def parse_frame(buffer: Any, at: Any, end: Any) -> Any:
    """Read ``identifier#data``: kind (or -1), identifier, payload, length, whether sent."""
    ident = np.int64(0)
    place = at
    while place < end and place - at < 9 and hex_value(buffer[place]) >= 0:
        ident = (ident << 4) | hex_value(buffer[place])
        place += 1
    digits = place - at
    kind, payload, length, sent = np.int64(UNREADABLE), NOTHING, np.int64(0), False
    if digits in (3, 8) and place < end and buffer[place] == 35:
        kind, payload, length, place = parse_data(buffer, place + 1, end)
    if place + 2 == end and buffer[place] == 32 and buffer[place + 1] in (82, 84):
        sent = buffer[place + 1] == 84
        place += 2
    if place != end or (digits == 3 and ident > 0x7FF) or ident >> 30 != 0:
        kind = np.int64(UNREADABLE)
    elif kind == DATA and digits == 3:
        kind = np.int64(ELEVEN)
    elif kind >= 0 and ident >> 29 == 1:
        kind = np.int64(ERROR_FRAME)
    return kind, ident, payload, length, sent


def parse_time(buffer: Any, at: Any, end: Any) -> Any:
    """Read ``(seconds.fraction)`` of up to 12 and 9 digits in microseconds; the place behind it, or -1."""
    time = np.int64(0)
    if at >= end or buffer[at] != 40:
        return time, np.int64(-1)
    place = at + 1
    while place < end and 48 <= buffer[place] <= 57 and place - at < 14:
        time = time * 10 + (np.int64(buffer[place]) - 48)
        place += 1
    if not 1 <= place - at - 1 <= 12 or place >= end or buffer[place] != 46:
        return time, np.int64(-1)
    place += 1
    start = place
    while place < end and 48 <= buffer[place] <= 57 and place - start < 10:
        if place - start < 6:
            time = time * 10 + (np.int64(buffer[place]) - 48)
        place += 1
    digits = place - start
    if not 1 <= digits <= 9 or place >= end or buffer[place] != 41:
        return time, np.int64(-1)
    while digits < 6:
        time *= 10
        digits += 1
    return time, place + 1


def parse_data(buffer: Any, at: Any, end: Any) -> Any:
    """Read what follows the first ``#``: kind (or -1), payload, length, the place behind it."""
    kind, most = np.int64(DATA), 8
    payload, length, place = NOTHING, np.int64(0), at
    if place < end and buffer[place] == 82:
        place += 1
        if place < end and 48 <= buffer[place] <= 56:
            place += 1
        return np.int64(REMOTE_FRAME), payload, length, after_raw_length(buffer, place, end)
    if place < end and buffer[place] == 35:
        if place + 1 >= end or hex_value(buffer[place + 1]) < 0:
            return np.int64(UNREADABLE), payload, length, place
        kind, most = np.int64(LONG_FRAME), 64
        place += 2
    while place + 1 < end and length < most:
        high, low = hex_value(buffer[place]), hex_value(buffer[place + 1])
        if high < 0 or low < 0:
            break
        if length < 8:
            payload |= np.uint64(high * 16 + low) << np.uint64(8 * length)
        length += 1
        place += 2
    if kind == DATA and length == 8:
        place = after_raw_length(buffer, place, end)
    return kind, payload, length, place


def after_raw_length(buffer: Any, place: Any, end: Any) -> Any:
    """Step over a raw length code such as ``_9`` that follows eight bytes."""
    if place + 1 < end and buffer[place] == 95 and hex_value(buffer[place + 1]) >= 9:
        return place + 2
    return place


def hex_value(character: Any) -> Any:
    """Give the value of one hexadecimal digit, or -1."""
    if 48 <= character <= 57:
        return np.int64(character) - 48
    folded = np.int64(character) | 32
    return folded - 87 if 97 <= folded <= 102 else np.int64(-1)


def word_of(buffer: Any, at: Any, end: Any) -> Any:
    """Pack up to eight characters of a name into a word."""
    word = NOTHING
    for place in range(8):
        if at + place < end:
            word |= np.uint64(buffer[at + place]) << np.uint64(8 * place)
    return word
