"""From the chunks of a file to columns of the frames that are wanted: one pass, memory of one chunk."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.kernels import compiled
from fanwright.evidence.recording.loops import frames as places
from fanwright.words import Message, count

CHUNK = 1 << 20
LEAST_FRAME_BYTES = 16
"""No format spends fewer bytes on a frame, so a chunk never holds more frames than this allows."""

GROUPS = 1 << 18
NUMBERED = 0x20
"""Channel words up to here are numbers of channels and no names."""

Sink = tuple[NDArray[np.int64], NDArray[np.uint8], NDArray[np.int64]]
Frames = tuple[NDArray[Any], ...]
"""Kind, time [us], identifier, payload, length, channel, whether sent: a column each."""


@dataclass(frozen=True, eq=False)
class Columns:
    """Frames that were kept, one row each, in the order of the file.

    Args:
        time_us: Time stamps [us].
        ident: Identifiers of 29 bits.
        payload: Data bytes as one word, first byte lowest.
        length: Data bytes [-].
        channel: Number of the channel.
        stream: Number of the message.
    """

    time_us: NDArray[np.int64]
    ident: NDArray[np.uint32]
    payload: NDArray[np.uint64]
    length: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    stream: NDArray[np.uint8]

    def rows(self, chosen: Any) -> Columns:
        """Give some of the rows."""
        return Columns(*(column[chosen] for column in self.columns()))

    def columns(self) -> tuple[NDArray[Any], ...]:
        """Give all columns."""
        return (self.time_us, self.ident, self.payload, self.length, self.channel, self.stream)

    @staticmethod
    def none() -> Columns:
        """Give no frames at all."""
        return _columns(np.empty((0, 3), np.int64))

    @staticmethod
    def joined(parts: Iterable[Columns]) -> Columns:
        """Put columns behind one another."""
        listed = [part.columns() for part in parts]
        return Columns(*(np.concatenate(column) for column in zip(*listed, strict=True)))


@dataclass(frozen=True)
class Tally:
    """What was counted on the way through a file.

    Args:
        frames: Frames of all kinds but error frames.
        frames_used: Frames of messages that are read here.
        error_frames: Error frames.
        lines_unread: Lines or objects that could not be read.
        short_identifier: Frames with an identifier of 11 bits, which this traffic does not use.
        remote: Remote frames.
        long_data: Frames with more than 8 data bytes, or sent at two bit rates.
        sent: Frames marked as sent by the logger itself.
        disorder: Time stamps out of order by less than a second.
        left_out: Frames on channels past the last one that is kept.
        glitches: Frames whose time stamp fits neither what came before nor what comes after.
        first_us: First time stamp [us], or None without frames.
        last_us: Last time stamp [us], or None without frames.
        status_lines: Lines of status or counters of a logger, which are no frames.
    """

    frames: int
    frames_used: int
    error_frames: int
    lines_unread: int
    short_identifier: int
    remote: int
    long_data: int
    sent: int
    disorder: int
    left_out: int
    glitches: int
    first_us: int | None
    last_us: int | None
    status_lines: int = 0


@dataclass(frozen=True)
class Border:
    """A place where the clock jumps: rows before it, last time before and first time after [us]."""

    row: int
    before_us: int
    after_us: int


class Intake:
    """Counts frames and keeps the wanted ones.

    Args:
        streams: Parameter group to number of the message, from 1.
        intervals_us: Number of the message to the shortest interval kept of it [us].
        ratio: Microseconds for a microsecond of the file, as a whole number over a whole number.
    """

    def __init__(
        self,
        streams: Mapping[int, int],
        intervals_us: Mapping[int, int] | None = None,
        ratio: tuple[int, int] = (1, 1),
    ) -> None:
        self.kernels = compiled()
        self.status_lines = 0
        self.lookup = np.zeros(GROUPS, np.uint8)
        for group, stream in streams.items():
            self.lookup[group] = stream
        self.book = np.zeros(places.BOOK, np.int64)
        self.book[places.TIMES], self.book[places.PARTS] = ratio
        self.book[places.NAME_LENGTH] = -1
        self.book[places.LAST] = -(1 << 62)
        self.book[places.SLOTS :: 2] = -(1 << 62)
        for stream, least in (intervals_us or {}).items():
            self.book[places.INTERVALS + stream] = least
        self._out = np.empty((0, 3), np.int64)
        self._kept: list[Columns] = []

    def sink(self, most_frames: int) -> Sink:
        """Give the arrays the loops work on, with room for a number of frames more."""
        waiting = int(self.book[places.KEPT] - self.book[places.BASE])
        if len(self._out) < waiting + most_frames:
            self.store()
        if len(self._out) < most_frames:
            self._out = np.empty((2 * most_frames, 3), np.int64)
        return self.book, self.lookup, self._out

    def store(self) -> None:
        """Put away what the loops have kept since the last time."""
        book = self.book
        if many := int(book[places.KEPT] - book[places.BASE]):
            self._kept.append(_columns(self._out[:many]))
        book[places.BASE] = book[places.KEPT]
        if book[places.BORDERS] > places.MOST_BORDERS:
            raise FileError(
                Message(
                    "the clock of this recording jumps more than {many} times: it cannot be followed",
                    {"many": count(places.MOST_BORDERS)},
                )
            )

    def unread(self, many: int = 1) -> None:
        """Count lines that could not be read."""
        self.book[places.UNREAD] += many

    def begin(self, time_us: int) -> None:
        """Say what a file's time stamps count from."""
        self.book[places.BEGIN] = time_us

    def channel(self, name: str) -> int:
        """Find or enter a channel by its name; the last place is shared by all that find no room."""
        words = np.frombuffer(name.encode("utf-8")[:16].ljust(16, b"\0"), np.int64)
        known = int(self.book[places.CHANNELS])
        names = self._names()
        for place in range(known):
            if (names[place] == words).all():
                return place
        if known < places.MOST_CHANNELS:
            names[known] = words
            self.book[places.CHANNELS] += 1
        return known

    def sift(self, frames: Frames) -> None:
        """Take frames that were read in Python."""
        self.kernels.sift(frames, *self.sink(max(len(frames[0]), 1)))
        self.store()

    def columns(self) -> Columns:
        """Give everything kept."""
        if len(self._kept) != 1:
            self._kept = [Columns.joined([_columns(self._out[:0]), *self._kept])]
        return self._kept[0]

    def borders(self) -> tuple[Border, ...]:
        """Give the jumps of the clock."""
        many = int(self.book[places.BORDERS])
        edges = self.book[places.EDGES : places.EDGES + 3 * many].reshape(many, 3)
        return tuple(Border(*(int(value) for value in row)) for row in edges)

    def channel_names(self) -> tuple[str, ...]:
        """Give the names of the channels; a number where the format only counts them."""
        shown = []
        for name in self._names()[: int(self.book[places.CHANNELS])]:
            numbered = name[1] == 0 and 0 < name[0] <= NUMBERED
            text = name.tobytes().rstrip(b"\0").decode("utf-8", "replace")
            shown.append(str(int(name[0]) - 1) if numbered else text)
        return tuple(shown)

    def _names(self) -> NDArray[np.int64]:
        return self.book[places.NAMES : places.NAMES + 2 * places.MOST_CHANNELS].reshape(-1, 2)

    def counts(self) -> NDArray[np.int64]:
        """Give the frames by channel and message."""
        first = places.COUNTS
        return self.book[first : first + places.MOST_CHANNELS * places.MOST_STREAMS].reshape(
            places.MOST_CHANNELS, places.MOST_STREAMS
        )

    def tally(self) -> Tally:
        """Give what was counted."""
        book = [int(value) for value in self.book[: places.FANS]]
        started = bool(book[places.STARTED])
        return Tally(
            book[places.FRAMES],
            book[places.USED],
            book[places.ERRORS],
            book[places.UNREAD],
            book[places.SHORT_IDENT],
            book[places.REMOTE],
            book[places.LONG_DATA],
            book[places.SENT],
            book[places.DISORDER],
            book[places.LEFT_OUT],
            book[places.GLITCHES],
            book[places.FIRST] if started else None,
            book[places.LAST] if started else None,
            self.status_lines,
        )


def _columns(rows: NDArray[np.int64]) -> Columns:
    packed = rows[:, 1]
    return Columns(
        rows[:, 0].copy(),
        (packed & 0x1FFFFFFF).astype(np.uint32),
        rows[:, 2].copy().view(np.uint64),
        ((packed >> 32) & 0xFF).astype(np.uint8),
        ((packed >> 40) & 0xFF).astype(np.uint8),
        ((packed >> 48) & 0xFF).astype(np.uint8),
    )


Fill = Callable[[memoryview], int]
"""Fills the beginning of a piece of memory and says how many bytes it filled; 0 at the end of the file."""

Walk = Callable[..., int]


def pump(fill: Fill, walk: Walk, intake: Intake) -> None:
    """Run a loop over the bytes of a file, carrying what is left of a chunk over to the next.

    A line that fills the whole buffer is counted as one that cannot be read and left out.

    Args:
        fill: Gives the bytes.
        walk: The loop: buffer, its end, whether it is the last, book, lookup, out; gives the bytes used.
        intake: Where frames go.
    """
    buffer = np.zeros(2 * CHUNK + places.SPARE, np.uint8)
    room = buffer.data
    end, skipping = 0, False
    while fresh := fill(room[end : end + CHUNK]):
        if skipping:
            behind = room[:fresh].tobytes().find(b"\n") + 1
            if not behind:
                continue
            buffer[: fresh - behind] = buffer[behind:fresh].copy()
            fresh, skipping = fresh - behind, False
        end += fresh
        used = int(walk(buffer, end, False, *intake.sink(end // LEAST_FRAME_BYTES + 1)))
        if not used and end >= CHUNK:
            intake.unread()
            used, skipping = end, True
        if used < end:
            buffer[: end - used] = buffer[used:end].copy()
        end -= used
    walk(buffer, end, True, *intake.sink(end // LEAST_FRAME_BYTES + 1))
    intake.store()
