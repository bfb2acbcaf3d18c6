"""The shop's own data: where the file is looked for, and what it may hold."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from fanwright.catalogue import Catalogue
from fanwright.catalogue import load as load_catalogue
from fanwright.desk.files import read_bytes, read_table
from fanwright.errors import InputError
from fanwright.judging import Limits
from fanwright.judging import load as load_limits
from fanwright.quantities import METRIC, Units, dimensions, find_unit
from fanwright.words import Message, text

TABLES = ("limits", "presets", "prices", "instruments", "core", "units", "telemetry")
VARIABLE = "FANWRIGHT_SHOP"


@dataclass(frozen=True)
class Shop:
    """What one shop changes, and where that is written.

    Args:
        path: The shop file, or None when our own values are in force.
        sha256: Hash of that file; empty without one.
        data: Its tables.
    """

    path: Path | None = None
    sha256: str = ""
    data: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def catalogue(self) -> Catalogue:
        """The catalogue with this shop's instruments, prices and core sets."""
        own = {key: self.data[key] for key in ("instruments", "prices", "core") if key in self.data}
        return load_catalogue(own or None)

    @cached_property
    def limits(self) -> Limits:
        """The limits in force in this shop."""
        return load_limits(self.catalogue, self.data.get("limits"))

    @cached_property
    def presets(self) -> Mapping[str, Any] | None:
        """The shop's own presets, or None."""
        found: Mapping[str, Any] | None = self.data.get("presets")
        return found

    @cached_property
    def units(self) -> Units:
        """The units this shop reads."""
        return _units(self.data.get("units", {}))


def open_shop(named: Path | None, beside: Path | None = None) -> Shop:
    """Find and read the shop file: the one named, else the environment's, else the one beside the visit.

    Args:
        named: A file named on the command line, or None.
        beside: The visit file, beside which ``shop.toml`` is looked for, or None.

    Returns:
        The shop; without any file, one that changes nothing.

    Raises:
        InputError: Every mistake of the file.
    """
    wanted = named or (Path(os.environ[VARIABLE]) if os.environ.get(VARIABLE) else None)
    if wanted is None and beside is not None and (beside.parent / "shop.toml").is_file():
        wanted = beside.parent / "shop.toml"
    if wanted is None:
        return Shop()
    data = read_table(wanted)
    shop = Shop(wanted, hashlib.sha256(read_bytes(wanted)).hexdigest(), data)
    mistakes = [
        Message(
            "{file}: [{key}] is not known; allowed are {allowed}",
            {"file": text(wanted.name), "key": text(key), "allowed": text(", ".join(TABLES))},
        )
        for key in data
        if key not in TABLES
    ]
    for part in ("catalogue", "limits", "units"):
        try:
            getattr(shop, part)
        except InputError as error:
            mistakes += [
                Message("{_file}: " + one.template, {"_file": text(wanted.name), **one.values})
                for one in error.messages
            ]
    if mistakes:
        raise InputError(mistakes)
    return shop


def _units(table: object) -> Units:
    if not isinstance(table, Mapping):
        raise InputError(Message("[units] must be a table such as pressure = «kPa»"))
    chosen: dict[str, str] = dict(METRIC) if table.get("system") == "metric" else {}
    mistakes = []
    for key, spelling in table.items():
        if key == "system":
            if spelling not in ("us", "metric"):
                mistakes.append(Message("[units] system must be «us» or «metric»"))
            continue
        unit = find_unit(str(spelling), key) if key in dimensions() else None
        if unit is None:
            mistakes.append(
                Message(
                    "[units] {key} = {spelling} is not a unit of a dimension we know",
                    {"key": text(key), "spelling": text(f"«{spelling}»")},
                )
            )
        else:
            chosen[key] = unit.name
    if mistakes:
        raise InputError(mistakes)
    return Units(chosen)
