"""The header of a trace file: which column is what, in which unit, set apart by which sign."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from fanwright.errors import FileError
from fanwright.quantities import Unit, find_unit, units_of
from fanwright.words import Message, count, text

Clock = Literal["number", "time_of_day", "date_time"]

ROLES = ("time", "supply", "drive", "command", "shut")
NEEDED = ("time", "drive")
PRESSURES = ("supply", "drive")
EXAMPLE = "time [s],supply [psi],drive [psi],command"
NAMES = {
    "time": "time",
    "clock": "time",
    "date time": "time",
    "timestamp": "time",
    "supply": "supply",
    "inlet": "supply",
    "drive": "drive",
    "command": "command",
    "shut": "shut",
}
SEPARATORS = ("\t", ";", ",")
MOST_HEADER_LINES = 40

_CELL = re.compile(r"(?P<name>[^\[\]()]*?)\s*(?:[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])])?")
_TIME_OF_DAY = re.compile(r"\d{1,2}:\d{2}:\d{2}([.,]\d*)?")
_DATE_TIME = re.compile(r"\d{4}[-/]\d{2}[-/]\d{2}[T ]\d{2}:\d{2}:\d{2}.*")


@dataclass(frozen=True)
class Column:
    """One wanted column.

    Args:
        role: ``time``, ``supply``, ``drive``, ``command`` or ``shut``.
        index: Its place in the line, from 0.
        factor: Factor to SI of a number in it [SI unit per unit].
    """

    role: str
    index: int
    factor: float = 1.0


@dataclass(frozen=True)
class Layout:
    """How the lines of one file are to be read.

    Args:
        separator: The sign between two fields.
        fields: How many fields a line has.
        columns: The wanted columns in the order of the line.
        header_line: Line number of the header, from 0.
        decimal_comma: Whether decimals are set off by a comma.
        clock: How the time is written.
    """

    separator: str
    fields: int
    columns: tuple[Column, ...]
    header_line: int
    decimal_comma: bool
    clock: Clock

    @property
    def roles(self) -> tuple[str, ...]:
        """The wanted columns by role, in the order of the line."""
        return tuple(column.role for column in self.columns)


@dataclass(frozen=True)
class _Cell:
    name: str
    unit: str
    shown: str


@dataclass(frozen=True)
class _Header:
    separator: str
    line: int
    cells: tuple[_Cell, ...]
    found: Mapping[str, list[int]]


def find_layout(lines: Sequence[str], columns: Mapping[str, str] | None = None, place: str = "") -> Layout:
    """Find out how a file is laid out from its first lines.

    Args:
        lines: The first lines of the file, without line ends.
        columns: What the file calls a column, by role, such as ``{"drive": "P2[psi]"}``.
        place: Name of the file, for messages.

    Returns:
        The layout.

    Raises:
        FileError: All that is wrong with the header, a message each.

    Example:
        >>> find_layout(["Time [ms];Drive [bar]", "0;0,1"]).decimal_comma
        True
    """
    wanted = {role: _cell(name) for role, name in (columns or {}).items()}
    mistakes = [_unknown_role(role, place) for role in wanted if role not in ROLES]
    header = max(
        (
            _header(line, separator, number, wanted)
            for number, line in enumerate(lines[:MOST_HEADER_LINES])
            for separator in SEPARATORS
        ),
        key=lambda found: (len(found.found), -found.line, len(found.cells)),
        default=_Header(",", 0, (), {}),
    )
    mistakes += _mistakes(header, wanted, place)
    sample = [line.split(header.separator) for line in lines[header.line + 1 :] if line.strip()]
    clock = _clock(header, sample)
    chosen: list[Column] = []
    for role, places in header.found.items():
        cell = header.cells[places[0]]
        unit = _unit(role, cell, wanted.get(role), clock, place)
        if isinstance(unit, Message):
            mistakes.append(unit)
        else:
            chosen.append(Column(role, places[0], unit.factor if unit else 1.0))
    if mistakes:
        raise FileError(mistakes)
    return Layout(
        header.separator,
        len(header.cells),
        tuple(sorted(chosen, key=lambda column: column.index)),
        header.line,
        header.separator != "," and any("," in field for row in sample for field in row),
        clock,
    )


def _cell(shown: str) -> _Cell:
    cleaned = shown.strip().strip('"').strip()
    parts = _CELL.fullmatch(cleaned)
    if parts is None:
        return _Cell(_plain(cleaned), "", cleaned)
    return _Cell(_plain(parts["name"]), parts["unit"] or "", cleaned)


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def _header(line: str, separator: str, number: int, wanted: Mapping[str, _Cell]) -> _Header:
    cells = tuple(_cell(shown) for shown in line.rstrip().removesuffix(separator).split(separator))
    found: dict[str, list[int]] = {}
    for index, cell in enumerate(cells):
        asked = next((role for role, name in wanted.items() if name.name == cell.name), None)
        role = asked or NAMES.get(cell.name)
        if role and role in ROLES and (asked or role not in wanted):
            found.setdefault(role, []).append(index)
    return _Header(separator, number, cells, found)


def _mistakes(header: _Header, wanted: Mapping[str, _Cell], place: str) -> list[Message]:
    shown = ", ".join(cell.shown for cell in header.cells if cell.shown)[:200]
    about = {"file": text(place), "found": text(shown)}
    mistakes = []
    for role in ROLES:
        if role in wanted and role not in header.found:
            mistakes.append(
                Message(
                    "{file}: no column is called {name}; the columns found are: {found}",
                    {**about, "name": text(wanted[role].shown)},
                )
            )
        elif role in NEEDED and role not in header.found:
            mistakes.append(
                Message(
                    "{file}: no column for {role}; the columns found are: {found}. A header such as "
                    "{example} is wanted, or name the column with --columns {role}=NAME[UNIT]",
                    {**about, "role": text(role), "example": text(EXAMPLE)},
                )
            )
        elif len(header.found.get(role, [])) > 1:
            mistakes.append(
                Message(
                    "{file}: {number} columns are meant for {role}; "
                    "say which with --columns {role}=NAME[UNIT]",
                    {"file": text(place), "number": count(len(header.found[role])), "role": text(role)},
                )
            )
    return mistakes


def _unknown_role(role: str, place: str) -> Message:
    return Message(
        "{file}: {role} is not something a trace holds; a column can be {roles}",
        {"file": text(place), "role": text(role), "roles": text(", ".join(ROLES))},
    )


def _clock(header: _Header, sample: Sequence[Sequence[str]]) -> Clock:
    places = header.found.get("time")
    for row in sample if places else ():
        field = row[places[0]].strip().strip('"').strip() if places and len(row) > places[0] else ""
        if _TIME_OF_DAY.fullmatch(field):
            return "time_of_day"
        if _DATE_TIME.fullmatch(field):
            return "date_time"
        if field:
            return "number"
    return "number"


def _unit(role: str, cell: _Cell, asked: _Cell | None, clock: Clock, place: str) -> Unit | Message | None:
    if role not in PRESSURES and (role != "time" or clock != "number"):
        return None
    dimension = "time" if role == "time" else "pressure"
    spelling = (asked.unit if asked else "") or cell.unit
    about = {
        "file": text(place),
        "column": text(cell.shown),
        "units": text(", ".join(unit.printed for unit in units_of(dimension))),
    }
    if not spelling:
        return Message("{file}: the column {column} has no unit; one of {units} is wanted in brackets", about)
    unit = find_unit(spelling, dimension)
    own = find_unit(cell.unit, dimension) if cell.unit else unit
    if unit is None:
        kind = (
            "{file}: the column {column} is in {unit}, which is absolute; gauge pressure in {units} is wanted"
            if role != "time" and find_unit(spelling, "pressure_absolute")
            else "{file}: the column {column} has the unit {unit}, which is not one of {units}"
        )
        return Message(kind, {**about, "unit": text(spelling)})
    if own is not None and own.factor != unit.factor:
        return Message(
            "{file}: the column {column} was said to be in {unit}, but its header says {own}",
            {"file": text(place), "column": text(cell.shown), "unit": text(spelling), "own": text(cell.unit)},
        )
    return unit
