"""A file of any size as chunks of bytes, unpacked when it is gzipped."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from fanwright.errors import FileError
from fanwright.evidence.recording.intake import CHUNK
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
    """

    path: Path
    progress: Progress | None = None
    cut: bool = field(default=False, init=False)

    def head(self) -> bytes:
        """Give the first bytes, unpacked.

        Raises:
            FileError: The file is missing, a folder, empty or not readable.
        """
        found = b""
        for chunk in self._unpacked(report=False):
            found += chunk
            if len(found) >= HEAD:
                break
        if not found:
            raise FileError(Message("{file} is empty", {"file": text(self.path)}))
        return found[:HEAD]

    def chunks(self) -> Iterator[bytes]:
        """Give the whole file in pieces of at most ``CHUNK`` bytes, unpacked."""
        yield from self._unpacked(report=True)

    def sha256(self) -> str:
        """Hash the file's bytes as they are."""
        digest = hashlib.sha256()
        for chunk in self._raw(report=False):
            digest.update(chunk)
        return digest.hexdigest()

    def _raw(self, report: bool) -> Iterator[bytes]:
        try:
            with self.path.open("rb", buffering=0) as file:
                size = self.path.stat().st_size
                done = 0
                while chunk := file.read(CHUNK):
                    done += len(chunk)
                    yield chunk
                    if report and self.progress is not None:
                        self.progress(done, size)
        except (OSError, ValueError) as error:
            raise FileError(_trouble(self.path, error)) from error

    def _unpacked(self, report: bool) -> Iterator[bytes]:
        packed = self._raw(report)
        first = next(packed, b"")
        if not first.startswith(GZIP):
            if first:
                yield first
            yield from packed
            return
        yield from self._inflated(first, packed)

    def _inflated(self, first: bytes, packed: Iterator[bytes]) -> Iterator[bytes]:
        unpack = zlib.decompressobj(wbits=31)
        waiting = first
        try:
            while True:
                if out := unpack.decompress(waiting, CHUNK):
                    yield out
                waiting = unpack.unconsumed_tail
                if unpack.eof:
                    waiting = unpack.unused_data.lstrip(b"\0")
                    unpack = zlib.decompressobj(wbits=31)
                    if not waiting and not (waiting := next(packed, b"").lstrip(b"\0")):
                        return
                elif not waiting and not (waiting := next(packed, b"")):
                    self.cut = True
                    return
        except zlib.error:
            self.cut = True


def _trouble(path: Path, error: Exception) -> Message:
    if isinstance(error, FileNotFoundError):
        return Message("{file} is not there; check the name", {"file": text(path)})
    if isinstance(error, IsADirectoryError):
        return Message("{file} is a folder, not a file", {"file": text(path)})
    reason = error.strerror if isinstance(error, OSError) and error.strerror else type(error).__name__
    return Message("{file} cannot be used: {reason}", {"file": text(path), "reason": text(reason)})
