"""The formats that are tables or databases, each under the contract; asammdf and polars write them."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any

import can
import numpy as np
import polars as pl

from format_contract import START_S, Contract

FIELDS = (
    ("BusChannel", "<u1"), ("ID", "<u4"), ("IDE", "<u1"), ("DLC", "<u1"), ("DataLength", "<u1"),
    ("DataBytes", "(8,)u1"), ("Dir", "<u1"),
)  # fmt: skip


def mf4_group(kind: str, messages: list[can.Message], channel: int) -> Any:
    from asammdf import Signal
    from asammdf import Source as AcquisitionSource

    rows = np.zeros(len(messages), np.dtype([(f"{kind}.{name}", *rest) for name, *rest in FIELDS]))
    for row, one in zip(rows, messages, strict=True):
        data = list(bytes(one.data).ljust(8, b"\xaa")[:8])
        size = len(one.data)
        values = (channel, one.arbitration_id, one.is_extended_id, size, size, data, not one.is_rx)
        for (name, *_), value in zip(FIELDS, values, strict=True):
            row[f"{kind}.{name}"] = value
    source = AcquisitionSource(
        f"CAN{channel}", f"CAN{channel}", "", AcquisitionSource.SOURCE_BUS, AcquisitionSource.BUS_TYPE_CAN
    )
    return Signal(rows, np.array([one.timestamp - MF4_START_S for one in messages]), name=kind, source=source)


MF4_START_S = 1_789_999_000.0


def write_mf4(groups: list[Any], path: Path, signals: Iterable[Any] = ()) -> None:
    from asammdf import MDF

    with MDF(version="4.10") as mdf:
        mdf.start_time = dt.datetime.fromtimestamp(MF4_START_S, dt.UTC)
        for group in [*groups, *signals]:
            mdf.append([group], common_timebase=True)
        named = path.with_suffix(".mf4")
        mdf.save(named, overwrite=True, compression=2)
    named.replace(path)


class TestMf4(Contract):
    """Groups of several kinds; asammdf puts their description last, so a cut file has none."""

    name = "MF4"
    can_be_cut = False
    carries_errors = True
    sample = "mf4/short.mf4"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        data = [one for one in messages if not one.is_error_frame]
        groups = [mf4_group("CAN_DataFrame", data[0::2], 1), mf4_group("CAN_DataFrame", data[1::2], 1)]
        errors = [one for one in messages if one.is_error_frame]
        if errors:
            groups.append(mf4_group("CAN_ErrorFrame", errors, 1))
        write_mf4(groups, path)


class TestMf4ByPythonCan(TestMf4):
    clock = "local"
    absolute = False
    sample = ""

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        named = path.with_suffix(".mf4")
        with can.MF4Writer(named) as out:
            for message in messages:
                out.on_message_received(message)
        named.replace(path)


class TestParquetFrames(Contract):
    """Parquet has its description last, so a cut file has none."""

    name = "frames (Parquet)"
    can_be_cut = can_be_packed = False
    carries_errors = True
    sample = "parquet_frames/short.parquet"

    def columns(self, messages: list[can.Message]) -> dict[str, Any]:
        return {
            "time": pl.Series([round(one.timestamp * 1e6) for one in messages]).cast(
                pl.Datetime("us", "UTC")
            ),
            "id": [one.arbitration_id for one in messages],
            "extended": [one.is_extended_id for one in messages],
            "data": [bytes(one.data) for one in messages],
            "channel": ["can0"] * len(messages),
            "error": [one.is_error_frame for one in messages],
        }

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        pl.DataFrame(self.columns(list(messages))).write_parquet(path, row_group_size=500)


class TestParquetFramesAsText(TestParquetFrames):
    clock = "relative"
    absolute = False
    carries_errors = False
    sample = ""

    def columns(self, messages: list[can.Message]) -> dict[str, Any]:
        return {
            "Time [ms]": [(one.timestamp - START_S) * 1e3 for one in messages],
            "arb_id": [f"0x{one.arbitration_id:x}" for one in messages],
            "dlc": [len(one.data) for one in messages],
            "payload": [one.data.hex(" ") for one in messages],
        }


class TestSqlite(Contract):
    name = "SQLite"
    can_be_cut = can_be_packed = False
    precision_s = 2e-6
    sample = "sqlite/short.db"

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        # The writer of python-can 4.6 loses its last buffer when it is stopped, so its table is filled here.
        with closing(sqlite3.connect(path)) as base, base:
            base.execute(
                "CREATE TABLE messages (ts REAL, arbitration_id INTEGER, extended INTEGER, remote INTEGER, "
                "error INTEGER, dlc INTEGER, data BLOB)"
            )
            base.executemany(
                "INSERT INTO messages VALUES (?, ?, ?, 0, 0, ?, ?)",
                [
                    (one.timestamp, one.arbitration_id, one.is_extended_id, len(one.data), bytes(one.data))
                    for one in messages
                ],
            )
