"""Runs and sums of telemetry, columns at a time: what fleets ask of months of rows a second.

The same rules as everywhere (``told.py``), for one truck. What the fan is told and the engine speed are read
first, whole; every other column only where a run begins, lasts or ends.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.recording.energy import DriveFigures, fan_power_w, ratio_of, slip_energies_j
from fanwright.evidence.recording.signals import RPM, STATES, UNKNOWN
from fanwright.evidence.recording.telemetry.columns import Layout, find_columns
from fanwright.evidence.recording.telemetry.parsing import no_rows
from fanwright.evidence.recording.telemetry.roles import Naming
from fanwright.evidence.recording.telemetry.samples import (
    COMMANDS,
    Oddities,
    Samples,
    check_step,
    load,
    numbers,
    samples_of,
)
from fanwright.evidence.recording.told import BY_PERCENT, FAN_GAP_US, NOT_KNOWN, OFF, Block
from fanwright.evidence.recording.traffic import Series

NEAR_US = 3_000_000
ENGINE_OFF = -2
AIR = ("air_supply", "air_service_1", "air_service_2")
AT_BOTH_ENDS = ("coolant", "charge_air")
AT_START = ("ambient", "road_speed")
AIR_DENSITY = ("barometer", "ambient")
BLOCK_ROWS = 1 << 16
MOSTLY = 0.5
"""Where more than this share of a table is needed, it is read in one go."""

Floats = NDArray[np.float64]
Times = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class RunColumns:
    """Runs and stretches of one truck, an array each.

    Args:
        start_us: Start of each run [us].
        end_us: Its end [us].
        code: The state it began for; 15 where no reason is known.
        open_start: Whether its true beginning is not seen.
        open_end: Whether its true end is not seen.
        columns: More of each run in SI by name, as in ``exhibit.Run``; NaN where not known.
        stretch_start_us: Start of each stretch of one code, runs or not [us].
        stretch_end_us: Its end [us].
        stretch_code: -2 engine not on, -1 fan not known, 0 told off, 1 to 15 told on, with the engine on.
        clock: Kind of the clock.
        oddities: What was odd.
    """

    start_us: Times
    end_us: Times
    code: NDArray[np.int8]
    open_start: NDArray[np.bool_]
    open_end: NDArray[np.bool_]
    columns: Mapping[str, Floats]
    stretch_start_us: Times
    stretch_end_us: Times
    stretch_code: NDArray[np.int8]
    clock: str
    oddities: Oddities

    def _sum_s(self, chosen: NDArray[np.bool_]) -> float:
        return float((self.stretch_end_us - self.stretch_start_us)[chosen].sum()) / 1e6

    @property
    def engine_on_s(self) -> float:
        """Time with the engine on [s]."""
        return self._sum_s(self.stretch_code > ENGINE_OFF)

    @property
    def fan_known_s(self) -> float:
        """Time in which told on or off is known, with the engine on [s]."""
        return self._sum_s(self.stretch_code > NOT_KNOWN)

    @property
    def fan_on_s(self) -> float:
        """Time told on with the engine on [s]."""
        return self._sum_s(self.stretch_code > OFF)

    def reasons(self) -> list[str]:
        """Give the reason of each run."""
        return [STATES.get(code) or UNKNOWN for code in self.code.tolist()]

    def time_by_reason_s(self) -> dict[str, float]:
        """Give the time told on for each reason [s]."""
        on = self.stretch_code > OFF
        length = (self.stretch_end_us - self.stretch_start_us)[on] / 1e6
        sums = np.bincount(self.stretch_code[on], length, BY_PERCENT + 1)
        found: dict[str, float] = {}
        for code in np.flatnonzero(np.bincount(self.stretch_code[on], minlength=BY_PERCENT + 1)).tolist():
            reason = STATES.get(code) or UNKNOWN
            found[reason] = found.get(reason, 0.0) + float(sums[code])
        return found


def runs_of(
    source: Any,
    *,
    naming: Naming | None = None,
    figures: DriveFigures | None = None,
    more: Sequence[str] = (*AT_BOTH_ENDS, *AT_START, *AIR),
    place: str = "",
    comma: bool = False,
) -> RunColumns:
    """Find the runs in the telemetry of one truck.

    Args:
        source: A polars table, lazy or not, or arrays by the name of the column; names say what and in which
            unit, as in a file.
        naming: What the shop's tables call things; its ``unit`` chooses one truck.
        figures: The drive's figures, for the heat of each grip and the work of the fan, or None.
        more: What else is wanted of each run, as far as the table has it.
        place: Name of the file, for messages.
        comma: Whether decimals in text are set off by a comma.

    Raises:
        FileError: Every mistake of the columns, or rows too far apart.

    Example:
        >>> rows = {"time [s]": range(6), "fan state": [0, 4, 4, 0, 0, 0], "engine [rpm]": [900] * 6}
        >>> found = runs_of(rows)
        >>> found.fan_on_s, found.reasons()
        (2.0, ['coolant'])
    """
    naming = naming or Naming()
    frame = lazy(source)
    layout = find_columns(tuple(frame.collect_schema()), naming, place)
    first = [role for role in (*COMMANDS, "engine_speed") if role in layout]
    table, clock, of_day, _ = load(frame, layout, first, naming, place, comma=comma)
    parts, oddities = samples_of(table, layout, of_day=of_day)
    if not parts:
        raise no_rows(place)
    check_step(max((part.time_us for part in parts), key=len), place)
    asked = (*more, *(AIR_DENSITY if figures is not None else ()))
    wanted = [role for role in dict.fromkeys(asked) if role in layout]
    plain = len(parts) == 1 and len(parts[0].time_us) == oddities.rows and not oddities.sorted_rows
    if not plain and wanted:
        table, clock, of_day, _ = load(frame, layout, [*first, *wanted], naming, place, comma=comma)
        parts, oddities = samples_of(table, layout, of_day=of_day)
    found = [_Found(part) for part in parts]
    later = _Later(frame, layout, wanted, naming, place, comma) if plain else None
    return _joined(found, [_columns(one, later, wanted, figures) for one in found], clock, oddities)


def _joined(
    found: Sequence[_Found], columns: Sequence[Mapping[str, Floats]], clock: str, oddities: Oddities
) -> RunColumns:
    def joined(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(one, name) for one in found])

    return RunColumns(
        joined("start_us"),
        joined("end_us"),
        joined("code"),
        joined("open_start"),
        joined("open_end"),
        {name: np.concatenate([one[name] for one in columns]) for name in columns[0]},
        joined("stretch_start_us"),
        joined("stretch_end_us"),
        joined("stretch_code"),
        clock,
        oddities,
    )


def lazy(source: Any) -> Any:
    """Give a lazy polars table for a table or for arrays by name."""
    import polars

    if isinstance(source, polars.LazyFrame):
        return source
    return polars.LazyFrame(dict(source)) if isinstance(source, Mapping) else source.lazy()


class _Found:
    """Stretches and runs of rows in order."""

    def __init__(self, part: Samples) -> None:
        self.part = part
        time, fan = part.time_us, part.code
        code = np.where(part.engine_on, fan, np.int8(ENGINE_OFF))
        changed = code[1:] != code[:-1]
        changed[part.gaps - 1] = True
        first = np.append(0, np.flatnonzero(changed) + 1)
        self.first, self.last = first, np.append(first[1:], len(time)) - 1
        follows = np.append(~np.isin(first[1:], part.gaps), False)
        behind = np.where(follows, np.append(first[1:], 0), self.last)
        self.stretch_start_us, self.stretch_end_us = time[first], time[behind]
        self.stretch_code = code[first]
        self._runs(follows, behind, fan)

    def _runs(self, follows: NDArray[np.bool_], behind: Times, fan: NDArray[np.int8]) -> None:
        """Join stretches told on that follow each other to runs."""
        on = self.stretch_code > OFF
        linked = on[:-1] & on[1:] & follows[:-1]
        begin = np.flatnonzero(on & ~np.append(False, linked))
        end = np.flatnonzero(on & ~np.append(linked, False))
        start, after = self.first[begin], behind[end]
        before = np.maximum(start - 1, 0)
        near = np.where(start > 0, self.part.time_us[start] - self.part.time_us[before], FAN_GAP_US + 1)
        earlier = np.where(near <= FAN_GAP_US, fan[before], NOT_KNOWN)
        # A single row at the very end of a longer stretch told on, the engine just come on, lasts no time.
        real = (after > start) | (earlier <= OFF)
        begin, end, start, after, earlier = (one[real] for one in (begin, end, start, after, earlier))
        self.start_row, self.end_row = start, after
        self.start_us, self.end_us = self.part.time_us[start], self.part.time_us[after]
        self.open_start = earlier != OFF
        self.open_end = ~follows[end] | (fan[after] != OFF)
        self.code = self._first_known(begin, end)

    def _first_known(self, begin: Times, end: Times) -> NDArray[np.int8]:
        code: NDArray[np.int8] = self.stretch_code[begin]
        for run in np.flatnonzero(code == BY_PERCENT).tolist():
            said = self.stretch_code[begin[run] : end[run] + 1]
            known = said[said != BY_PERCENT]
            code[run] = known[0] if len(known) else BY_PERCENT
        return code


class _Later:
    """Reads further columns of a table in the blocks of rows that are asked for."""

    def __init__(
        self, frame: Any, layout: Layout, roles: Sequence[str], naming: Naming, place: str, comma: bool
    ) -> None:
        self.frame, self.layout, self.roles = frame, layout, roles
        self.naming, self.place, self.comma = naming, place, comma

    def fill(self, part: Samples, first: Times, last: Times) -> Samples:
        """Give the rows with further columns, read near the rows from first to last."""
        rows = len(part.time_us)
        blocks = np.zeros(rows // BLOCK_ROWS + 2, np.int64)
        np.add.at(blocks, np.maximum(first - 4, 0) // BLOCK_ROWS, 1)
        np.add.at(blocks, np.minimum(last + 4, rows - 1) // BLOCK_ROWS + 1, -1)
        needed = np.cumsum(blocks)[:-1] > 0
        if needed.mean() > MOSTLY:
            needed[:] = True
        edges = np.flatnonzero(np.diff(np.concatenate([[0], needed.astype(np.int8), [0]])))
        values: dict[str, Any] = {}
        for low, high in edges.reshape(-1, 2).tolist():
            begin, end = low * BLOCK_ROWS, min(high * BLOCK_ROWS, rows)
            whole = begin == 0 and end == rows
            frame = self.frame if whole else self.frame.slice(begin, end - begin)
            table, *_ = load(
                frame, self.layout, self.roles, self.naming, self.place, comma=self.comma, timed=False
            )
            for role in self.roles:
                if whole:
                    values[role] = table[role]
                    continue
                column = numbers(table[role])
                if role not in values:
                    values[role] = np.full(rows, np.nan, np.float64)
                values[role][begin:end] = column
        for role in self.roles:
            if role not in values:
                values[role] = np.full(rows, np.nan)
        return replace(part, values={**part.values, **values})


def _columns(
    found: _Found, later: _Later | None, wanted: Sequence[str], figures: DriveFigures | None
) -> dict[str, Floats]:
    part, start, end = found.part, found.start_row, found.end_row
    if later is not None and wanted:
        part = later.fill(part, start, end)
    columns = {"grip_rpm": part.si("engine_speed", start) / RPM}
    for role in wanted:
        if role in AT_BOTH_ENDS:
            columns[role + "_on_k"] = _at(part, role, start, found.start_us)
            columns[role + "_off_k"] = _at(part, role, end, found.end_us)
        elif role in AT_START:
            name = "road_speed_m_s" if role == "road_speed" else role + "_k"
            columns[name] = _at(part, role, start, found.start_us)
    air = [_lowest(part, role, start, end) for role in wanted if role in AIR]
    if air:
        columns["lowest_air_gauge_pa"] = np.fmin.reduce(air)
    if figures is not None:
        density = _density(part) or 1.0
        columns["slip_energy_j"] = _slip_energies_j(found, figures, columns["grip_rpm"], density)
        columns["fan_energy_j"] = _fan_energies_j(part, figures, density, start, end)
    return columns


def _density(part: Samples) -> float | None:
    if not all(role in part.values for role in AIR_DENSITY):
        return None
    barometer, ambient = (part.si(role) for role in AIR_DENSITY)
    return ratio_of(barometer[~np.isnan(barometer)], ambient[~np.isnan(ambient)])


def _slip_energies_j(found: _Found, figures: DriveFigures, grip_rpm: Floats, density: float) -> Floats:
    ends = zip(found.start_us.tolist(), found.end_us.tolist(), strict=True)
    blocks = [Block(start, end, start, end, True, True, ()) for start, end in ends]
    grips = [None if math.isnan(rpm) else rpm for rpm in grip_rpm.tolist()]
    heat = slip_energies_j(figures, blocks, grips, density)
    return np.array([math.nan if one is None else one for one in heat], np.float64)


def _fan_energies_j(part: Samples, figures: DriveFigures, density: float, start: Times, end: Times) -> Floats:
    """Give the work of the fan in each run, by trapezoids from row to row."""
    if not len(start):
        return np.empty(0)
    rows, first = _inside(start, end)
    engine = part.si("engine_speed", rows)
    before = part.si("engine_speed", np.maximum(rows - 1, 0))
    power_w = fan_power_w(figures, np.where(np.isnan(engine), before, engine), density)
    step_s = np.diff(part.time_us[rows], prepend=part.time_us[rows[0]]) / 1e6
    work = 0.5 * (power_w + np.append(power_w[:1], power_w[:-1])) * step_s
    work[first] = 0.0
    return np.asarray(np.add.reduceat(work, first), np.float64)


def _inside(start: Times, end: Times) -> tuple[Times, Times]:
    """Give all rows from each start to its end, and where each begins among them."""
    length = end - start + 1
    first = np.cumsum(length) - length
    return np.arange(length.sum()) + np.repeat(start - first, length), first


def _at(part: Samples, role: str, rows: Times, moments_us: Times) -> Floats:
    """Give a value where it is in the row, else the last of 3 s before, else the first of 3 s after."""
    value = part.si(role, rows)
    empty = np.flatnonzero(np.isnan(value))
    if len(empty):
        every = part.si(role)
        known = ~np.isnan(every)
        value[empty] = Series(part.time_us[known], every[known], 0).at(moments_us[empty], NEAR_US)
    return value


def _lowest(part: Samples, role: str, start: Times, end: Times) -> Floats:
    if not len(start):
        return np.empty(0)
    rows, first = _inside(start, end)
    return np.asarray(np.fmin.reduceat(part.si(role, rows), first), np.float64)
