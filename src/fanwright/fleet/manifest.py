"""The list of what was read: a line a recording, appended last; a line cut off by a crash does not count."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any
from urllib.parse import quote, unquote

from fanwright.errors import FileError
from fanwright.words import Message, text

NAME = "manifest.jsonl"
EDITION = 1
"""Raised when older results can no longer be read."""


@dataclass(frozen=True)
class Entry:
    """One recording that was read, or that cannot be read.

    Args:
        sha256: Hash of its bytes; empty where it could not even be opened.
        address: Where it was found first.
        size: How many bytes it has.
        stamp: What tells cheaply that a file is unchanged: its time of change, or a bucket's mark.
        format: Its format.
        clock: ``absolute``, ``local`` or ``relative``.
        tells: Whether it can tell when the fan was told on.
        parts: Its tables, by kind, as places in the result.
        sums: Times and counts of each of its trucks.
        failed: Why it cannot be read; empty when it was.
        tried: With which program and which rule for trucks it could not be read.
        same_as: The address under which the same bytes were counted; empty for the first.
    """

    sha256: str
    address: str
    size: int = 0
    stamp: str = ""
    format: str = ""
    clock: str = ""
    tells: bool = False
    parts: Mapping[str, list[str]] = field(default_factory=dict)
    sums: Mapping[str, Any] = field(default_factory=dict)
    failed: str = ""
    tried: str = ""
    same_as: str = ""

    @property
    def units(self) -> tuple[str, ...]:
        """The trucks it tells of."""
        return tuple(self.sums)

    def line(self) -> bytes:
        """Give its line.

        Example:
            >>> Entry("ab", "a.log", failed="empty").line().strip()
            b'{"sha256":"ab","address":"a.log","failed":"empty"}'
        """
        kept = {name: value for name, value in asdict(self).items() if value or name in ("sha256", "address")}
        return json.dumps(kept, separators=(",", ":")).encode("ascii") + b"\n"


@dataclass(frozen=True)
class Manifest:
    """What a result is made of.

    Args:
        header: How it was made: edition, salt, what the drive's figures were.
        entries: The recordings, the last line of each address counting.
        whole_bytes: Length of the file up to its last whole line [bytes].
    """

    header: Mapping[str, Any]
    entries: tuple[Entry, ...]
    whole_bytes: int

    @property
    def counted(self) -> tuple[Entry, ...]:
        """The recordings that were read, each content once."""
        found = {one.sha256: one for one in self.entries if not one.failed and not one.same_as}
        return tuple(found.values())

    @property
    def failures(self) -> tuple[Entry, ...]:
        """The recordings that cannot be read."""
        return tuple(one for one in self.entries if one.failed)


def place_of(kind: str, unit: str, month: str, sha256: str) -> str:
    """Give the place of a table in a result.

    Example:
        >>> place_of("runs", "21/4", "2026-04", "0" * 64)
        'runs/unit=21%2F4/month=2026-04/00000000000000000000000000000000.parquet'
    """
    return "/".join((kind, "unit=" + quote(unit, safe=""), "month=" + month, sha256[:32] + ".parquet"))


def unit_at(place: str) -> str:
    """Give the truck of a table by its place.

    Example:
        >>> unit_at(place_of("runs", "21/4", "2026-04", "0" * 64))
        '21/4'
    """
    return unquote(place.split("/")[1].removeprefix("unit="))


def header_line(header: Mapping[str, Any]) -> bytes:
    """Give the first line."""
    return json.dumps({"edition": EDITION, **header}, separators=(",", ":")).encode("ascii") + b"\n"


def read_manifest(content: bytes, place: str) -> Manifest:
    """Read the list.

    Args:
        content: The file's bytes; a last line without its end is left out.
        place: Where it is, for messages.

    Raises:
        FileError: It is no list of this kind, or of a later edition.
    """
    whole = content[: content.rfind(b"\n") + 1]
    lines = whole.splitlines()
    try:
        header = json.loads(lines[0]) if lines else None
        entries = {entry.address: entry for entry in _entries(lines[1:])}
    except (ValueError, TypeError) as error:
        raise FileError(_damaged(place)) from error
    if not isinstance(header, dict) or not isinstance(header.get("edition"), int):
        raise FileError(_damaged(place))
    if header["edition"] > EDITION:
        raise FileError(
            Message(
                "{place} was made by a later edition of this program; use that, or name another folder",
                {"place": text(place)},
            )
        )
    return Manifest(header, tuple(entries.values()), len(whole))


def _entries(lines: Iterable[bytes]) -> Iterable[Entry]:
    for line in lines:
        if line.strip():
            yield Entry(**json.loads(line))


def _damaged(place: str) -> Message:
    return Message(
        "{place} is no list of recordings read, or is damaged; name the folder of a result",
        {"place": text(place)},
    )
