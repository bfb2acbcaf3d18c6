"""Tables of telemetry for the tests, and what was said about them."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import Any

import polars as pl
import pytest

from fanwright.errors import FileError
from fanwright.evidence.recording import RecordingResult
from fanwright.virtual.traffic import Day
from fanwright.words import Message

START_S = 1_790_000_000


def filled(messages: Iterable[Message]) -> list[str]:
    return [
        one.template.format(**{name: value.value for name, value in one.values.items()}) for one in messages
    ]


def said(refused: pytest.ExceptionInfo[FileError]) -> list[str]:
    return filled(refused.value.messages)


def notes(result: RecordingResult) -> list[str]:
    return filled((*result.evidence.notes, *result.evidence.cannot_tell))


def rows_of(day: Day) -> pl.DataFrame:
    """One row a second of a made day."""
    begin = round(day.story.begin.timestamp())
    seconds = day.seconds
    return pl.DataFrame(
        {
            "time [s]": [begin + number for number in range(len(seconds))],
            "fan told on": [int(bool(one.reason)) for one in seconds],
            "reason": [one.reason for one in seconds],
            "engine speed [rpm]": [round(one.rpm * 8) / 8 for one in seconds],
            "coolant [C]": [one.coolant_c for one in seconds],
            "charge_air_c": [one.charge_c for one in seconds],
            "air pressure [kPa]": [one.air_kpa for one in seconds],
            "road speed [km/h]": [one.road_km_h for one in seconds],
        }
    )


def simple(many: int = 600, on: Sequence[tuple[int, int, int]] = ((100, 200, 4),)) -> dict[str, list[Any]]:
    state = [0] * many
    for first, last, code in on:
        state[first:last] = [code] * (min(last, many) - min(first, many))
    return {
        "time [s]": [START_S + number for number in range(many)],
        "fan state": state,
        "engine speed [rpm]": [1200.0] * many,
        "coolant [C]": [90.0] * many,
    }


def csv_of(rows: dict[str, list[Any]], separator: str = ",") -> str:
    lines = [separator.join(rows)]
    cells = zip(*rows.values(), strict=True)
    lines += [separator.join("" if cell is None else str(cell) for cell in row) for row in cells]
    return "\n".join(lines) + "\n"


def parquet_of(rows: Any) -> bytes:
    out = io.BytesIO()
    pl.DataFrame(rows).write_parquet(out, row_group_size=97)
    return out.getvalue()
