"""Messages and readings as text in the records, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, cast

from fanwright.evidence.reading import Measured, Origin, Reading
from fanwright.words import Kind, Message, Value


def message_text(message: Message | None) -> str:
    """Write a message so that it can be read back in any language later; empty for none.

    Example:
        >>> message_from(message_text(Message("so it is"))).template
        'so it is'
    """
    if message is None:
        return ""
    values = {name: _plain(value) for name, value in message.values.items()}
    return json.dumps([message.template, values], ensure_ascii=False)


def message_from(written: str) -> Message | None:
    """Read a message back; None for an empty text."""
    if not written:
        return None
    template, values = json.loads(written)
    return Message(template, {name: _value(value) for name, value in values.items()})


def _plain(value: Value) -> list[object]:
    inner = value.value
    plain = [_plain(one) for one in cast("tuple[Value, ...]", inner)] if value.kind == "list" else inner
    return [value.kind, plain, value.of]


def _value(plain: list[Any]) -> Value:
    kind, inner, of = plain
    return Value(
        cast("Kind", kind), tuple(_value(one) for one in inner) if kind == "list" else inner, str(of)
    )


def reading_columns(reading: Reading) -> dict[str, object]:
    """Give a reading as columns of its table."""
    measured = reading.measured
    return {
        "test": reading.test,
        "after": int(reading.after),
        "outcome": reading.outcome,
        "value_si": None if measured is None else measured.si,
        "half_width_si": None if measured is None else measured.half_width_si,
        "normal_sd_si": None if measured is None else measured.normal_sd_si,
        "each_si": json.dumps(list(reading.each_si)) if reading.each_si else "",
        "origin": reading.origin,
        "instrument": reading.instrument,
        "taken_by": reading.by,
        "taken_at": reading.at,
        "place": reading.place,
        "conditions": json.dumps(dict(reading.conditions), sort_keys=True) if reading.conditions else "",
        "cannot_judge": message_text(reading.cannot_judge),
    }


def reading_from(row: Mapping[str, Any]) -> Reading:
    """Read a reading back from the columns of its table."""
    measured = None
    if row["value_si"] is not None:
        measured = Measured(row["value_si"], row["half_width_si"], row["normal_sd_si"])
    return Reading(
        test=row["test"],
        measured=measured,
        outcome=row["outcome"],
        origin=cast("Origin", row["origin"]),
        after=bool(row["after"]),
        each_si=tuple(json.loads(row["each_si"])) if row["each_si"] else (),
        instrument=row["instrument"],
        by=row["taken_by"],
        at=row["taken_at"],
        place=row["place"],
        conditions=json.loads(row["conditions"]) if row["conditions"] else {},
        cannot_judge=message_from(row["cannot_judge"]),
    )
