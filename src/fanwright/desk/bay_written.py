"""From a bay visit's base and its entries to one mapping of the shape of a visit file. Pure."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayEntry, BayFile, BayVisit

SET_TABLES = ("truck", "drive", "visit", "work", "proof")
_DECIMAL_COMMA = re.compile(r"(?<![\d,])(\d+),(\d{1,2}|\d{4,})(?![\d,])")
LOCKED_OUT = "engine off, tag on"


def alive(entries: Iterable[BayEntry]) -> tuple[BayEntry, ...]:
    """Give the entries that neither a later one replaced nor anybody took back.

    Args:
        entries: All entries of a visit, oldest first.

    Returns:
        Those that count, oldest first. Two tablets that did not know of each other leave two for one test.
    """
    every = tuple(entries)
    gone: set[str] = set()
    for entry in every:
        gone.update(str(key) for key in entry.body.get("replaces", ()))
        if entry.kind == "take_back":
            gone.add(str(entry.body.get("of", "")))
    return tuple(entry for entry in every if entry.key not in gone and entry.kind != "take_back")


def written(bay: BayVisit) -> dict[str, Any]:
    """Make the mapping of a visit file that a bay visit stands for.

    Args:
        bay: The visit with its entries and files.

    Returns:
        Tables as in a visit file. An entry goes before what the base says of the same test.
    """
    raw: dict[str, Any] = copy.deepcopy(dict(bay.base))
    counted = alive(bay.entries)
    for entry in counted:
        _MAKERS.get(entry.kind, _nothing)(raw, entry)
    for after in (False, True):
        _readings(raw, [one for one in counted if one.kind == "reading" and one.after == after], after)
    _files(raw, bay.files, counted)
    return {name: table for name, table in raw.items() if table or name in ("truck", "drive", "visit")}


def _nothing(raw: dict[str, Any], entry: BayEntry) -> None:
    """A file or a reading is written later, with the others of its kind."""


def _set(raw: dict[str, Any], entry: BayEntry) -> None:
    table, name = str(entry.body.get("table", "")), str(entry.body.get("name", ""))
    if table in SET_TABLES and name:
        raw.setdefault(table, {})[name] = entry.body.get("value")


def _lock_out(raw: dict[str, Any], entry: BayEntry) -> None:
    if entry.body.get("confirmed") is True:
        raw.setdefault("visit", {})["lock_out"] = LOCKED_OUT
    else:
        raw.setdefault("visit", {}).pop("lock_out", None)


def _note(raw: dict[str, Any], entry: BayEntry) -> None:
    table = raw.setdefault("visit", {})
    said = str(entry.body.get("value", ""))
    table["note"] = f"{table['note']}; {said}" if table.get("note") else said


def _not_done(raw: dict[str, Any], entry: BayEntry) -> None:
    raw.setdefault("not_done", {})[entry.test] = str(entry.body.get("why", ""))
    if not entry.after:
        _drop(raw, "readings", entry.test)


_MAKERS = {"set": _set, "lock_out": _lock_out, "note": _note, "not_done": _not_done}


def _drop(raw: dict[str, Any], table: str, test: str) -> None:
    held = raw.get(table)
    if isinstance(held, dict):
        held.pop(test, None)


def _readings(raw: dict[str, Any], entries: Sequence[BayEntry], after: bool) -> None:
    by_test: dict[str, list[BayEntry]] = {}
    for entry in entries:
        by_test.setdefault(entry.test, []).append(entry)
    table = "readings_after" if after else "readings"
    for test, ones in by_test.items():
        first, *more = (long_form(one) for one in ones)
        if more:
            first["also"] = more
        if not after and test in raw.get("proof", {}):
            _drop(raw, "proof", test)
        raw.setdefault(table, {})[test] = first
        _drop(raw, "not_done", test)  # somebody could do it after all


def long_form(entry: BayEntry) -> dict[str, Any]:
    """Give a reading's entry in the long form of a visit file.

    Args:
        entry: An entry of the kind ``reading``.

    Returns:
        ``value`` with who, when and by which instrument.
    """
    value = entry.body.get("value")
    if entry.body.get("language", "en") != "en":  # one visit may be typed in several languages
        value = [_with_point(one) for one in value] if isinstance(value, list) else _with_point(value)
    table: dict[str, Any] = {"value": value}
    for key in ("instrument", "beside", "span", "inlet", "note"):
        if entry.body.get(key):
            table[key] = entry.body[key]
    if entry.author:
        table["by"] = entry.author
    if entry.at:
        table["at"] = entry.at
    return table


def _with_point(value: object) -> object:
    """Write a decimal comma as a point; before exactly three digits it parts thousands."""
    return _DECIMAL_COMMA.sub(r"\1.\2", value) if isinstance(value, str) else value


def _files(raw: dict[str, Any], files: Iterable[BayFile], counted: Sequence[BayEntry]) -> None:
    named = {str(one.body.get("file", "")) for one in counted if one.kind == "file"}
    for file in files:
        if file.key not in named or file.refused:
            continue
        table = raw.setdefault("files", {})
        held = table.get(file.what, [])
        listed = held if isinstance(held, list) else [held]
        table[file.what] = [*listed, file.name]
