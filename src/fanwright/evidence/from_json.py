"""Readings, messages and evidence as plain data for JSON, and back. Exhibits stay where they were made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from fanwright.evidence.reading import Evidence, Measured, Origin, Reading
from fanwright.words import Kind, Message, Value


def message_data(message: Message) -> list[Any]:
    """Give a message as plain data.

    Example:
        >>> message_from_data(message_data(Message("so it is"))).template
        'so it is'
    """
    return [message.template, {name: _plain(value) for name, value in message.values.items()}]


def message_from_data(data: Any) -> Message:
    """Read a message back."""
    template, values = data
    return Message(template, {name: _value(value) for name, value in values.items()})


def _plain(value: Value) -> list[Any]:
    inner = value.value
    plain = [_plain(one) for one in cast("tuple[Value, ...]", inner)] if value.kind == "list" else inner
    return [value.kind, plain, value.of]


def _value(plain: list[Any]) -> Value:
    kind, inner, of = plain
    return Value(
        cast("Kind", kind), tuple(_value(one) for one in inner) if kind == "list" else inner, str(of)
    )


def reading_data(reading: Reading) -> dict[str, Any]:
    """Give a reading as plain data; what is empty is left out.

    Example:
        >>> one = Reading("vent_time", Measured(2.1, 0.05, 0.1), origin="trace")
        >>> reading_from_data(reading_data(one)) == one
        True
    """
    measured = reading.measured
    whole: dict[str, Any] = {
        "test": reading.test,
        "measured": None
        if measured is None
        else [measured.si, measured.half_width_si, measured.normal_sd_si],
        "outcome": reading.outcome,
        "origin": reading.origin,
        "after": reading.after,
        "each_si": list(reading.each_si),
        "instrument": reading.instrument,
        "by": reading.by,
        "at": reading.at,
        "place": reading.place,
        "conditions": dict(reading.conditions),
        "cannot_judge": None if reading.cannot_judge is None else message_data(reading.cannot_judge),
    }
    return {name: value for name, value in whole.items() if value not in (None, "", [], {}, False)}


def reading_from_data(data: Mapping[str, Any]) -> Reading:
    """Read a reading back."""
    measured, cannot = data.get("measured"), data.get("cannot_judge")
    return Reading(
        test=data["test"],
        measured=None if measured is None else Measured(*measured),
        outcome=data.get("outcome", ""),
        origin=cast("Origin", data.get("origin", "typed")),
        after=bool(data.get("after", False)),
        each_si=tuple(data.get("each_si", ())),
        instrument=data.get("instrument", ""),
        by=data.get("by", ""),
        at=data.get("at", ""),
        place=data.get("place", ""),
        conditions=data.get("conditions", {}),
        cannot_judge=None if cannot is None else message_from_data(cannot),
    )


def evidence_data(evidence: Evidence) -> dict[str, Any]:
    """Give evidence as plain data, without its exhibits."""
    return {
        "readings": [reading_data(one) for one in evidence.readings],
        "notes": [message_data(one) for one in evidence.notes],
        "cannot_tell": [message_data(one) for one in evidence.cannot_tell],
    }


def evidence_from_data(data: Mapping[str, Any]) -> Evidence:
    """Read evidence back; it has no exhibits any more."""
    return Evidence(
        readings=tuple(reading_from_data(one) for one in data.get("readings", ())),
        notes=tuple(message_from_data(one) for one in data.get("notes", ())),
        cannot_tell=tuple(message_from_data(one) for one in data.get("cannot_tell", ())),
    )
