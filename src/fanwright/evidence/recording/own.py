"""A shop's own layout of signals, from a DBC file: it adds signals or takes the place of ours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from fanwright.errors import FileError
from fanwright.evidence.recording.loops.frames import MOST_STREAMS
from fanwright.evidence.recording.signals import (
    FIRST_OWN_STREAM,
    KELVIN,
    RPM,
    STANDARD,
    Layout,
    Signal,
    Stream,
    most_valid,
)
from fanwright.words import Message, count, listing, text

NUMBER = "SPN"
KEEP_EVERY_US = 900_000
TO_SI = {
    "": (1.0, 0.0),
    "%": (0.01, 0.0),
    "rpm": (RPM, 0.0),
    "1/min": (RPM, 0.0),
    "degc": (1.0, KELVIN),
    "°c": (1.0, KELVIN),
    "c": (1.0, KELVIN),
    "deg c": (1.0, KELVIN),
    "k": (1.0, 0.0),
    "kpa": (1e3, 0.0),
    "bar": (1e5, 0.0),
    "pa": (1.0, 0.0),
    "psi": (6894.757293168, 0.0),
    "km/h": (1.0 / 3.6, 0.0),
    "kph": (1.0 / 3.6, 0.0),
    "m/s": (1.0, 0.0),
    "l/h": (1e-3 / 3600.0, 0.0),
    "v": (1.0, 0.0),
    "km": (1e3, 0.0),
    "m": (1.0, 0.0),
    "h": (3600.0, 0.0),
    "hr": (3600.0, 0.0),
    "s": (1.0, 0.0),
}
"""Units of a DBC file to SI: factor and offset."""


def layout_with(path: Path, base: Layout = STANDARD) -> Layout:
    """Lay the signals of a DBC file over ours: a signal counts by its attribute ``SPN``.

    Raises:
        FileError: It cannot be read, or a signal in it cannot be used; every mistake.
    """
    streams, signals = dict(base.streams), dict(base.signals)
    mistakes: list[Message] = []
    keys = {signal.number: key for key, signal in base.signals.items()}
    used = 0
    for message in _messages(path):
        group = _group(message.frame_id)
        for signal in message.signals:
            key = keys.get(_number(signal))
            if key is None:
                continue
            try:
                signals[key] = _signal(key, group, signal, base.signals[key])
            except FileError as error:
                mistakes += error.messages
                continue
            used += 1
            if group not in streams:
                number = FIRST_OWN_STREAM + len(streams) - len(base.streams)
                if number >= MOST_STREAMS:
                    mistakes.append(_too_many(path))
                    break
                streams[group] = Stream(message.name, group, number, KEEP_EVERY_US, 0)
    if not used and not mistakes:
        mistakes.append(
            Message(
                "{file} has no signal whose attribute SPN is one that is read here, such as 977 or 190",
                {"file": text(path)},
            )
        )
    if mistakes:
        raise FileError(mistakes)
    return Layout(MappingProxyType(streams), MappingProxyType(signals))


def _messages(path: Path) -> list[Any]:
    from cantools import database
    from cantools.database.errors import Error

    try:
        loaded: Any = database.load_file(str(path), database_format="dbc", strict=False)
    except FileNotFoundError as error:
        raise FileError(Message("{file} is not there; check the name", {"file": text(path)})) from error
    except (OSError, ValueError, Error) as error:
        reason = str(error).splitlines()[0][:120] if str(error) else type(error).__name__
        raise FileError(
            Message("{file} cannot be read as DBC: {reason}", {"file": text(path), "reason": text(reason)})
        ) from error
    return list(loaded.messages)


def _group(ident: int) -> int:
    group = (ident >> 8) & 0x3FFFF
    return group & 0x3FF00 if (ident >> 16) & 0xFF < 240 else group


def _number(signal: Any) -> int:
    if signal.spn is not None:
        return int(signal.spn)
    attributes = getattr(signal.dbc, "attributes", None) or {}
    return int(attributes[NUMBER].value) if NUMBER in attributes else -1


def _signal(key: str, group: int, given: Any, ours: Signal) -> Signal:
    unit = (given.unit or "").strip().casefold()
    if unit not in TO_SI:
        raise FileError(
            Message(
                "signal {name}: unit «{unit}» is not known; known are {known}",
                {"name": text(given.name), "unit": text(given.unit), "known": listing(_known_units())},
            )
        )
    big = given.byte_order == "big_endian"
    start = int(given.start)
    if big:
        start = 64 - (8 * (start // 8) + 7 - start % 8) - given.length
    if given.is_signed or given.length > 32 or start < 0 or start + given.length > 64:
        raise FileError(
            Message(
                "signal {name} is signed, longer than 32 bits or outside the 8 bytes of a message",
                {"name": text(given.name)},
            )
        )
    factor, offset = TO_SI[unit]
    most = ours.most if given.length == ours.bits else most_valid(given.length)
    if not ours.dimension:
        factor, offset = 1.0, 0.0
    return replace(
        ours,
        key=key,
        group=group,
        start=start,
        bits=int(given.length),
        scale=float(given.scale) * factor,
        offset=float(given.offset) * factor + offset,
        most=most,
        big_endian=big,
    )


def _known_units() -> tuple[Any, ...]:
    return tuple(text(unit) for unit in TO_SI if unit)


def _too_many(path: Path) -> Message:
    return Message(
        "{file} adds more than {many} messages; leave out those that are not needed",
        {"file": text(path), "many": count(MOST_STREAMS - FIRST_OWN_STREAM)},
    )
