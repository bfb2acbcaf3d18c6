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
        first_us: First time stamp [us], or None without frames.
        last_us: Last time stamp [us], or None without frames.
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
    first_us: int | None
    last_us: int | None


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
        lookup = np.zeros(GROUPS, np.uint8)
        for group, stream in streams.items():
            lookup[group] = stream
        interval = np.zeros(places.MOST_STREAMS, np.int64)
        for stream, least in (intervals_us or {}).items():
            interval[stream] = least
        self.state = np.zeros(places.STATES, np.int64)
        self.state[places.TIMES], self.state[places.PARTS] = ratio
        self.edges = np.zeros((places.MOST_BORDERS, 3), np.int64)
        self.names = np.zeros((places.MOST_CHANNELS, 2), np.uint64)
        self.counts = np.zeros((places.MOST_CHANNELS, places.MOST_STREAMS), np.int64)
        slots = places.SLOTS
        self._fixed = (
            lookup,
            interval,
            np.full(slots, -(1 << 62), np.int64),
            np.zeros(slots, np.uint8),
            np.full(slots, -1, np.int64),
            np.zeros(places.MOST_CHANNELS, np.int64),
            self.counts,
            self.edges,
            self.state,
            self.names,
        )
        self._room: tuple[NDArray[Any], ...] = ()
        self._kept: list[Columns] = []

    def sink(self, most_frames: int) -> tuple[NDArray[Any], ...]:
        """Give the tuple the loops write to, with room for a number of frames."""
        if not self._room or len(self._room[0]) < most_frames:
            kinds = (np.int64, np.uint32, np.uint64, np.uint8, np.uint8, np.uint8)
            self._room = tuple(np.empty(most_frames, kind) for kind in kinds)
        return (*self._fixed, *self._room)

    def store(self) -> None:
        """Put away what the loops have kept since the last time."""
        state = self.state
        many = int(state[places.KEPT] - state[places.BASE])
        if many:
            self._kept.append(Columns(*(column[:many].copy() for column in self._room)))
        state[places.BASE] = state[places.KEPT]
        if state[places.BORDERS] > places.MOST_BORDERS:
            raise FileError(
                Message(
                    "the clock of this recording jumps more than {many} times: it cannot be followed",
                    {"many": count(places.MOST_BORDERS)},
                )
            )

    def unread(self, many: int = 1) -> None:
        """Count lines that could not be read."""
        self.state[places.UNREAD] += many

    def channel(self, name: str) -> int:
        """Find or enter a channel by its name; the last place is shared by all that find no room."""
        raw = name.encode("utf-8")[:16].ljust(16, b"\0")
        words = np.frombuffer(raw, np.uint64)
        for place in range(int(self.state[places.CHANNELS])):
            if (self.names[place] == words).all():
                return place
        place = int(self.state[places.CHANNELS])
        if place < places.MOST_CHANNELS:
            self.names[place] = words
            self.state[places.CHANNELS] += 1
        return place

    def sift(self, columns: tuple[NDArray[Any], ...]) -> None:
        """Take frames that were read in Python: kind, time, identifier, payload, length, channel, sent."""
        sink = self.sink(max(len(columns[0]), 1))
        self.kernels.sift(columns, sink)
        self.store()

    def columns(self) -> Columns:
        """Give everything kept."""
        if not self._kept:
            self.sink(1)
            return Columns(*(column[:0] for column in self._room))
        if len(self._kept) > 1:
            self._kept = [Columns.joined(self._kept)]
        return self._kept[0]

    def borders(self) -> tuple[Border, ...]:
        """Give the jumps of the clock."""
        many = int(self.state[places.BORDERS])
        return tuple(Border(*(int(value) for value in row)) for row in self.edges[:many])

    def channel_names(self) -> tuple[str, ...]:
        """Give the names of the channels; a number where the format only counts them."""
        many = int(self.state[places.CHANNELS])
        shown = []
        for name in self.names[:many]:
            numbered = name[1] == 0 and 0 < name[0] <= 0xFFFF and not 33 <= int(name[0]) <= 126
            text = name.tobytes().rstrip(b"\0").decode("utf-8", "replace")
            shown.append(str(int(name[0])) if numbered else text)
        return tuple(shown)

    def tally(self) -> Tally:
        """Give what was counted."""
        state = [int(value) for value in self.state]
        started = bool(state[places.STARTED])
        return Tally(
            state[places.FRAMES],
            state[places.USED],
            state[places.ERRORS],
            state[places.UNREAD],
            state[places.SHORT_IDENT],
            state[places.REMOTE],
            state[places.LONG_DATA],
            state[places.SENT],
            state[places.DISORDER],
            state[places.LEFT_OUT],
            state[places.FIRST] if started else None,
            state[places.LAST] if started else None,
        )


Walk = Callable[[NDArray[np.uint8], int, bool, tuple[NDArray[Any], ...]], int]


def pump(chunks: Iterable[bytes], walk: Walk, intake: Intake, ends_line: bytes = b"\n") -> None:
    """Run a loop over the bytes of a file, carrying what is left of a chunk over to the next.

    Args:
        chunks: The bytes, in pieces of at most ``CHUNK``.
        walk: The loop: buffer, where it ends, whether it is the last, sink; gives the bytes it used up.
        intake: Where frames go.
        ends_line: What a stretch that fills the buffer without being used up is cut off behind.
    """
    buffer = np.zeros(2 * CHUNK + places.SPARE, np.uint8)
    end, skipping = 0, False
    for chunk in chunks:
        begin = 0
        if skipping:
            begin = chunk.find(ends_line) + 1
            if not begin:
                continue
            skipping = False
        fresh = np.frombuffer(chunk, np.uint8, offset=begin) if begin < len(chunk) else np.empty(0, np.uint8)
        buffer[end : end + len(fresh)] = fresh
        end += len(fresh)
        used = int(walk(buffer, end, False, intake.sink(2 * CHUNK // LEAST_FRAME_BYTES)))
        intake.store()
        if not used and end >= CHUNK:
            intake.unread()
            used, skipping = end, True
        buffer[: end - used] = buffer[used:end].copy()
        end -= used
    walk(buffer, end, True, intake.sink(2 * CHUNK // LEAST_FRAME_BYTES))
    intake.store()
