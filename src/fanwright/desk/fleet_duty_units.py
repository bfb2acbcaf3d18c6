"""Which truck a recording is of: by the name of its file, a list, or the vehicle number in it, masked."""

from __future__ import annotations

import fnmatch
import hashlib
import hmac
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from fanwright.desk.fleet_duty_addresses import shown
from fanwright.desk.spreadsheet import read_sheet
from fanwright.errors import FileError, InputError
from fanwright.words import Message, count, text

MASK = "vin-"


@dataclass(frozen=True)
class UnitRule:
    """How the truck of a recording is found.

    Args:
        pattern: Finds the truck in a file's address; None without.
        files: Truck by file: its address, its name, or a pattern of either.
        masked: Truck by masked vehicle number.
    """

    pattern: re.Pattern[str] | None = None
    files: Mapping[str, str] = field(default_factory=dict)
    masked: Mapping[str, str] = field(default_factory=dict)

    def unit_of(self, address: str) -> str:
        """Give the truck that the address of a recording tells; empty where the recording must tell it.

        Raises:
            FileError: The pattern does not fit the address.
        """
        name = address.rsplit("/", 1)[-1]
        for wanted, unit in self.files.items():
            if wanted in (address, name) or any(fnmatch.fnmatchcase(one, wanted) for one in (address, name)):
                return unit
        if self.pattern is None:
            return ""
        match = self.pattern.search(address)
        if match is None or not match["unit"]:
            raise FileError(
                Message(
                    "{file}: its name does not fit «{pattern}», so its truck is not known",
                    {"file": text(shown(address)), "pattern": text(self.pattern.pattern)},
                )
            )
        return match["unit"]


def masked(number: str, salt: str) -> str:
    """Mask a vehicle number: the same number gives the same mask within one result only.

    Example:
        >>> masked("ABC", "salt") == masked(" abc", "salt") != masked("ABC", "pepper")
        True
    """
    return MASK + hmac.new(salt.encode(), number.strip().upper().encode(), hashlib.sha256).hexdigest()[:12]


def unit_rule(pattern: str, listing: Path | None, salt: str) -> UnitRule:
    """Read how trucks are found.

    Args:
        pattern: A regular expression with a group ``unit``; empty for none.
        listing: A table with the columns ``unit`` and ``file`` or ``vin``; None for none.
        salt: The result's salt for masks.

    Raises:
        InputError: Every mistake of both.
    """
    mistakes: list[Message] = []
    compiled = None
    try:
        compiled = re.compile(pattern) if pattern else None
    except re.error as error:
        mistakes.append(
            Message(
                "--unit-from «{pattern}» is no regular expression: {reason}",
                {"pattern": text(pattern), "reason": text(error)},
            )
        )
    if compiled is not None and "unit" not in compiled.groupindex:
        mistakes.append(
            Message(
                "--unit-from «{pattern}» does not say which part is the truck; write that part as {group}",
                {"pattern": text(pattern), "group": text("(?P<unit>...)")},
            )
        )
    files: dict[str, str] = {}
    numbers: dict[str, str] = {}
    if listing is not None:
        try:
            files, numbers = _listing(listing, salt)
        except FileError as error:
            mistakes += error.messages
    if mistakes:
        raise InputError(mistakes)
    return UnitRule(compiled, files, numbers)


def _listing(path: Path, salt: str) -> tuple[dict[str, str], dict[str, str]]:
    sheet = read_sheet(path)
    names = [name.casefold() for name in sheet.header]
    if "unit" not in names or not {"file", "vin"} & set(names):
        raise FileError(
            Message(
                "{file} needs a column «unit» and a column «file» or «vin»; it has {found}",
                {"file": text(path), "found": text(", ".join(sheet.header))},
            )
        )
    files: dict[str, str] = {}
    numbers: dict[str, str] = {}
    mistakes = []
    for number, row in sheet.rows:
        cells = dict(zip(names, (cell.strip() for cell in row), strict=True))
        if not cells["unit"] or not (cells.get("file") or cells.get("vin")):
            mistakes.append(
                Message(
                    "{file}, line {line}: the unit is missing, or what it is known by",
                    {"file": text(path), "line": count(number)},
                )
            )
            continue
        if cells.get("file"):
            files[cells["file"]] = cells["unit"]
        if cells.get("vin"):
            numbers[masked(cells["vin"], salt)] = cells["unit"]
    if mistakes:
        raise FileError(mistakes)
    return files, numbers
