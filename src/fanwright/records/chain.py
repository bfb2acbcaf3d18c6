"""The chain of entries: what each vouches for, and how it holds on to the one before.

An entry lists a mark of every row it added and the SHA-256 of those rows. Its own SHA-256 covers that, its
author, time and reason, and the SHA-256 of the entry before it. Whoever changes, takes out or slips in a row
would have to make every later entry anew.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields

START = "0" * 64
_encode = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode

Row = Sequence[object]


@dataclass(frozen=True)
class EntryRow:
    """One entry of the chain, as it is stored.

    Args:
        number: Its place in the chain, from 1 without a gap.
        at_utc: When it was made, in UTC.
        zone: Time zone of the shop.
        made_by: Who made it.
        act: What was done, such as ``visit kept``.
        subject: What it is about, such as the truck's number.
        why: The reason given, or empty.
        program: The version of the program that wrote it.
        rows_sha256: SHA-256 of all rows it added.
        row_marks: A short mark of each row, so that the one that was changed can be named.
        previous_sha256: SHA-256 of the entry before; zeros for the first.
        sha256: Its own SHA-256.
    """

    number: int
    at_utc: str
    zone: str
    made_by: str
    act: str
    subject: str
    why: str
    program: str
    rows_sha256: str
    row_marks: str
    previous_sha256: str
    sha256: str = ""

    def own_sha256(self) -> str:
        """Work out the SHA-256 it must have."""
        return covered_sha256([getattr(self, each.name) for each in fields(self)][:-1])


def covered_sha256(covered: Row) -> str:
    """Work out the SHA-256 of an entry from all its columns but the last, in their order."""
    return hashlib.sha256(_encode(list(covered)).encode("ascii")).hexdigest()


def _bare(row: Row) -> Row:
    """Leave out empty cells at the end, so that columns that came later do not change an old row."""
    end = len(row)
    while end and row[end - 1] is None:
        end -= 1
    return tuple(row[:end])


def digest(rows: Mapping[str, Iterable[Row]]) -> str:
    """Work out the SHA-256 of the rows an entry added.

    Args:
        rows: Rows by table, each in the order of its columns, by rising number.

    Returns:
        The SHA-256; the order of the tables does not matter, nor does a table without rows.

    Example:
        >>> digest({"b": [(1, "x")], "a": [(2, None)]}) == digest({"a": [(2,)], "b": [(1, "x")], "c": []})
        True
    """
    listed = [[name, [_bare(row) for row in rows[name]]] for name in sorted(rows)]
    return hashlib.sha256(_encode([one for one in listed if one[1]]).encode("ascii")).hexdigest()


def mark(row: Row) -> str:
    """Give the short mark of one row: its number and a checksum.

    Example:
        >>> mark((7, 1, "x"))
        '7=b8bde1b0'
    """
    return f"{row[0]}={zlib.crc32(_encode(_bare(row)).encode('ascii')):08x}"


def marks(rows: Mapping[str, Sequence[Row]]) -> str:
    """Give the marks of all rows of an entry.

    Example:
        >>> marks({"b": [(1, "x")], "a": []}).startswith("b:1=")
        True
    """
    return ";".join(
        f"{name}:{','.join(mark(row) for row in rows[name])}" for name in sorted(rows) if rows[name]
    )


def first_difference(noted: str, found: Mapping[str, Sequence[Row]]) -> tuple[str, str, int] | None:
    """Find the first row that is not as the entry noted it.

    Args:
        noted: The marks of the entry.
        found: The rows that are there now.

    Returns:
        ``altered``, ``missing`` or ``added``, the table and the number of the row; None when all marks agree.

    Example:
        >>> first_difference(marks({"a": [(1, "x"), (2, "y")]}), {"a": [(2, "y")]})
        ('missing', 'a', 1)
    """
    before, now = _as_pairs(noted), _as_pairs(marks(found))
    for table, number in sorted(before | now):
        was, is_now = before.get((table, number)), now.get((table, number))
        if was != is_now:
            kind = "added" if was is None else "missing" if is_now is None else "altered"
            return kind, table, number
    return None


def _as_pairs(text: str) -> dict[tuple[str, int], str]:
    pairs = {}
    for part in filter(None, text.split(";")):
        table, _, listed = part.partition(":")
        for one in listed.split(","):
            number, _, checksum = one.partition("=")
            pairs[table, int(number) if number.isdecimal() else -1] = checksum
    return pairs
