"""Messages and readings as text in the records, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, cast

from fanwright.evidence.from_json import message_data, message_from_data
from fanwright.evidence.reading import Measured, Origin, Reading
from fanwright.words import Message


def message_text(message: Message | None) -> str:
    """Write a message so that it can be read back in any language later; empty for none.

    Example:
        >>> message_from(message_text(Message("so it is"))).template
        'so it is'
    """
    if message is None:
        return ""
    return json.dumps(message_data(message), ensure_ascii=False)


def message_from(written: str) -> Message | None:
    """Read a message back; None for an empty text."""
    if not written:
        return None
    return message_from_data(json.loads(written))


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
