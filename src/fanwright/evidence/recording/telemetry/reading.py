"""Read a file of telemetry: open it, find its columns, put its rows in order, count what was odd."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanwright.errors import FileError
from fanwright.evidence.recording.codes import Packets
from fanwright.evidence.recording.intake import Border, Columns, Tally
from fanwright.evidence.recording.loops.frames import GAP_US
from fanwright.evidence.recording.quiet import guarded
from fanwright.evidence.recording.result import ReadFile
from fanwright.evidence.recording.signals import STANDARD
from fanwright.evidence.recording.source import Source
from fanwright.evidence.recording.telemetry.columns import Layout, find_columns
from fanwright.evidence.recording.telemetry.parsing import no_rows
from fanwright.evidence.recording.telemetry.roles import ROLES, Naming
from fanwright.evidence.recording.telemetry.samples import (
    Oddities,
    Samples,
    check_step,
    load,
    samples_of,
)
from fanwright.evidence.recording.telemetry.table import Table, open_table
from fanwright.evidence.recording.told import FAN_GAP_US, Told, held
from fanwright.evidence.recording.traffic import Series, Traffic
from fanwright.words import Message, count, text

MOST_SHOWN = 6


@dataclass(frozen=True, eq=False)
class Sampled:
    """A file of telemetry that was read.

    Args:
        file: What was read and counted.
        parts: Its rows, in parts where the clock was set.
        borders: Gaps and steps of the clock.
        oddities: What was odd.
        vehicle_numbers: Vehicle numbers in it; never shown, only compared.
        units: The unit it is of, where it says so.
        cut: Whether a packed file ended early.
    """

    file: ReadFile
    parts: tuple[Samples, ...]
    borders: tuple[Border, ...]
    oddities: Oddities
    vehicle_numbers: tuple[str, ...]
    units: tuple[str, ...]
    cut: bool

    def notes(self) -> Iterator[Message]:
        """Say what was odd."""
        odd, file = self.oddities, {"file": text(self.file.place)}
        gaps = sum(border.after_us > border.before_us for border in self.borders)
        counted = (
            (odd.unread, "{file}: {many} rows have no time that can be read and are left out"),
            (odd.glitches, "{file}: {many} rows have a time that fits nowhere and are left out"),
            (odd.repeated, "{file}: {many} rows repeat the time of another and are left out"),
            (odd.sorted_rows, "{file}: {many} rows were out of order and were sorted by time"),
            (len(self.parts) - 1, "{file}: the clock was set {many} times; before and after are kept apart"),
            (gaps, "{file}: {many} gaps of more than 10 s without any row"),
            (odd.odd_steps, "{file}: {many} steps of over 3 s between rows, over which nothing is known"),
            (
                odd.disagree,
                "{file}: in {many} rows two columns differ on what the fan is told; the first counts",
            ),
            (odd.without_command, "{file}: {many} rows do not say what the fan is told"),
        )
        for many, template in counted:
            if many:
                yield Message(template, {**file, "many": count(many)})
        for cells, template in (
            (odd.unread_cells, "{file}: {many} cells of {column} cannot be read and count as empty"),
            (odd.out_of_range, "{file}: {many} values of {column} cannot be and count as empty"),
        ):
            for role, many in (cells or {}).items():
                yield Message(template, {**file, "many": count(many), "column": text(role)})
        if self.cut:
            yield Message("{file}: the packed file ends early or is damaged; what came before is read", file)


def read_telemetry(source: Source, naming: Naming | None = None, *, fingerprint: bool = True) -> Sampled:
    """Read a file of telemetry of one truck.

    Args:
        source: The file.
        naming: What the shop's tables call things.
        fingerprint: Whether the file is hashed.

    Raises:
        FileError: It cannot be read, holds several trucks, or its rows are too far apart.
    """
    naming = naming or Naming()
    place = str(source.path)
    table = open_table(source, naming)
    layout = columns_of(table, naming, place)
    roles = [role for role in layout.columns if role not in ("time", "unit", "vin")]
    numbers, units = one_truck(table.frame, layout, naming, place)
    loaded, clock, of_day, unread = load(table.frame, layout, roles, naming, place, comma=table.comma)
    parts, oddities = samples_of(loaded, layout, of_day=of_day)
    if not parts:
        raise no_rows(place)
    check_step(max((part.time_us for part in parts), key=len), place)
    oddities = replace(oddities, unread_cells=unread, out_of_range=_out_of_range(parts))
    digest = source.sha256() if fingerprint else ""
    if source.progress is not None:
        size = source.path.stat().st_size
        source.progress(size, size)
    file = ReadFile(place, table.format, clock, digest, _tally(parts, oddities))
    return Sampled(file, tuple(parts), tuple(_borders(parts)), oddities, numbers, units, source.cut)


def columns_of(table: Table, naming: Naming, place: str) -> Layout:
    """Find the wanted columns of an opened table.

    Raises:
        FileError: Every mistake of its header.
    """
    return find_columns(table.header, naming, place)


def one_truck(
    frame: Any, layout: Layout, naming: Naming, place: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """See that a table speaks of one truck; give its vehicle numbers and its unit.

    Raises:
        FileError: It speaks of several, or not of the one that is wanted.
    """
    import polars

    wanted = [
        polars.col(layout[role].name).cast(polars.String).unique().implode().alias(role)
        for role in ("unit", "vin")
        if role in layout
    ]
    if not wanted:
        return (), ()
    if naming.unit and "unit" in layout:
        _check_unit(frame, layout, naming.unit, place)
        frame = frame.filter(polars.col(layout["unit"].name).cast(polars.String) == naming.unit)
    found = {
        role: sorted(filter(None, cells[0]))
        for role, cells in guarded(frame.select(wanted).collect, place).to_dict(as_series=False).items()
    }
    units, numbers = found.get("unit", []), found.get("vin", [])
    if len(units) > 1:
        raise FileError(
            Message(
                "{file} holds {many} trucks: {units}; say which one is read with --unit",
                {"file": text(place), "many": count(len(units)), "units": text(_some(units))},
            )
        )
    if len(numbers) > 1:
        raise FileError(
            Message(
                "{file} holds {many} trucks by their vehicle numbers; a file of one truck is wanted",
                {"file": text(place), "many": count(len(numbers))},
            )
        )
    return tuple(number.strip().upper() for number in numbers), tuple(units)


def _check_unit(frame: Any, layout: Layout, unit: str, place: str) -> None:
    import polars

    column = polars.col(layout["unit"].name).cast(polars.String)
    units = sorted(filter(None, guarded(frame.select(column.unique()).collect, place)[layout["unit"].name]))
    if unit not in units:
        raise FileError(
            Message(
                "{file} holds no unit {unit}; there are {units}",
                {"file": text(place), "unit": text(unit), "units": text(_some(units))},
            )
        )


def _some(names: list[str]) -> str:
    shown = names[:MOST_SHOWN]
    return ", ".join(shown + (["..."] if len(names) > len(shown) else []))


def _out_of_range(parts: list[Samples]) -> dict[str, int]:
    found: dict[str, int] = {}
    for part in parts:
        for role, value in part.values.items():
            given = int(np.count_nonzero(~np.isnan(value)))
            many = given - int(np.count_nonzero(~np.isnan(part.si(role))))
            if many:
                found[role] = found.get(role, 0) + many
    return found


def _tally(parts: list[Samples], odd: Oddities) -> Tally:
    return Tally(
        frames=odd.rows - odd.unread,
        frames_used=sum(len(part.time_us) for part in parts),
        error_frames=0,
        lines_unread=odd.unread,
        short_identifier=0,
        remote=0,
        long_data=0,
        sent=0,
        disorder=odd.sorted_rows,
        left_out=odd.repeated,
        glitches=odd.glitches,
        first_us=min(int(part.time_us[0]) for part in parts),
        last_us=max(int(part.time_us[-1]) for part in parts),
    )


def _borders(parts: list[Samples]) -> Iterator[Border]:
    row = 0
    for number, part in enumerate(parts):
        if number:
            yield Border(row, int(parts[number - 1].time_us[-1]), int(part.time_us[0]))
        for at in np.flatnonzero(np.diff(part.time_us) > GAP_US):
            yield Border(row + int(at) + 1, int(part.time_us[at]), int(part.time_us[at + 1]))
        row += len(part.time_us)


def traffic_of(part: Samples) -> Traffic:
    """Give the signals of rows as those of frames are given."""
    series: dict[str, Series] = {}
    for role in part.values:
        if ROLES[role].key in STANDARD.signals:
            value = part.si(role)
            known = ~np.isnan(value)
            if known.any():
                series[role] = Series(part.time_us[known], value[known], 0)
    return Traffic(Columns.none(), STANDARD, series)


def told_of(part: Samples) -> Told:
    """Give what rows say of the fan and the engine."""
    return Told(
        held(part.time_us, part.code.astype(np.int64), FAN_GAP_US),
        held(part.time_us, part.engine_on.astype(np.int64), FAN_GAP_US),
        0,
        None,
        len(part.time_us),
    )


def packets_of(one: Sampled) -> Packets:
    """Give what frames would have brought in several packets: the vehicle's number."""
    return Packets(np.zeros((0, 3), np.int64), one.vehicle_numbers, 0)
