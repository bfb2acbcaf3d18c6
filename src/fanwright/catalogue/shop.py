"""A shop's own entries, laid over ours one by one."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from typing import Any

from fanwright.words import Message, text

Raw = Mapping[str, Mapping[str, Any]]

MAY_CHANGE: Mapping[str, tuple[str, ...]] = {
    "instruments": ("label", "division", "normal_sd", "source"),
    "prices": ("low", "high", "source"),
    "core": ("tests", "source"),
}
NEW_INSTRUMENT = ("label", "dimension", "division", "normal_sd", "source")
FIXED = ("tests", "faults", "cautions")
CANNOT_CHANGE = (
    "{where} cannot be changed by a shop: outcome words and cut points are fixed; change a limit instead"
)


def lay_over(raw: Raw, shop: Mapping[str, object]) -> tuple[Raw, list[Message]]:
    """Lay a shop's tables over ours.

    Args:
        raw: Our raw tables by file.
        shop: The shop's tables; a new instrument may be added, everything else must already exist.

    Returns:
        The raw tables in force, ours left untouched, and what is wrong with the shop's.

    Example:
        >>> price = {"low": 150, "source": "our books"}
        >>> laid, _ = lay_over({"prices": {"price": {"labour": {"low": 110}}}}, {"prices": {"labour": price}})
        >>> laid["prices"]["price"]["labour"]["low"]
        150
    """
    mistakes: list[Message] = []
    laid = dict(raw)
    for room, entries in shop.items():
        if room in FIXED:
            mistakes.append(_mistake(CANNOT_CHANGE, room))
        elif room not in MAY_CHANGE:
            mistakes.append(_unknown(room, room, MAY_CHANGE))
        elif not isinstance(entries, Mapping):
            mistakes.append(_mistake("{where} must be a table of entries", room))
        elif room == "prices":
            laid[room] = {**raw[room], "price": _entries(room, raw[room]["price"], entries, mistakes)}
        else:
            laid[room] = _entries(room, raw[room], entries, mistakes)
    return laid, mistakes


def _entries(
    room: str, ours: Mapping[str, Any], shop: Mapping[str, object], mistakes: list[Message]
) -> dict[str, Any]:
    laid = dict(ours)
    for name, entry in shop.items():
        where = f"{room}.{name}"
        own = room == "instruments" and name not in ours
        if not isinstance(entry, Mapping):
            mistakes.append(_mistake("{where} must be a table with what changes and its source", where))
        elif name not in ours and (not own or "dimension" not in entry):
            mistakes.append(_unknown(where, name, ours))
        else:
            allowed = NEW_INSTRUMENT if own else MAY_CHANGE[room]
            bad = [_not_allowed(f"{where}.{key}", allowed) for key in entry if key not in allowed]
            if not _filled(entry.get("source")):
                bad.append(_mistake("{where} needs a source: say where the shop has it from", where))
            mistakes += bad
            if not bad:
                laid[name] = {**ours.get(name, {}), **entry}
    return laid


def _filled(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _mistake(template: str, where: str) -> Message:
    return Message(template, {"where": text(where)})


def _unknown(where: str, given: str, allowed: Iterable[str]) -> Message:
    names = tuple(allowed)
    close = difflib.get_close_matches(given, names, n=1)
    if close:
        return Message(
            "{where} is not known; did you mean {close}?", {"where": text(where), "close": text(close[0])}
        )
    return _not_allowed(where, names)


def _not_allowed(where: str, allowed: Iterable[str]) -> Message:
    return Message(
        "{where} is not known; allowed are {allowed}",
        {"where": text(where), "allowed": text(", ".join(allowed))},
    )
