"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from fanwright.errors import FileError
from fanwright.words import Message, text


def replace_file(path: Path, content: bytes) -> None:
    """Write a file beside its place, then move it there in one step.

    Args:
        path: Where it shall stand.
        content: Its bytes.

    Raises:
        FileError: The folder does not exist or the file cannot be written; nothing is left behind.
    """
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(prefix=".fanwright-", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)
        Path(temporary).replace(path)
    except (OSError, ValueError) as error:
        if temporary:
            Path(temporary).unlink(missing_ok=True)
        raise FileError(
            Message(
                "{path} cannot be written: {reason}; name a file in a folder that may be written to",
                {"path": text(path), "reason": text(getattr(error, "strerror", None) or error)},
            )
        ) from error
