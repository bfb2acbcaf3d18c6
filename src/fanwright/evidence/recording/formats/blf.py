"""BLF: binary, packed in containers."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zlib
from collections.abc import Iterator
from typing import Any, Final

from fanwright.evidence.recording.intake import CHUNK, Fill, Intake, pump
from fanwright.evidence.recording.source import Source
from fanwright.words import Message

NAME: Final = "BLF"
MAGIC, OBJECT = b"LOGG", b"LOBJ"
CONTAINER, UNPACKED, PACKED = 10, 0, 2
MOST_CONTAINER = 1 << 28


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no BLF; None when it may be."""
    return None if head.startswith(MAGIC) and len(head) >= 72 else Message("it does not begin with LOGG")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a file on and give the kind of its clock."""
    with source.opened() as fill:
        reader = io.BufferedReader(_Raw(fill), CHUNK)
        header = reader.read(72)
        if len(header) < 72:
            return "relative"
        size = struct.unpack_from("<L", header, 4)[0]
        reader.read(max(size - 72, 0))
        begin = _begin_us(struct.unpack_from("<8H", header, 40))
        intake.begin(begin)
        pump(_Containers(reader, intake).fill, intake.kernels.blf, intake)
    return "local" if begin else "relative"


def _begin_us(system_time: tuple[int, ...]) -> int:
    year, month, _, day, hour, minute, second, millisecond = system_time
    try:
        begin = dt.datetime(year, month, day, hour, minute, second, tzinfo=dt.UTC)
    except ValueError:
        return 0
    return int(begin.timestamp()) * 1_000_000 + millisecond * 1000


class _Raw(io.RawIOBase):
    """A reader as a raw file, so that the standard library can buffer it."""

    def __init__(self, fill: Fill) -> None:
        self.fill = fill

    def readable(self) -> bool:
        """It can be read."""
        return True

    def readinto(self, room: Any) -> int:
        """Fill memory with the next bytes."""
        return self.fill(memoryview(room))


class _Containers:
    """Gives the objects of all containers as one stream of bytes."""

    def __init__(self, reader: io.BufferedReader[Any], intake: Intake) -> None:
        self.parts = self._unpacked(reader, intake)
        self.waiting = memoryview(b"")

    def fill(self, room: memoryview) -> int:
        """Fill memory with unpacked bytes."""
        while not self.waiting:
            part = next(self.parts, None)
            if part is None:
                return 0
            self.waiting = memoryview(part)
        many = min(len(room), len(self.waiting))
        room[:many] = self.waiting[:many]
        self.waiting = self.waiting[many:]
        return many

    @staticmethod
    def _unpacked(reader: io.BufferedReader[Any], intake: Intake) -> Iterator[bytes]:
        while len(head := reader.read(16)) == 16:
            signature, _, _, size, what = struct.unpack("<4sHHLL", head)
            if signature != OBJECT or not 16 <= size <= MOST_CONTAINER:
                intake.unread()
                return
            body = reader.read(size - 16)
            cut = len(body) < size - 16
            if what != CONTAINER:
                yield head + body
            elif len(body) >= 16:
                method = struct.unpack_from("<H", body)[0]
                yield _inflate(body[16:], intake) if method == PACKED else body[16:]
            if cut:
                intake.unread()
                return
            # Objects in a file stand at multiples of four; containers are padded by their size modulo four.
            reader.read(size % 4)


def _inflate(packed: bytes, intake: Intake) -> bytes:
    unpack = zlib.decompressobj()
    try:
        out = unpack.decompress(packed, MOST_CONTAINER)
    except zlib.error:
        intake.unread()
        return b""
    if not unpack.eof:
        intake.unread()
    return out
