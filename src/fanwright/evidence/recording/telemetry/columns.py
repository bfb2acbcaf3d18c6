"""Which column of a telemetry table is what, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from fanwright.errors import FileError
from fanwright.evidence.recording.telemetry.roles import (
    CODE,
    EXAMPLE,
    FLAG,
    NEEDED,
    ROLES,
    SHARES,
    SPEEDS,
    TOLD,
    WORD,
    Naming,
    scale,
)
from fanwright.quantities import find_unit, units_of
from fanwright.words import Message, text


@dataclass(frozen=True)
class Column:
    """One wanted column: ``si = (value + offset) * factor``.

    Args:
        role: What it is.
        name: What the table calls it.
        factor: Factor to SI; microseconds for ``time``.
        offset: Added before the factor.
    """

    role: str
    name: str
    factor: float = 1.0
    offset: float = 0.0

    def bounds(self) -> tuple[float, float]:
        """Give the lowest and the highest value that can be, in the column's own unit."""
        role = ROLES[self.role]
        return role.low / self.factor - self.offset, role.high / self.factor - self.offset


@dataclass(frozen=True)
class Layout:
    """The wanted columns of one table, by role."""

    columns: Mapping[str, Column]

    def __contains__(self, role: str) -> bool:
        return role in self.columns

    def __getitem__(self, role: str) -> Column:
        return self.columns[role]


@dataclass(frozen=True)
class _Head:
    name: str
    unit: str
    shown: str


_BRACKETED = re.compile(r"(?P<name>[^\[\]()]*?)\s*[\[(]\s*(?P<unit>[^\[\]()]*?)\s*[\])]")


def _head(shown: str) -> _Head:
    cleaned = shown.strip().strip('"').strip()
    parts = _BRACKETED.fullmatch(cleaned)
    return (
        _Head(_plain(parts["name"]), parts["unit"], cleaned) if parts else _Head(_plain(cleaned), "", cleaned)
    )


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[_.\-]", " ", name).casefold().split())


@cache
def _match(head: _Head, names: tuple[str, ...], kind: str) -> str | None:
    """Give the unit a header says when its name is one of these, else None; the unit may end the name."""
    if head.name in names:
        return head.unit or ("share" if kind == "share" and head.name.endswith(" share") else "")
    words = head.name.split()
    for many in range(1, min(3, len(words) - 1) + 1):
        tail = "".join(words[-many:]).replace("per", "/") if many > 1 else words[-1]
        if " ".join(words[:-many]) in names and kind not in (FLAG, CODE, WORD) and scale(kind, tail):
            return tail
    return None


def looks_like(header: Sequence[str], naming: Naming | None = None) -> bool:
    """Say whether a header has a column of time and one that says what the fan is told.

    Example:
        >>> looks_like(["time [s]", "fan told on", "speed"]), looks_like(["time", "id", "data"])
        (True, False)
    """
    found = _found(tuple(map(_head, header)), naming or Naming())
    return "time" in found and any(role in found for role in TOLD)


def find_columns(
    header: Sequence[str], naming: Naming | None = None, place: str = "", *, dated: bool = False
) -> Layout:
    """Find the wanted columns of a table.

    Args:
        header: Names of its columns.
        naming: What the shop calls them.
        place: Name of the file, for messages.
        dated: Whether the column of time holds dates or times of day, which need no unit.

    Raises:
        FileError: Every column that is missing, named twice or without a unit.

    Example:
        >>> find_columns(["time [s]", "fan_on", "engine_speed_rpm", "coolant [F]"])["coolant"].offset
        459.67
    """
    naming = naming or Naming()
    heads = tuple(map(_head, header))
    found = _found(heads, naming)
    mistakes = _missing(heads, found, naming, place)
    columns: dict[str, Column] = {}
    for role, matches in found.items():
        if len(matches) > 1:
            several = ", ".join(heads[index].shown for index, _ in matches)
            mistakes.append(
                Message(
                    "{file}: several columns are meant for {role}: {found}; say which in [telemetry] of the "
                    "shop file",
                    {"file": text(place), "role": text(role), "found": text(several)},
                )
            )
            continue
        index, unit = matches[0]
        column = _column(role, heads[index], header[index], unit, place, dated)
        if isinstance(column, Message):
            mistakes.append(column)
        else:
            columns[role] = column
    if mistakes:
        raise FileError(mistakes)
    return Layout(MappingProxyType(columns))


def _found(heads: Sequence[_Head], naming: Naming) -> dict[str, list[tuple[int, str]]]:
    """Give the place and the unit of each column by its role."""
    wanted = {role: _head(name) for role, name in naming.columns.items()}
    taken = {head.name for head in wanted.values()}
    found: dict[str, list[tuple[int, str]]] = {}
    for index, head in enumerate(heads):
        for key, role in ROLES.items():
            if key in wanted:
                same = wanted[key].name in (head.name, _plain(head.shown))
                unit = (wanted[key].unit or head.unit) if same else None
            elif head.name in taken:
                unit = None
            else:
                unit = _match(head, role.names, role.kind)
            if unit is not None:
                found.setdefault(_as_percent(key, unit), []).append((index, unit))
    return found


def _as_percent(key: str, unit: str) -> str:
    """A fan command in percent is a percentage."""
    return "fan_percent" if key == "told_on" and unit.casefold() in SHARES else key


def _missing(
    heads: Sequence[_Head], found: Mapping[str, object], naming: Naming, place: str
) -> list[Message]:
    shown = ", ".join(head.shown for head in heads if head.shown)[:300]
    about = {"file": text(place), "found": text(shown)}
    mistakes = [
        Message(
            "{file}: no column is called {name}; the columns found are: {found}",
            {**about, "name": text(name)},
        )
        for role, name in naming.columns.items()
        if role not in found and _as_percent(role, _head(name).unit) not in found
    ]
    named = [role for role in NEEDED if role not in found and role not in naming.columns]
    if not any(role in found or role in naming.columns for role in TOLD):
        named.append("told_on, fan_percent or fan_state")
    mistakes += [
        Message(
            "{file}: no column for {role}; the columns found are: {found}. A header such as {example} is "
            "wanted, or the shop file names the column in [telemetry]",
            {**about, "role": text(role), "example": text(EXAMPLE)},
        )
        for role in named
    ]
    return mistakes


def _column(role: str, head: _Head, name: str, unit: str, place: str, dated: bool) -> Column | Message:
    kind = ROLES[role].kind
    if kind in (FLAG, CODE, WORD):
        return Column(role, name)
    if role == "time" and (dated or not unit):
        return Column(role, name, 0.0)
    found = scale(kind, unit) if unit else None
    if found is not None:
        return Column(role, name, *found)
    about = {"file": text(place), "column": text(head.shown), "units": text(", ".join(_units(kind)))}
    if not unit:
        return Message("{file}: the column {column} has no unit; one of {units} is wanted in brackets", about)
    if kind == "pressure" and find_unit(unit, "pressure_absolute"):
        return Message(
            "{file}: the column {column} is in {unit}, which is absolute; gauge in {units} is wanted",
            {**about, "unit": text(unit)},
        )
    return Message(
        "{file}: the column {column} has the unit {unit}, which is not one of {units}",
        {**about, "unit": text(unit)},
    )


def _units(kind: str) -> tuple[str, ...]:
    own = {"speed": tuple(SPEEDS), "share": ("%", "share")}.get(kind)
    return own or tuple(unit.printed for unit in units_of(kind))
