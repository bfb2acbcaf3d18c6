"""Small files in: read, or refused with one clear line."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fanwright.errors import FileError
from fanwright.words import Message, count, text

MOST_BYTES = 4_000_000


def read_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Read a small file.

    Args:
        path: The file.
        most: Largest size taken [bytes].

    Returns:
        Its bytes.

    Raises:
        FileError: It is missing, a folder, not readable, or too large.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise FileError(Message("{file} is a folder, not a file", {"file": text(path)}))
        if size > most:
            raise FileError(
                Message(
                    "{file} has {size} bytes; at most {most} are read here",
                    {"file": text(path), "size": count(size), "most": count(most)},
                )
            )
        return path.read_bytes()
    except (OSError, ValueError) as error:
        raise FileError(_trouble(path, error)) from error


def _trouble(path: Path, error: Exception) -> Message:
    if isinstance(error, FileNotFoundError):
        return Message("{file} is not there; check the name", {"file": text(path)})
    reason = error.strerror if isinstance(error, OSError) and error.strerror else type(error).__name__
    return Message("{file} cannot be used: {reason}", {"file": text(path), "reason": text(reason)})


def read_table(path: Path) -> Mapping[str, Any]:
    """Read a TOML file, or a JSON file of the same shape.

    Raises:
        FileError: It cannot be read, or is neither; the line and column are named.
    """
    raw = read_bytes(path)
    try:
        written = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(
            Message(
                "{file} is not text in UTF-8 (byte {place}); save it as UTF-8",
                {"file": text(path), "place": count(error.start)},
            )
        ) from error
    if "\x00" in written or not written.strip():
        raise FileError(Message("{file} is empty or not text", {"file": text(path)}))
    as_json = path.suffix.lower() == ".json" or written.lstrip().startswith("{")
    try:
        parsed = json.loads(written, parse_constant=_refuse_constant) if as_json else tomllib.loads(written)
    except (ValueError, RecursionError) as error:
        raise FileError(
            Message(
                "{file} cannot be read as {kind}: {reason}",
                {
                    "file": text(path),
                    "kind": text("JSON" if as_json else "TOML"),
                    "reason": text(str(error).splitlines()[0]),
                },
            )
        ) from error
    if not isinstance(parsed, dict):
        raise FileError(Message("{file} does not hold named tables", {"file": text(path)}))
    return parsed


def _refuse_constant(name: str) -> float:
    raise ValueError(name)
