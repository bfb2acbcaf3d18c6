"""Messages of several packets (J1939-21 transport protocol): put together, and their trouble codes listed.

An announcement (group 60416) names size, number of packets and what is sent; packets (group 60160) carry
their number and seven bytes. They are stored by number, never by arrival. A session ends complete, by a new
announcement of the same sender and receiver, by an abort, or by silence (750 ms for a broadcast, 1.25 s
between two partners; times as public J1939 stacks use them).

``room`` is a tuple: the place of each sender and receiver, the table of open sessions, which packets came,
their bytes, and the tally.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fanwright.evidence.recording.loops.frames import number_at

BROADCAST, TO_ONE, ABORT = 32, 16, 255
SESSIONS, MOST_SIZE = 512, 1785
OWNER, GROUP, SIZE, PACKETS, MISSING, HEARD, PATIENCE = range(7)
INCOMPLETE, MESSAGES, BYTES = range(3)


def reassemble(frames: Any, wanted: Any, found: Any, content: Any) -> Any:
    """Put messages of several packets together again.

    Args:
        frames: Times [us], identifiers and payloads of announcements and packets, in order.
        wanted: Parameter groups worth putting together.
        found: Where messages go: time of the last packet, sender, group, first byte, size.
        content: Where their bytes go.

    Returns:
        How many messages were found, and how many sessions stayed incomplete.
    """
    time, ident, payload = frames
    places = np.full(65536, -1, np.int64)
    table = np.zeros((SESSIONS, 7), np.int64)
    table[:, OWNER] = -1
    tally = np.zeros(3, np.int64)
    got, pool = np.zeros((SESSIONS, 256), np.bool_), np.zeros((SESSIONS, 1792), np.uint8)
    room = (places, table, got, pool, tally)
    for at in range(time.shape[0]):
        name = np.int64(ident[at])
        key = ((name & 0xFF) << 8) | ((name >> 8) & 0xFF)
        if (name >> 16) & 0xFF == 0xEC:
            announce(payload[at], key, time[at], wanted, room)
        elif places[key] >= 0:
            packet(payload[at], places[key], time[at], room)
            close(places[key], time[at], room, found, content)
    return tally[MESSAGES], tally[INCOMPLETE] + (table[:, OWNER] >= 0).sum()


def announce(payload: Any, key: Any, time: Any, wanted: Any, room: Any) -> None:
    """Open a session, or end one."""
    places, table, got, _, tally = room
    control = np.int64(payload & np.uint64(0xFF))
    if control not in (BROADCAST, TO_ONE, ABORT):
        return
    drop(places[key], places, table, tally)
    if control == ABORT:
        return
    size = np.int64((payload >> np.uint64(8)) & np.uint64(0xFFFF))
    packets = np.int64((payload >> np.uint64(24)) & np.uint64(0xFF))
    group = np.int64((payload >> np.uint64(40)) & np.uint64(0xFFFFFF))
    if not (wanted == group).any():
        return
    if not 9 <= size <= MOST_SIZE or packets != (size + 6) // 7:
        tally[INCOMPLETE] += 1
        return
    place = np.int64(0)
    while place < SESSIONS and table[place, OWNER] >= 0:
        place += 1
    if place == SESSIONS:
        place = np.int64(np.argmin(table[:, HEARD]))
        drop(place, places, table, tally)
    places[key] = place
    patience = 750_000 if control == BROADCAST else 1_250_000
    table[place, OWNER], table[place, GROUP], table[place, SIZE] = key, group, size
    table[place, PACKETS], table[place, MISSING] = packets, packets
    table[place, HEARD], table[place, PATIENCE] = time, patience
    got[place, :] = False


def drop(place: Any, places: Any, table: Any, tally: Any) -> None:
    """Give up a session that is still open."""
    if place >= 0:
        tally[INCOMPLETE] += 1
        places[table[place, OWNER]] = -1
        table[place, OWNER] = -1


def packet(payload: Any, place: Any, time: Any, room: Any) -> None:
    """Store one packet of an open session; too late a one leaves it to be given up."""
    _, table, got, pool, _ = room
    number = np.int64(payload & np.uint64(0xFF))
    if time - table[place, HEARD] > table[place, PATIENCE]:
        table[place, MISSING] = -1
        return
    if not 1 <= number <= table[place, PACKETS]:
        return
    table[place, HEARD] = time
    if got[place, number]:
        return
    got[place, number] = True
    table[place, MISSING] -= 1
    for byte in range(7):
        pool[place, (number - 1) * 7 + byte] = (payload >> np.uint64(8 * (byte + 1))) & np.uint64(0xFF)


def close(place: Any, time: Any, room: Any, found: Any, content: Any) -> None:
    """Hand on a session that is complete, give up one that was silent for too long."""
    places, table, _, pool, tally = room
    if table[place, MISSING] < 0:
        drop(place, places, table, tally)
    elif table[place, MISSING] == 0:
        size, used, at = table[place, SIZE], tally[BYTES], tally[MESSAGES]
        found[at, 0], found[at, 1], found[at, 2] = time, table[place, OWNER] >> 8, table[place, GROUP]
        found[at, 3], found[at, 4] = used, size
        content[used : used + size] = pool[place, :size]
        tally[BYTES] += size
        tally[MESSAGES] += 1
        places[table[place, OWNER]] = -1
        table[place, OWNER] = -1


def trouble_codes(found: Any, messages: Any, content: Any, rows: Any) -> Any:
    """List the codes in messages of several packets: sender, group, four bytes; each code once a message.

    Returns:
        How many rows were filled.
    """
    many = np.int64(0)
    for at in range(messages):
        first = many
        for place in range(2, found[at, 4] - 3, 4):
            code = number_at(content, found[at, 3] + place, 4)
            known = code & 0x00FFFFFF == 0
            for row in range(first, many):
                if rows[row, 2] & 0x00FFFFFF == code & 0x00FFFFFF:
                    known = True
            if not known:
                rows[many, 0], rows[many, 1], rows[many, 2] = found[at, 1], found[at, 2], code
                many += 1
    return many
