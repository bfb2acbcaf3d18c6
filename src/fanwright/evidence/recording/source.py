"""A file of any size as bytes, unpacked when it is gzipped."""

from __future__ import annotations

import hashlib
import io
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from fanwright.errors import FileError
from fanwright.evidence.recording.intake import CHUNK, Fill
from fanwright.words import Message, text

GZIP = b"\x1f\x8b"
HEAD = 1 << 16

Progress = Callable[[int, int], None]
"""Called with bytes read so far and bytes in all."""


@dataclass
class Source:
    """A file to read from.

    Args:
        path: The file.
        progress: Called now and then while the file is read.
        cut: Whether a gzipped file ended before its end, or was damaged; known after reading.
        said: What else is worth saying of it; known after reading.
    """

    path: Path
    progress: Progress | None = None
    cut: bool = field(default=False, init=False)
    said: list[Message] = field(default_factory=list, init=False)

    def head(self) -> bytes:
        """Give the first bytes, unpacked.

        Raises:
            FileError: The file is missing, a folder, empty or not readable.
        """
        room, end = bytearray(HEAD), 0
        with self.opened(silent=True) as fill:
            while end < HEAD and (fresh := fill(memoryview(room)[end:])):
                end += fresh
        if not end:
            raise FileError(Message("{file} is empty", {"file": text(self.path)}))
        return bytes(room[:end])

    def packed(self) -> bool:
        """Say whether the file is gzipped."""
        with self.path.open("rb") as file:
            return file.read(2) == GZIP

    @contextmanager
    def opened(self, silent: bool = False) -> Iterator[Fill]:
        """Open the file from its beginning; what is given fills memory with its unpacked bytes."""
        try:
            file = self.path.open("rb", buffering=0)
        except (OSError, ValueError) as error:
            raise FileError(_trouble(self.path, error)) from error
        with file:
            raw = self._raw(file, silent)
            packed = file.read(2) == GZIP
            file.seek(0)
            yield _Unpacked(self, raw).fill if packed else raw

    def lines(self) -> Iterator[bytes]:
        """Give the lines of a text file without their ends; one longer than a chunk comes in pieces."""
        room, carried = bytearray(CHUNK), b""
        with self.opened() as fill:
            while fresh := fill(memoryview(room)):
                whole = (carried + room[:fresh]).split(b"\n")
                carried = bytes(whole.pop())
                yield from whole
                if len(carried) > CHUNK:
                    yield carried
                    carried = b""
        if carried:
            yield carried

    def whole(self) -> bytes:
        """Give all bytes, unpacked."""
        pieces, room = [], memoryview(bytearray(CHUNK))
        with self.opened() as fill:
            while fresh := fill(room):
                pieces.append(bytes(room[:fresh]))
        return b"".join(pieces)

    def sha256(self) -> str:
        """Hash the file's bytes as they are."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    def _raw(self, file: io.FileIO, silent: bool) -> Fill:
        done, size = 0, self.path.stat().st_size

        def fill(room: memoryview) -> int:
            nonlocal done
            try:
                fresh = file.readinto(room[:CHUNK]) or 0
            except OSError as error:
                raise FileError(_trouble(self.path, error)) from error
            done += fresh
            if self.progress is not None and not silent:
                self.progress(done, size)
            return fresh

        return fill


class _Unpacked:
    """Unpacks the members of a gzipped file as they come; a damaged rest is left out and said."""

    def __init__(self, source: Source, raw: Fill) -> None:
        self.source, self.raw = source, raw
        self.unpack = zlib.decompressobj(wbits=31)
        self.room = bytearray(CHUNK)
        self.waiting = b""
        self.over = False

    def fill(self, room: memoryview) -> int:
        """Fill memory with unpacked bytes."""
        while not self.over:
            if not self.waiting:
                self.waiting = bytes(self.room[: self.raw(memoryview(self.room))])
                if not self.waiting:
                    self.over = self.source.cut = True
                    break
            try:
                out = self.unpack.decompress(self.waiting, len(room))
            except zlib.error:
                self.over = self.source.cut = True
                break
            self.waiting = self.unpack.unconsumed_tail
            if self.unpack.eof:
                self._next_member()
            if out:
                room[: len(out)] = out
                return len(out)
        return 0

    def _next_member(self) -> None:
        self.waiting = self.unpack.unused_data.lstrip(b"\0")
        while not self.waiting:
            fresh = self.raw(memoryview(self.room))
            if not fresh:
                self.over = True
                return
            self.waiting = bytes(self.room[:fresh]).lstrip(b"\0")
        self.unpack = zlib.decompressobj(wbits=31)


def _trouble(path: Path, error: Exception) -> Message:
    if isinstance(error, FileNotFoundError):
        return Message("{file} is not there; check the name", {"file": text(path)})
    if isinstance(error, IsADirectoryError):
        return Message("{file} is a folder, not a file", {"file": text(path)})
    reason = error.strerror if isinstance(error, OSError) and error.strerror else type(error).__name__
    return Message("{file} cannot be used: {reason}", {"file": text(path), "reason": text(reason)})
