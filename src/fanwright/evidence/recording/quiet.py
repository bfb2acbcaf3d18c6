"""Work of other packages on a file that may be damaged: whatever they make of it becomes one clear error."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from fanwright.errors import FileError
from fanwright.words import Message, text

Found = TypeVar("Found")
STDERR = 2
MOST_SHOWN = 120
MOST_BYTES = 1 << 20


class _Aside:
    """Keeps what is written to stderr aside while work goes on in any thread; drops it when that fails."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.working = 0
        self.failed = False
        self.saved = -1
        self.file = -1

    def begin(self) -> None:
        """Set stderr aside."""
        with self.lock:
            self.working += 1
            if self.working > 1:
                return
            self.failed = False
            try:
                self.saved = os.dup(STDERR)
            except OSError:  # there is no stderr
                self.saved = -1
                return
            self.file, name = tempfile.mkstemp()
            Path(name).unlink()
            os.dup2(self.file, STDERR)

    def end(self, failed: bool) -> None:
        """Give stderr back, with what was written meanwhile unless the work failed."""
        with self.lock:
            self.working -= 1
            self.failed = self.failed or failed
            if self.working or self.saved < 0:
                return
            os.dup2(self.saved, STDERR)
            os.close(self.saved)
            written = os.pread(self.file, MOST_BYTES, 0)
            os.close(self.file)
            if written and not self.failed:
                os.write(STDERR, written)


_ASIDE = _Aside()


@contextmanager
def quiet() -> Iterator[None]:
    """Do work whose stacks on stderr are dropped when it fails."""
    _ASIDE.begin()
    failed = True
    try:
        yield
        failed = False
    finally:
        _ASIDE.end(failed)


def guarded(work: Callable[[], Found], place: str) -> Found:
    """Do work of polars on a file.

    Args:
        work: The work.
        place: Name of the file.

    Raises:
        FileError: The file is damaged, in one line.

    Example:
        >>> guarded(lambda: 3, "a.parquet")
        3
    """
    import polars

    try:
        with quiet():
            return work()
    except FileError:
        raise
    except (polars.exceptions.PanicException, Exception) as error:  # whatever polars makes of damaged bytes
        panic = isinstance(error, polars.exceptions.PanicException)
        reason = "its content does not fit its own description" if panic else first_line(error)
        raise FileError(
            Message("{file} is damaged: {reason}", {"file": text(place), "reason": text(reason)})
        ) from error


def first_line(error: BaseException) -> str:
    """Give the first line of what another package says, or the kind of its error."""
    return (str(error).splitlines() or [""])[0][:MOST_SHOWN] or type(error).__name__
