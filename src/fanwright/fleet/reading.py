"""From a recording as it was read to the columns a fleet is counted by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from fanwright.evidence.recording.codes import packets
from fanwright.evidence.recording.exhibit import Run, Span
from fanwright.evidence.recording.result import RecordingResult
from fanwright.evidence.recording.signals import STANDARD, STATES, UNKNOWN
from fanwright.evidence.recording.source import Source
from fanwright.evidence.recording.taking import sift_file
from fanwright.evidence.recording.telemetry.columns import Layout, find_columns
from fanwright.evidence.recording.telemetry.roles import naming_from
from fanwright.evidence.recording.telemetry.runs import ENGINE_OFF, RunColumns, runs_of
from fanwright.evidence.recording.telemetry.table import is_telemetry, open_table
from fanwright.evidence.recording.told import BY_PERCENT, NOT_KNOWN, OFF
from fanwright.evidence.recording.traffic import Traffic
from fanwright.fleet.model import RUN_NUMBERS, FileDuty, Names, Runs
from fanwright.fleet.spans import Spans, union

_KELVIN = 273.15
_REASONS = np.array([STATES.get(code) or UNKNOWN for code in range(BY_PERCENT + 1)], object)
_COLUMNS: dict[str, Callable[[Run], float | None]] = {
    "duration_sd_s": lambda run: run.duration_sd_s,
    "grip_rpm": lambda run: run.grip_rpm,
    "slip_energy_mj": lambda run: _scaled(run.slip_energy_j, 1e-6),
    "fan_energy_mj": lambda run: _scaled(run.fan_energy_j, 1e-6),
    "coolant_on_c": lambda run: _scaled(run.coolant_on_k, 1.0, -_KELVIN),
    "coolant_off_c": lambda run: _scaled(run.coolant_off_k, 1.0, -_KELVIN),
    "charge_air_on_c": lambda run: _scaled(run.charge_air_on_k, 1.0, -_KELVIN),
    "charge_air_off_c": lambda run: _scaled(run.charge_air_off_k, 1.0, -_KELVIN),
    "ambient_c": lambda run: _scaled(run.ambient_k, 1.0, -_KELVIN),
    "road_speed_km_per_h": lambda run: _scaled(run.road_speed_m_s, 3.6),
    "lowest_air_kpa": lambda run: _scaled(run.lowest_air_gauge_pa, 1e-3),
}


def _scaled(value: float | None, factor: float, offset: float = 0.0) -> float | None:
    return None if value is None else value * factor + offset


def duty_of(result: RecordingResult, key: str = "") -> FileDuty:
    """Take from a recording what a fleet is counted by.

    Args:
        result: The recording; one that cannot tell runs gives no known time.
        key: What it is known by.
    """
    exhibit = result.exhibit
    told = [span for run in exhibit.runs for span in run.reasons] if result.told else []
    return FileDuty(
        exhibit.clock,
        union(_spans(exhibit.engine_on)) if result.engine_on_s is not None else Spans.of([]),
        union(_spans(exhibit.fan_known)) if result.told else Spans.of([]),
        _spans(told),
        _names(span.what for span in told),
        columns_of(exhibit.runs if result.told else ()),
        key,
    )


def columns_of(runs: tuple[Run, ...]) -> Runs:
    """Turn runs into columns."""
    ends = chain.from_iterable((_us(run.start_s), _us(run.end_s)) for run in runs)
    table = np.fromiter(ends, np.int64).reshape(-1, 2)
    numbers = {
        name: np.array([np.nan if (one := take(run)) is None else one for run in runs], np.float64)
        for name, take in _COLUMNS.items()
    }
    return Runs(
        Spans(table[:, 0], table[:, 1]),
        _names(run.reason for run in runs),
        np.array([run.open_start for run in runs], np.bool_),
        np.array([run.open_end for run in runs], np.bool_),
        numbers,
    )


_FACTORS = {
    "grip_rpm": ("grip_rpm", 1.0, 0.0),
    "coolant_on_k": ("coolant_on_c", 1.0, -_KELVIN),
    "coolant_off_k": ("coolant_off_c", 1.0, -_KELVIN),
    "charge_air_on_k": ("charge_air_on_c", 1.0, -_KELVIN),
    "charge_air_off_k": ("charge_air_off_c", 1.0, -_KELVIN),
    "ambient_k": ("ambient_c", 1.0, -_KELVIN),
    "road_speed_m_s": ("road_speed_km_per_h", 3.6, 0.0),
    "lowest_air_gauge_pa": ("lowest_air_kpa", 1e-3, 0.0),
}


def duty_of_rows(found: RunColumns, key: str = "") -> FileDuty:
    """Take from telemetry what a fleet is counted by, without heat, work and fuel.

    Args:
        found: Its runs and stretches.
        key: What it is known by.
    """
    stretches = Spans(found.stretch_start_us, found.stretch_end_us)
    on = found.stretch_code > OFF
    runs = Spans(found.start_us, found.end_us)
    numbers = {name: np.full(len(runs), np.nan) for name in RUN_NUMBERS}
    for name, (ours, factor, offset) in _FACTORS.items():
        if name in found.columns:
            numbers[ours] = found.columns[name] * factor + offset
    step_s = stretches.total_us / 1e6 / max(found.oddities.rows - 1, 1)
    seen = 2.0 - found.open_start.astype(np.float64) - found.open_end
    numbers["duration_sd_s"] = step_s * np.sqrt(seen / 12.0)
    return FileDuty(
        found.clock,
        union(stretches.where(found.stretch_code > ENGINE_OFF)),
        union(stretches.where(found.stretch_code > NOT_KNOWN)),
        stretches.where(on),
        _REASONS[found.stretch_code[on]],
        Runs(runs, _REASONS[found.code], found.open_start, found.open_end, numbers),
        key,
    )


def is_rows(path: Path, names: Mapping[str, object]) -> bool:
    """Say whether a file is a table of telemetry.

    Raises:
        FileError: It cannot be read.
    """
    return is_telemetry(Source(path), naming_from(names))


def rows_in(path: Path, names: Mapping[str, object], unit: str = "") -> RunColumns:
    """Read the runs of a file of telemetry.

    Args:
        path: The file.
        names: What the shop's tables call things, as in its file.
        unit: The one truck that is read where it holds several; empty for its only one.

    Raises:
        FileError: It cannot be read.
    """
    naming = naming_from(names, unit)
    table = open_table(Source(path), naming)
    return runs_of(table.frame, naming=naming, place=str(path), comma=table.comma)


def names_in(path: Path, names: Mapping[str, object]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the units and the vehicle numbers a recording names, each once.

    Args:
        path: The file.
        names: What the shop's tables call things, as in its file.

    Raises:
        FileError: It cannot be read.
    """
    if is_rows(path, names):
        naming = naming_from(names)
        table = open_table(Source(path), naming)
        columns = find_columns(table.header, naming, str(path))
        return _each(table.frame, columns, "unit"), _each(table.frame, columns, "vin")
    stretches = sift_file(path, STANDARD, None, False).stretches
    numbers = [packets(Traffic(columns, STANDARD)).vehicle_numbers for columns in stretches]
    return (), tuple(dict.fromkeys(number for several in numbers for number in several if number))


def _each(frame: Any, columns: Layout, role: str) -> tuple[str, ...]:
    import polars

    if role not in columns:
        return ()
    name = columns[role].name
    cells = frame.select(polars.col(name).cast(polars.String).unique()).collect()[name].to_list()
    return tuple(sorted({cell.strip() for cell in cells if cell and cell.strip()}))


def _names(names: Iterable[str]) -> Names:
    return np.array(list(names), object)


def _spans(spans: Iterable[Span]) -> Spans:
    return Spans.of((_us(span.start_s), _us(span.end_s)) for span in spans)


def _us(time_s: float) -> int:
    return round(time_s * 1e6)
