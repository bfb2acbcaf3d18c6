"""Frames of a bus as a Parquet table, a row a frame.

Columns, found by their names as in a table of text: ``time`` (dates and times, or a number with its unit as
``time [s]``), ``id`` (a number, or hexadecimal text) and ``data`` (bytes, or hexadecimal text); where there
are such, ``extended``, ``length``, ``channel``, ``direction`` (``Rx`` or ``Tx``), ``remote`` and ``error``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import ABSOLUTE, LOCAL, RELATIVE
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.formats.csv_table import UNITS, find_places
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.loops.frames import DATA, ELEVEN, ERROR_FRAME, LONG_FRAME, REMOTE_FRAME
from fanwright.evidence.recording.quiet import guarded
from fanwright.evidence.recording.source import Source
from fanwright.words import Message, listing, text

NAME: Final = "frames (Parquet)"
PROBE: Final = False
MAGIC: Final = b"PAR1"
BATCH_ROWS: Final = 1 << 20
NO_TIME: Final = -(1 << 62)
TRUE: Final = ("t", "true", "1", "yes", "y", "x", "r", "tx", "sent")


def refuse(head: bytes) -> Message | None:
    """Say why a file that begins so is no Parquet table; None when it may be."""
    return None if head.startswith(MAGIC) else Message("it does not begin with PAR1")


def read(source: Source, intake: Intake) -> str:
    """Hand the frames of a table on and give the kind of its clock.

    Raises:
        FileError: It is damaged, or has no columns of frames.
    """
    import polars

    place = str(source.path)
    frame = guarded(lambda: polars.scan_parquet(source.path), place)
    schema = guarded(frame.collect_schema, place)
    places = find_places(tuple(schema))
    if places is None:
        raise FileError(
            Message(
                "{file} is a Parquet table with neither frames (time, id, data) nor telemetry (time, what "
                "the fan is told, engine speed); its columns are {columns}",
                {"file": text(place), "columns": listing(tuple(text(name) for name in [*schema][:20]))},
            )
        )
    wanted = {role: list(schema)[at] for role, at in places.items()}
    time, clock = _time(wanted["time"], schema[wanted["time"]], place)
    columns = [
        time.alias("time"),
        *(_cell(role, name, schema[name]) for role, name in wanted.items() if role != "time"),
    ]
    rows = guarded(lambda: frame.select(polars.len()).collect().item(), place)
    for first in range(0, rows, BATCH_ROWS):
        batch = frame.slice(first, BATCH_ROWS).select(columns)
        _hand_on(guarded(batch.collect, place), intake)
        if source.progress is not None:
            source.progress(min(first + BATCH_ROWS, rows), rows)
    found = intake.tally().first_us
    if clock != RELATIVE:
        return clock
    return ABSOLUTE if found is not None and found >= EARLIEST_S * 1_000_000 else RELATIVE


def _time(name: str, kind: Any, place: str) -> tuple[Any, str]:
    import polars

    cell = polars.col(name)
    if isinstance(kind, polars.Datetime):
        return cell.dt.cast_time_unit("us").to_physical(), ABSOLUTE if kind.time_zone else LOCAL
    if not kind.is_numeric():
        raise FileError(
            Message(
                "{file}: the column {column} must hold numbers, or dates with times",
                {"file": text(place), "column": text(name)},
            )
        )
    unit = name.lower().replace("[", " ").replace("(", " ").replace("_", " ").rstrip("]) ").split()[-1]
    step = UNITS.get(unit, 1_000_000)
    scaled = cell.cast(polars.Float64) * step if step > 0 else cell.cast(polars.Float64) / -step
    whole = cell.cast(polars.Int64) * step if kind.is_integer() and step > 0 else scaled.round()
    return whole.cast(polars.Int64, strict=False), RELATIVE


def _cell(role: str, name: str, kind: Any) -> Any:
    import polars

    cell = polars.col(name)
    words = kind == polars.String
    if role == "ident":
        if not words:
            return cell.cast(polars.Int64, strict=False).alias(role)
        bare = cell.str.strip_chars(" ").str.to_lowercase().str.strip_prefix("0x").str.strip_chars_end("hx")
        return bare.str.to_integer(base=16, strict=False).cast(polars.Int64).alias(role)
    if role == "data":
        return (cell.str.replace_all(r"[\s_-]", "").str.decode("hex", strict=False) if words else cell).alias(
            role
        )
    if role in ("extended", "remote", "error", "sent"):
        return (cell.str.to_lowercase().is_in(TRUE) if words else cell.cast(polars.Boolean)).alias(role)
    return cell.cast(polars.String if role == "channel" else polars.Int64, strict=False).alias(role)


def _hand_on(table: Any, intake: Intake) -> None:
    """Turn a batch of rows into frames; rows without time, identifier or data are counted as unread."""
    import polars

    bare = _flag(table, "error") | _flag(table, "remote")
    lost = table["time"].is_null() | (~bare & (table["ident"].is_null() | table["data"].is_null()))
    if "length" in table.columns:
        short = table["data"].bin.size() < table["length"].clip(0, 8)
        lost |= (short & ~bare).fill_null(False)
    if many := int(lost.sum()):
        intake.unread(many)
        table = table.filter(~lost)
    if not table.height:
        return
    ident = table["ident"].fill_null(0).to_numpy()
    data = table["data"].fill_null(b"")
    length = data.bin.size().cast(polars.Int64).to_numpy()
    if "length" in table.columns:
        length = np.where(length <= 8, np.fmin(length, table["length"].fill_null(8).to_numpy()), length)
    long_ident = ident > 0x7FF
    if "extended" in table.columns:
        long_ident = table["extended"].fill_null(False).to_numpy() | long_ident
    kinds = np.where(long_ident, DATA, ELEVEN)
    kinds[length > 8] = LONG_FRAME
    kinds[_flag(table, "remote").to_numpy()] = REMOTE_FRAME
    kinds[_flag(table, "error").to_numpy()] = ERROR_FRAME
    channel = _channels(table, intake)
    sent = _flag(table, "sent").to_numpy()
    intake.sift(
        (
            kinds.astype(np.int64),
            table["time"].to_numpy(),
            ident & 0x1FFFFFFF,
            _words(data, length),
            length,
            channel,
            sent,
        )
    )


def _flag(table: Any, role: str) -> Any:
    import polars

    if role not in table.columns:
        return polars.repeat(False, table.height, dtype=polars.Boolean, eager=True)
    return table[role].fill_null(False)


def _words(data: Any, length: NDArray[np.int64]) -> NDArray[np.uint64]:
    """Give the first eight bytes of each row as one word, first byte lowest, nothing past its length."""
    import polars

    padded = (polars.col("data") + polars.lit(b"\0" * 8)).bin.slice(0, 8)
    word = padded.bin.reinterpret(dtype=polars.UInt64, endianness="little")
    masks = np.array([(1 << 8 * many) - 1 for many in range(9)], np.uint64)
    words: NDArray[np.uint64] = data.to_frame().select(word).to_series().to_numpy()
    return words & masks[np.clip(length, 0, 8)]


def _channels(table: Any, intake: Intake) -> NDArray[np.int64]:
    if "channel" not in table.columns:
        return np.full(table.height, intake.channel("1"), np.int64)
    names = table["channel"].fill_null("1")
    known = {name: intake.channel(name) for name in names.unique(maintain_order=True).to_list()}
    return np.asarray([known[name] for name in names.to_list()], np.int64)
