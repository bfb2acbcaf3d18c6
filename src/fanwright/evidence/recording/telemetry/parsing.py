"""Cells of a telemetry table as numbers: expressions for polars, whatever a column's type is."""

from __future__ import annotations

import re
from typing import Any

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import ABSOLUTE, LOCAL, RELATIVE
from fanwright.evidence.recording.formats.candump_log import EARLIEST_S
from fanwright.evidence.recording.quiet import guarded
from fanwright.evidence.recording.telemetry.columns import Column, Layout
from fanwright.evidence.recording.telemetry.roles import CODE, FLAG, REASONS, ROLES, WORD, Naming
from fanwright.words import Message, text

MISSING = ("", "na", "n/a", "nan", "null", "none", "-")
"""Ways to write that a cell is empty, in small letters."""
FLAGS = {
    **dict.fromkeys(("1", "1.0", "true", "t", "yes", "y", "on"), 1),
    **dict.fromkeys(("0", "0.0", "false", "f", "no", "n", "off"), 0),
}
MOST_STEPS = ((4e9, 1e6), (4e12, 1e3), (4e15, 1.0), (4e18, 1e-3))
"""Since 1970, up to 2096, a time stamp counts seconds, milliseconds, microseconds or nanoseconds."""
PROBE_ROWS = 1_000

_NUMBER = re.compile(r"\d+(?:[.,]\d*)?")
_OF_DAY = re.compile(r"\d{1,2}:\d{2}:\d{2}(?:\.\d*)?")
_DATED = re.compile(r"\d{4}-\d{2}-\d{2}([T ])\d{2}:\d{2}:\d{2}(?:\.\d*)?(?P<zone>Z|[+-]\d{2}:?\d{2})?")


def cells(column: Column, kind: Any, naming: Naming, *, comma: bool = False) -> Any:
    """Give the expression that reads a column other than time: a number in its own unit, or nothing.

    Args:
        column: The column.
        kind: Its type in polars.
        naming: The shop's own words for reasons.
        comma: Whether decimals are set off by a comma.
    """
    import polars

    cell = polars.col(column.name)
    what = ROLES[column.role].kind
    words = kind == polars.String or isinstance(kind, polars.Categorical | polars.Enum)
    if words:
        cell = bare(cell)
    if what == WORD:
        return _reason(cell, naming) if column.role == "reason" and words else cell
    if what == FLAG and words:
        return cell.str.to_lowercase().replace_strict(FLAGS, default=None, return_dtype=polars.Int8)
    if words:
        if comma:
            cell = cell.str.replace(",", ".", literal=True)
        cell = cell.cast(polars.Float64, strict=False)
        return _whole(cell) if what == CODE else cell
    return _whole(cell) if what in (CODE, FLAG) and kind.is_float() else cell


def bare(cell: Any) -> Any:
    """Give text without blanks and quotes, and nothing for an empty cell."""
    import polars

    stripped = cell.cast(polars.String).str.strip_chars(' \t\r"')
    return polars.when(~stripped.str.to_lowercase().is_in(MISSING)).then(stripped)


def _whole(cell: Any) -> Any:
    import polars

    return polars.when((cell == cell.round()) & cell.is_between(-1, 255)).then(cell).cast(polars.Int16)


def _reason(cell: Any, naming: Naming) -> Any:
    import polars

    own = {_word(word): REASONS[reason] for word, reason in naming.reasons.items()}
    known = {**REASONS, **{str(code): code for code in range(16)}, **own}
    plain = cell.str.to_lowercase().str.replace_all("[ _-]+", " ")
    spelled = {_word(word): code for word, code in known.items()}
    return plain.replace_strict(spelled, default=None, return_dtype=polars.Int8)


def _word(word: str) -> str:
    return " ".join(re.sub(r"[_-]", " ", word).casefold().split())


def time_of(frame: Any, layout: Layout, place: str, *, comma: bool = False) -> tuple[Any, str, bool]:
    """Give the expression that reads the time in microseconds, the kind of its clock, and if it is of a day.

    Raises:
        FileError: No unit, or not a way of writing a time that is read here.
    """
    import polars

    column = layout["time"]
    kind = frame.collect_schema()[column.name]
    cell = polars.col(column.name)
    if isinstance(kind, polars.Datetime):
        moment = cell if kind.time_unit == "us" else cell.dt.cast_time_unit("us")
        return moment.to_physical(), ABSOLUTE if kind.time_zone else LOCAL, False
    if kind == polars.Time:
        return cell.cast(polars.Int64) // 1_000, RELATIVE, True
    if kind == polars.Duration:
        return cell.dt.total_microseconds(), RELATIVE, False
    if kind.is_numeric():
        sample = _first(frame.select(cell.drop_nulls().head(1)), place)
        return _number(cell, column, sample, place, kind.is_integer())
    if kind == polars.String:
        return _written(frame, column, place, comma)
    raise _unlike(column, str(kind), place)


def _first(frame: Any, place: str) -> list[Any]:
    return list(guarded(frame.collect, place).to_series().to_list())


def _number(cell: Any, column: Column, sample: list[float], place: str, whole: bool) -> tuple[Any, str, bool]:
    import polars

    first = float(sample[0]) if sample else 0.0
    factor = column.factor
    if not factor:
        factor = next((step for most, step in MOST_STEPS if 0.075 * most < first < most), 0.0)
    if not factor:
        raise FileError(
            Message(
                "{file}: the column {column} has no unit; one of s, ms, us, ns is wanted in brackets",
                {"file": text(place), "column": text(column.name)},
            )
        )
    if whole and factor >= 1.0 and factor == round(factor):
        read = cell.cast(polars.Int64) * round(factor)
    else:
        read = (cell.cast(polars.Float64) * factor).round().cast(polars.Int64, strict=False)
    return read, ABSOLUTE if first * factor >= EARLIEST_S * 1e6 else RELATIVE, False


def _written(frame: Any, column: Column, place: str, comma: bool) -> tuple[Any, str, bool]:
    import polars

    cell = bare(polars.col(column.name))
    sample = _first(frame.select(cell.head(PROBE_ROWS).drop_nulls()), place)
    for written in sample:
        if _NUMBER.fullmatch(written):
            number = cell.str.replace(",", ".", literal=True) if comma else cell
            value = float(written.replace(",", "."))
            return _number(number.cast(polars.Float64, strict=False), column, [value], place, False)
        if _OF_DAY.fullmatch(written):
            return cell.str.to_time("%H:%M:%S%.f", strict=False).cast(polars.Int64) // 1_000, RELATIVE, True
        if found := _DATED.fullmatch(written):
            between = "%Y-%m-%d" + found[1] + "%H:%M:%S%.f"
            if found["zone"]:
                moment = cell.str.to_datetime(between + "%#z", strict=False, time_unit="us", time_zone="UTC")
            else:
                moment = cell.str.to_datetime(between, strict=False, time_unit="us")
            return moment.cast(polars.Int64), ABSOLUTE if found["zone"] else LOCAL, False
    if not sample:
        raise no_rows(place)
    raise _unlike(column, sample[0][:40], place)


def no_rows(place: str) -> FileError:
    """Say that a table holds nothing."""
    return FileError(Message("{file} holds no row with a time that can be read", {"file": text(place)}))


def _unlike(column: Column, shown: str, place: str) -> FileError:
    return FileError(
        Message(
            "{file}: the column {column} holds no time that can be read: «{shown}»; a number with its unit, "
            "2026-04-14T05:30:00Z, 2026-04-14 05:30:00 or 05:30:00 can",
            {"file": text(place), "column": text(column.name), "shown": text(shown)},
        )
    )
