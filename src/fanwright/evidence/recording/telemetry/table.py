"""A file of telemetry opened as a lazy table: CSV of any usual shape, plain or gzipped, or Parquet."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanwright.errors import FileError
from fanwright.evidence.recording.formats._mdf import is_mdf
from fanwright.evidence.recording.formats._text import first_lines
from fanwright.evidence.recording.quiet import guarded
from fanwright.evidence.recording.source import Source
from fanwright.evidence.recording.telemetry.columns import looks_like
from fanwright.evidence.recording.telemetry.decoded import is_decoded, open_decoded
from fanwright.evidence.recording.telemetry.roles import Naming
from fanwright.words import Message, text

CSV, PARQUET, DECODED = "telemetry (CSV)", "telemetry (Parquet)", "telemetry (MF4)"
MAGIC = b"PAR1"
SEPARATORS = ("\t", ";", ",")
MOST_HEADER_LINES = 40


@dataclass(frozen=True, eq=False)
class Table:
    """A table that was found to hold telemetry.

    Args:
        format: ``CSV``, ``PARQUET`` or ``DECODED``.
        frame: The table, lazy.
        header: Names of its columns.
        comma: Whether decimals are set off by a comma.
    """

    format: str
    frame: Any
    header: tuple[str, ...]
    comma: bool = False


@dataclass(frozen=True)
class _Shape:
    line: int
    separator: str
    header: tuple[str, ...]
    comma: bool
    quoted: bool


def is_telemetry(source: Source, naming: Naming | None = None) -> bool:
    """Say whether a file is a table of telemetry, by its columns.

    Raises:
        FileError: The file is missing, a folder, empty or not readable.
    """
    head = source.head()
    if is_mdf(head):
        return is_decoded(source, naming)
    if head.startswith(MAGIC):
        return looks_like(parquet_columns(source.path), naming)
    return b"\0" not in head and _shape(head, naming or Naming()) is not None


def parquet_columns(path: Path) -> tuple[str, ...]:
    """Give the names of the columns of a Parquet file.

    Raises:
        FileError: It is damaged.
    """
    import polars

    return guarded(lambda: tuple(polars.read_parquet_schema(path)), str(path))


def open_table(source: Source, naming: Naming | None = None) -> Table:
    """Open a file of telemetry.

    Raises:
        FileError: It is none, or damaged.
    """
    import polars

    head = source.head()
    if is_mdf(head):
        return Table(DECODED, *open_decoded(source, naming or Naming()))
    if head.startswith(MAGIC):
        header = parquet_columns(source.path)
        return Table(PARQUET, polars.scan_parquet(source.path), header)
    shape = _shape(head, naming or Naming())
    if shape is None:
        raise FileError(
            Message(
                "{file} has no line that names a column of time and one of what the fan is told",
                {"file": text(source.path)},
            )
        )
    frame = guarded(lambda: _scan(source, shape), str(source.path))
    return Table(CSV, frame, shape.header, shape.comma)


def _scan(source: Source, shape: _Shape) -> Any:
    import polars

    return polars.scan_csv(
        io.BytesIO(source.whole()) if source.packed() else source.path,
        separator=shape.separator,
        has_header=False,
        new_columns=list(shape.header),
        skip_lines=shape.line + 1,
        schema=dict.fromkeys(shape.header, polars.String),
        truncate_ragged_lines=True,
        encoding="utf8-lossy",
        quote_char='"' if shape.quoted else None,
        ignore_errors=True,
    )


def _unlike_names(header: Sequence[str]) -> list[str]:
    """Give every column a name of its own; the first of several keeps it."""
    names: list[str] = []
    for place, name in enumerate(header):
        names.append(name if name not in names and name else " ".join((name, str(place))))
    return names


def _shape(head: bytes, naming: Naming) -> _Shape | None:
    lines = first_lines(head, MOST_HEADER_LINES + 20)
    for number, line in enumerate(lines[:MOST_HEADER_LINES]):
        for separator in SEPARATORS:
            header = tuple(cell.strip().strip('"') for cell in line.rstrip("\r\n").split(separator))
            if len(header) > 1 and looks_like(header, naming):
                rest = [row.split(separator) for row in lines[number + 1 :]]
                comma = separator != "," and any("," in cell for row in rest for cell in row)
                header = tuple(_unlike_names(header))
                return _Shape(number, separator, header, comma, '"' in line or any('"' in x for x in lines))
    return None
