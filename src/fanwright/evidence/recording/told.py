"""When the fan was told on with the engine on: stretches of what is known, runs, and what held at their ends.

The rules: the state of the fan drive says first whether it is told on, its percentage second; what is not
available is unknown, never off; nothing counts with the engine under 400 r/min; a frame holds until the next,
but not over a gap of more than 3 s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.loops.frames import ENGINE_ON_RAW
from fanwright.evidence.recording.signals import RPM, STATES, UNKNOWN, Layout
from fanwright.evidence.recording.traffic import Series, Traffic

FAN_GAP_US = 3_000_000
"""Three periods of the fan drive's message, which comes once a second."""
LONGEST_HOLD_US = 10_000_000
NOT_KNOWN, OFF, BY_PERCENT = -1, 0, 15
"""Codes beside the states 1 to 14."""
ON_SHARE = 0.5
ENGINE_ON_RAD_S = ENGINE_ON_RAW * 0.125 * RPM


@dataclass(frozen=True, eq=False)
class Stretches:
    """Unbroken stretches of one code each, in order.

    Args:
        start_us: Where each begins [us].
        end_us: Where each ends [us].
        code: What held.
        last_us: Time of the last frame that said so [us].
    """

    start_us: NDArray[np.int64]
    end_us: NDArray[np.int64]
    code: NDArray[np.int64]
    last_us: NDArray[np.int64]

    def where(self, chosen: NDArray[np.bool_]) -> Stretches:
        """Give some of the stretches."""
        return Stretches(self.start_us[chosen], self.end_us[chosen], self.code[chosen], self.last_us[chosen])

    @property
    def total_us(self) -> int:
        """How long they last together [us]."""
        return int((self.end_us - self.start_us).sum())


def held(time_us: NDArray[np.int64], code: NDArray[np.int64], longest_us: int) -> Stretches:
    """Let each frame hold until the next, unless that is too far away; join equal neighbours."""
    if not len(time_us):
        nothing = np.empty(0, np.int64)
        return Stretches(nothing, nothing, nothing, nothing)
    near = np.diff(time_us) <= longest_us
    ends = np.append(np.where(near, time_us[1:], time_us[:-1]), time_us[-1])
    first = np.append(True, ~near | (code[1:] != code[:-1]))
    starts = np.flatnonzero(first)
    last = np.append(starts[1:], len(time_us)) - 1
    return Stretches(time_us[starts], ends[last], code[starts], time_us[last])


def common(one: Stretches, other: Stretches) -> Stretches:
    """Give where stretches of two kinds overlap, with the code of the first."""
    first = np.searchsorted(other.end_us, one.start_us, side="left")
    last = np.searchsorted(other.start_us, one.end_us, side="right")
    many = np.maximum(last - first, 0)
    mine = np.repeat(np.arange(len(one.code)), many)
    its = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many) + np.repeat(first, many)
    start = np.maximum(one.start_us[mine], other.start_us[its])
    end = np.minimum(one.end_us[mine], other.end_us[its])
    real = (end > start) | ((one.end_us[mine] == one.start_us[mine]) & (end >= start))
    return Stretches(start[real], end[real], one.code[mine][real], end[real])


@dataclass(frozen=True)
class Block:
    """One run as the frames show it.

    Args:
        start_us: First frame that says on, or where the engine came on [us].
        end_us: First frame that says off, or the last that is known [us].
        earliest_start_us: Last frame that said off, else the start [us].
        earliest_end_us: Last frame that said on [us].
        start_seen: Whether the change from off to on was seen.
        end_seen: Whether the change from on to off was seen.
        codes: Start, end [us] and code of what it was told on for, in order.
    """

    start_us: int
    end_us: int
    earliest_start_us: int
    earliest_end_us: int
    start_seen: bool
    end_seen: bool
    codes: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, eq=False)
class Told:
    """What is known of the fan's command in one stretch of clock.

    Args:
        fan: What the fan drive's message said: codes of the states, or not known.
        engine: Engine on (1), off (0) or not known (-1); None without engine speed.
        disagree: Frames whose state and percentage contradict each other.
        sender: Source address of the fan drive's message, or None without one.
        frames: Frames of it from that sender.
    """

    fan: Stretches
    engine: Stretches | None
    disagree: int
    sender: int | None
    frames: int

    @property
    def engine_on(self) -> Stretches | None:
        """Stretches with the engine on; None without engine speed."""
        return None if self.engine is None else self.engine.where(self.engine.code == 1)

    @property
    def known(self) -> Stretches:
        """Stretches in which told on or off is known, with the engine on where its speed is there."""
        known = self.fan.where(self.fan.code != NOT_KNOWN)
        return known if self.engine_on is None else common(known, self.engine_on)

    def told(self, on: bool) -> Stretches:
        """Stretches known to be told on, or off, with the engine on."""
        known = self.known
        return known.where((known.code > OFF) == on)


def what_was_told(traffic: Traffic, layout: Layout) -> Told:
    """Read the fan drive's message and the engine speed of one stretch of clock."""
    code, time, disagree, sender = _fan_codes(traffic, layout)
    speed = traffic.series("engine_speed")
    engine = None if speed is None else _engine(traffic, layout, speed.sender)
    return Told(held(time, code, FAN_GAP_US), engine, disagree, sender, len(time))


def _fan_codes(
    traffic: Traffic, layout: Layout
) -> tuple[NDArray[np.int64], NDArray[np.int64], int, int | None]:
    state_signal, share_signal = layout.signals["fan_state"], layout.signals["fan_percent"]
    senders = traffic.senders("fan_state") or traffic.senders("fan_percent")
    frames = traffic.frames(state_signal.group)
    if not senders:
        seen = frames.ident & 0xFF
        sender = int(seen[0]) if len(seen) else None
        mine = frames.rows(seen == sender) if sender is not None else frames
        return np.full(len(mine.time_us), NOT_KNOWN, np.int64), mine.time_us, 0, sender
    frames = frames.rows((frames.ident & 0xFF) == senders[0])
    state, state_valid = state_signal.raw(frames)
    share, share_valid = share_signal.read(frames)
    by_share = np.where(share >= ON_SHARE, BY_PERCENT, OFF)
    if state_valid.any():
        # A sender that does give states says "not known" with 15: its 0 % beside that is no "off".
        by_share = np.where(by_share == OFF, NOT_KNOWN, by_share)
    code = np.where(state_valid, state.astype(np.int64), np.where(share_valid, by_share, NOT_KNOWN))
    apart = state_valid & share_valid & ((state > 0) != (share >= ON_SHARE))
    return code.astype(np.int64), frames.time_us, int(apart.sum()), senders[0]


def _engine(traffic: Traffic, layout: Layout, sender: int) -> Stretches:
    signal = layout.signals["engine_speed"]
    frames = traffic.frames(signal.group)
    frames = frames.rows((frames.ident & 0xFF) == sender)
    speed, valid = signal.read(frames)
    code = np.where(valid, (speed >= ENGINE_ON_RAD_S * (1 - 1e-12)).astype(np.int64), NOT_KNOWN)
    usual = float(np.median(np.diff(frames.time_us))) if len(code) > 1 else 0.0
    hold = int(min(max(FAN_GAP_US, 3.0 * usual), LONGEST_HOLD_US))
    return held(frames.time_us, code, hold)


def blocks(told: Told) -> list[Block]:
    """Find the runs of one stretch of clock."""
    if told.engine_on is None:
        return []
    fan, engine = told.fan, told.engine_on
    found: list[Block] = []
    place = 0
    while place < len(fan.code):
        if fan.code[place] <= OFF:
            place += 1
            continue
        after = place + 1
        while (
            after < len(fan.code) and fan.code[after] > OFF and fan.start_us[after] == fan.end_us[after - 1]
        ):
            after += 1
        found += _pieces(fan, place, after, engine)
        place = after
    return found


def _pieces(fan: Stretches, first: int, after: int, engine: Stretches) -> list[Block]:
    start, end = int(fan.start_us[first]), int(fan.end_us[after - 1])
    came_on = first > 0 and fan.code[first - 1] == OFF and fan.end_us[first - 1] == start
    went_off = after < len(fan.code) and fan.code[after] == OFF and fan.start_us[after] == end
    pieces = []
    low, high = np.searchsorted(engine.end_us, start, "left"), np.searchsorted(engine.start_us, end, "right")
    for place in range(int(low), int(high)):
        piece_start, piece_end = max(start, int(engine.start_us[place])), min(end, int(engine.end_us[place]))
        if piece_end < piece_start or (piece_end == piece_start and end > start):
            continue
        if piece_end == piece_start > int(engine.last_us[place]):
            continue  # told on in the very moment the engine went off
        start_seen = bool(came_on and piece_start == start)
        end_seen = bool(went_off and piece_end == end)
        codes = tuple(
            (max(int(fan.start_us[i]), piece_start), min(int(fan.end_us[i]), piece_end), int(fan.code[i]))
            for i in range(first, after)
            if fan.start_us[i] < piece_end and fan.end_us[i] > piece_start
        )
        pieces.append(
            Block(
                piece_start,
                piece_end,
                int(fan.last_us[first - 1]) if start_seen else piece_start,
                int(fan.last_us[after - 1]) if end_seen else piece_end,
                start_seen,
                end_seen,
                codes or ((piece_start, piece_end, int(fan.code[first])),),
            )
        )
    return pieces


def reason_of(code: int) -> str:
    """Give the reason for a code."""
    return STATES.get(code) or UNKNOWN


def low_stretches(series: tuple[Series, ...], below: float) -> Stretches:
    """Give stretches in which the lowest of several signals stands under a value."""
    if not series:
        return held(np.empty(0, np.int64), np.empty(0, np.int64), FAN_GAP_US)
    time = (
        series[0].time_us if len(series) == 1 else np.unique(np.concatenate([one.time_us for one in series]))
    )
    lowest = np.fmin.reduce([one.at(time, FAN_GAP_US) for one in series])
    return held(time, np.where(np.isnan(lowest), NOT_KNOWN, (lowest < below).astype(np.int64)), FAN_GAP_US)
