"""Spreadsheets in and out as plain rows of text: CSV and XLSX."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from fanwright.desk.files import read_bytes
from fanwright.errors import FileError
from fanwright.words import Message, text

MOST_BYTES = 100_000_000
SHEETS = (".csv", ".tsv", ".xlsx")
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
Cell = str | float | int | None


@dataclass(frozen=True)
class Sheet:
    """A table as it was found.

    Args:
        header: Names of the columns.
        rows: Its rows, each with its number in the file.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_sheet(path: Path) -> Sheet:
    """Read a CSV file or the first sheet of an XLSX file.

    Args:
        path: The file.

    Returns:
        Its header and rows; empty rows are left out, but keep their number.

    Raises:
        FileError: It cannot be read, or holds no table.
    """
    content = read_bytes(path, MOST_BYTES)
    raw = _xlsx(path, content) if path.suffix.lower() == ".xlsx" else _csv(path, content)
    numbered = [(number, row) for number, row in enumerate(raw, 1) if any(cell.strip() for cell in row)]
    if len(numbered) < 2:
        raise FileError(
            Message("{file} holds no table: a line of headings, then a line a reading", {"file": text(path)})
        )
    header = tuple(cell.strip() for cell in numbered[0][1])
    wide = len(header)
    rows = tuple((number, tuple((*row, *[""] * wide)[:wide])) for number, row in numbered[1:])
    return Sheet(header, rows)


def _csv(path: Path, content: bytes) -> list[list[str]]:
    wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        written = content.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(
            Message("{file} is not text in UTF-8; save it as «CSV UTF-8»", {"file": text(path)})
        ) from error
    if "\x00" in written:
        raise FileError(Message("{file} is not text; save it as «CSV UTF-8»", {"file": text(path)}))
    first = written.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    try:
        return list(csv.reader(io.StringIO(written, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise FileError(
            Message(
                "{file} cannot be read as a table: {reason}",
                {"file": text(path), "reason": text(str(error).splitlines()[0])},
            )
        ) from error


def _xlsx(path: Path, content: bytes) -> list[list[str]]:
    import zipfile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        return [[_cell_text(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError) as error:
        raise FileError(
            Message(
                "{file} cannot be read as an XLSX file; open it in a spreadsheet program and save it anew, or"
                " as «CSV UTF-8»",
                {"file": text(path)},
            )
        ) from error


def _cell_text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat(sep=" ")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    if isinstance(cell, float):  # what a spreadsheet shows of 0.1 + 0.2
        return f"{cell:.12g}"
    return str(cell)


def neutral(cell: Cell) -> Cell:
    """Keep a spreadsheet program from taking a text for a formula: a leading apostrophe makes it a text.

    Example:
        >>> neutral("=1+1"), neutral("good"), neutral(-8.0)
        ("'=1+1", 'good', -8.0)
    """
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def write_csv(file: IO[str], header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows as CSV, formulas made harmless.

    Args:
        file: Where; opened with ``newline=""``.
        header: Names of the columns.
        rows: The rows.
    """
    writer = csv.writer(file, lineterminator="\r\n")  # RFC 4180; it also makes a lone \r in a text be quoted
    writer.writerow(header)
    writer.writerows([neutral(cell) for cell in row] for row in rows)


def write_xlsx(target: IO[bytes], header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows as XLSX; a text is stored as a text, never as a formula.

    Args:
        target: Where.
        header: Names of the columns.
        rows: The rows.
    """
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("readings")
    sheet.append(list(header))
    for row in _plain(rows):
        sheet.append([neutral(cell) for cell in row])
    book.save(target)


def _plain(rows: Iterable[Sequence[Cell]]) -> Iterator[list[Cell]]:
    """XLSX cannot hold control characters; they are shown as a mark."""
    for row in rows:
        yield [
            "".join(one if one >= " " or one in "\t\n" else "\N{REPLACEMENT CHARACTER}" for one in cell)
            if isinstance(cell, str)
            else cell
            for cell in row
        ]
