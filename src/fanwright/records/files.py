"""Files by the hash of their content: each stands once in a folder, whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from fanwright.errors import FileError
from fanwright.words import Message, text

PIECE = 1 << 20


@dataclass(frozen=True)
class Stored:
    """A file that stands in the folder.

    Args:
        sha256: Hash of its bytes.
        size: How long it is [bytes].
    """

    sha256: str
    size: int


class Folder:
    """The folder of files of some records."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def path(self, sha256: str) -> Path:
        """Say where the file with a hash stands."""
        return self.root / sha256[:2] / sha256

    def put(self, source: Path) -> Stored:
        """Store a file; it is on the disk when this returns.

        Args:
            source: The file.

        Returns:
            Its hash and length.

        Raises:
            FileError: It cannot be read, or the folder cannot be written to; nothing is left behind.
        """
        try:
            with source.open("rb") as file:
                return self.put_stream(file)
        except OSError as error:
            raise FileError(_trouble(source, error)) from error

    def put_stream(self, stream: IO[bytes]) -> Stored:
        """Store what a stream holds.

        Args:
            stream: The bytes.

        Returns:
            Hash and length.

        Raises:
            FileError: The folder cannot be written to; nothing is left behind.
        """
        beside: Path | None = None
        try:
            self.root.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=".part-", dir=self.root)
            beside = Path(name)
            with os.fdopen(handle, "wb") as file:
                stored = _copy(stream, file)
                file.flush()
                os.fsync(file.fileno())
            self._settle(beside, stored.sha256)
            return stored
        except OSError as error:
            if beside is not None:
                beside.unlink(missing_ok=True)
            raise FileError(_trouble(self.root, error)) from error

    def _settle(self, beside: Path, sha256: str) -> None:
        target = self.path(sha256)
        if target.is_file():
            beside.unlink()
            return
        target.parent.mkdir(exist_ok=True)
        beside.chmod(0o444)
        beside.replace(target)
        for folder in (target.parent, self.root):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)

    def stored(self) -> Iterator[Path]:
        """Name every file that stands in the folder; unfinished ones are left out."""
        if self.root.is_dir():
            yield from sorted(
                path for path in self.root.rglob("*") if path.is_file() and not path.name.startswith(".part-")
            )


def sha256_of(path: Path) -> str:
    """Work out the SHA-256 of a file."""
    seen = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            seen.update(piece)
    return seen.hexdigest()


def _copy(source: IO[bytes], target: IO[bytes]) -> Stored:
    seen, size = hashlib.sha256(), 0
    while piece := source.read(PIECE):
        seen.update(piece)
        size += len(piece)
        target.write(piece)
    return Stored(seen.hexdigest(), size)


def _trouble(path: Path, error: OSError) -> Message:
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return Message(
            "{file}: the disk is full; nothing was kept; make room and try again", {"file": text(path)}
        )
    return Message(
        "{file} cannot be used: {reason}", {"file": text(path), "reason": text(error.strerror or error)}
    )
