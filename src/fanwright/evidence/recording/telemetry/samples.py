"""Rows of telemetry in order of time: what the fan was told, whether the engine was on, and what was odd."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import RELATIVE
from fanwright.evidence.recording.loops.frames import GAP_US, WINDOW_US
from fanwright.evidence.recording.quiet import guarded
from fanwright.evidence.recording.telemetry.columns import Layout
from fanwright.evidence.recording.telemetry.parsing import bare, cells, time_of
from fanwright.evidence.recording.telemetry.roles import ROLES, TOLD, WORD, Naming
from fanwright.evidence.recording.told import BY_PERCENT, ENGINE_ON_RAD_S, FAN_GAP_US, NOT_KNOWN, OFF
from fanwright.words import Message, quantity, text

Numbers = NDArray[Any]

DAY_US = 86_400_000_000
MOST_STEPS_BACK = 20
"""Up to so many steps back are a clock that was set; more are rows in no order, which are sorted."""
SLOWEST_STEP_US = 2_000_000
"""Runs of a minute cannot be told well from rows further apart (judgement of the trade)."""
PROBE_STEPS = 20_000
COMMANDS = ("fan_state", "told_on", "fan_percent", "reason")
LONGEST_STEP_US = 366 * DAY_US
"""A longer step forward is a clock that was set at last, and no pause."""


@dataclass(frozen=True)
class Oddities:
    """What was odd in a table, counted.

    Args:
        rows: All rows.
        unread: Rows without a time that can be read.
        repeated: Rows left out because their time is that of a row before.
        sorted_rows: Rows that were out of order.
        odd_steps: Steps of over 3 s and up to 10 s, over which nothing is known.
        disagree: Rows in which two columns differ on what the fan is told.
        out_of_range: Values that cannot be, by role.
        unread_cells: Cells that hold something that is no value, by role.
        without_command: Rows that do not say what the fan is told.
        glitches: Rows left out because their time fits nowhere.
    """

    rows: int = 0
    unread: int = 0
    repeated: int = 0
    sorted_rows: int = 0
    odd_steps: int = 0
    disagree: int = 0
    out_of_range: Mapping[str, int] | None = None
    unread_cells: Mapping[str, int] | None = None
    without_command: int = 0
    glitches: int = 0


@dataclass(frozen=True, eq=False)
class Samples:
    """Rows in order of time, no time twice.

    Args:
        time_us: Time stamps [us].
        code: What the fan is told: -1 not known, 0 off, 1 to 14 the state, 15 on for an unknown reason.
        engine_on: Whether the engine is known to turn at 400 r/min or more.
        values: Columns by role in the table's own unit; NaN or nothing where there is no value.
        layout: Names and units of the columns.
        gaps: Rows that come more than 3 s after the row before.
    """

    time_us: NDArray[np.int64]
    code: NDArray[np.int8]
    engine_on: NDArray[np.bool_]
    values: Mapping[str, Numbers]
    layout: Layout
    gaps: NDArray[np.int64]

    def rows(self, chosen: Any) -> Samples:
        """Give some of the rows."""
        return replace(
            self,
            time_us=self.time_us[chosen],
            code=self.code[chosen],
            engine_on=self.engine_on[chosen],
            values={role: column[chosen] for role, column in self.values.items()},
            gaps=gaps_of(np.diff(self.time_us[chosen])),
        )

    def joined(self, other: Samples) -> Samples:
        """Give these rows and others of the same columns in order of time."""
        time = np.concatenate([self.time_us, other.time_us])
        order = np.argsort(time, kind="stable")
        time = time[order]
        return replace(
            self,
            time_us=time,
            code=np.concatenate([self.code, other.code])[order],
            engine_on=np.concatenate([self.engine_on, other.engine_on])[order],
            values={
                role: np.concatenate([column, other.values[role]])[order]
                for role, column in self.values.items()
            },
            gaps=gaps_of(np.diff(time)),
        )

    def si(self, role: str, chosen: Any = slice(None)) -> NDArray[np.float64]:
        """Give a column in SI, NaN where there is no value or none that can be."""
        column = self.layout[role]
        value = picked(self.values[role], chosen).astype(np.float64)
        low, high = column.bounds()
        good = (value >= low - 1e-9 * abs(low)) & (value <= high + 1e-9 * abs(high))
        return np.where(good, (value + column.offset) * column.factor, np.nan)


def gaps_of(step: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give the rows behind steps of more than 3 s."""
    if not len(step) or step.max() <= FAN_GAP_US:
        return np.empty(0, np.int64)
    return np.flatnonzero(step > FAN_GAP_US) + 1


def load(
    frame: Any,
    layout: Layout,
    roles: Sequence[str],
    naming: Naming,
    place: str,
    *,
    comma: bool = False,
    timed: bool = True,
) -> tuple[Any, str, bool, dict[str, int]]:
    """Read columns of a table as they are wanted here, named by their roles.

    Args:
        frame: The table, lazy.
        layout: Its columns.
        roles: Which of them.
        naming: The shop's own words.
        place: Name of the file, for messages.
        comma: Whether decimals are set off by a comma.
        timed: Whether the time is read too.

    Returns:
        The table, the kind of its clock, whether times are of a day, and cells that cannot be read by role.
    """
    import polars

    schema = frame.collect_schema()
    wanted, counts = [], []
    clock, of_day = RELATIVE, False
    if timed:
        time, clock, of_day = time_of(frame, layout, place, comma=comma)
        wanted.append(time.alias("time"))
    for role in roles:
        column = layout[role]
        kind = schema[column.name]
        read = cells(column, kind, naming, comma=comma)
        wanted.append(read.alias(role))
        if kind == polars.String and not (ROLES[role].kind == WORD and role != "reason"):
            counts.append((role, polars.col(column.name)))
    if naming.unit and "unit" in layout:
        frame = frame.filter(polars.col(layout["unit"].name).cast(polars.String) == naming.unit)
    unread: dict[str, int] = {}
    if counts:
        wanted += [bare(cell).is_not_null().alias("given_" + role) for role, cell in counts]
    table = guarded(lambda: frame.select(wanted).collect(), place)
    for role, _ in counts:
        many = int((table["given_" + role] & table[role].is_null()).sum())
        if many:
            unread[role] = many
    return table, clock, of_day, unread


def numbers(series: Any) -> Numbers:
    """Give a column as an array; numbers with holes become floats with NaN."""
    import polars

    if series.dtype == polars.Boolean:
        series = series.cast(polars.Int8)
    if series.null_count() and series.dtype.is_integer():
        series = series.cast(
            polars.Float32 if series.dtype in (polars.Int8, polars.Int16) else polars.Float64
        )
    found: Numbers = series.to_numpy()
    return found


def picked(column: Any, chosen: Any) -> Numbers:
    """Give some rows of a column, be it an array or a polars column that was not turned into one."""
    if isinstance(column, np.ndarray):
        found: Numbers = column[chosen]
        return found
    return numbers(column if isinstance(chosen, slice) else column[chosen])


def samples_of(table: Any, layout: Layout, *, of_day: bool = False) -> tuple[list[Samples], Oddities]:
    """Turn a loaded table into rows in order of time, in parts where the clock is set.

    Args:
        table: As ``load`` gives it.
        layout: Its columns.
        of_day: Whether times are of a day, so that they begin anew at midnight.
    """
    rows = table.height
    if table["time"].null_count():
        table = table.filter(table["time"].is_not_null())
    code, disagree = commands(table, layout)
    time = numbers(table["time"])
    if of_day and len(time):
        time = time + DAY_US * np.append(0, np.cumsum(np.diff(time) < -DAY_US // 2))
    values = {role: numbers(table[role]) for role in table.columns if _is_value(role)}
    step = np.diff(time)
    on = engine_on(values["engine_speed"], layout)
    whole = Samples(time, code, on, values, layout, gaps_of(step))
    parts, counted = _in_order(whole, step) if len(time) else ([], Oddities())
    without = int(np.count_nonzero(code == NOT_KNOWN))
    return parts, replace(
        counted, rows=rows, unread=rows - len(time), disagree=disagree, without_command=without
    )


def _is_value(role: str) -> bool:
    return role in ROLES and role not in ("time", *COMMANDS[:2]) and ROLES[role].kind != WORD


def engine_on(engine: Numbers, layout: Layout) -> NDArray[np.bool_]:
    """Say in which rows the engine is known to turn at 400 r/min or more."""
    column = layout["engine_speed"]
    least = ENGINE_ON_RAD_S * (1.0 - 1e-7) / column.factor - column.offset
    most = column.bounds()[1] * (1.0 + 1e-7)
    on: NDArray[np.bool_] = (engine >= least) & (engine <= most)
    return on


def commands(table: Any, layout: Layout) -> tuple[NDArray[np.int8], int]:
    """Give what each row says the fan is told, and in how many rows two columns differ on it.

    The state counts first, then the flag, then the percentage; a percentage under half beside a state that is
    not known is no «off». A reason names what a flag or a percentage leaves open.
    """
    said = [_codes(table, role, layout) for role in TOLD if role in table.columns]
    code = said[0]
    if "fan_percent" in table.columns and "fan_state" in table.columns and (code != NOT_KNOWN).any():
        said[-1] = np.where(said[-1] == OFF, NOT_KNOWN, said[-1])
    disagree = 0
    for other in said[1:]:
        both = (code != NOT_KNOWN) & (other != NOT_KNOWN)
        disagree += int(np.count_nonzero(both & ((code > OFF) != (other > OFF))))
        code = np.where(code == NOT_KNOWN, other, code)
    if "reason" in table.columns:
        reason = _codes(table, "reason", layout)
        code = np.where((code == BY_PERCENT) & (reason > OFF), reason, code)
    return code, disagree


_STATES = np.array([*range(15), *[NOT_KNOWN] * 241], np.int8)
_FLAGS = np.array([OFF, BY_PERCENT, *[NOT_KNOWN] * 254], np.int8)


def _codes(table: Any, role: str, layout: Layout) -> NDArray[np.int8]:
    column = table[role]
    if role == "fan_percent":
        share = numbers(column)
        low, high = layout[role].bounds()
        half = 0.5 / layout[role].factor
        known = (share >= low) & (share <= high * (1.0 + 1e-9))
        return np.where(known, np.where(share >= half, BY_PERCENT, OFF), NOT_KNOWN).astype(np.int8)
    value = numbers(column)
    if role == "fan_state" and value.dtype == np.uint8 and len(value) and value.max() < 15:
        return value.view(np.int8)
    if value.dtype != np.uint8:
        value = np.where((value >= 0) & (value < 255), value, 255).astype(np.uint8)
    table_of = _FLAGS if role == "told_on" else _STATES
    found: NDArray[np.int8] = table_of[value]
    return found


def _in_order(whole: Samples, step: NDArray[np.int64]) -> tuple[list[Samples], Oddities]:
    """Give the rows in order of time, each time once; cut where the clock is set."""
    glitches = moved = repeated = 0
    cuts: list[int] = []
    if len(step) and (step.min() <= 0 or (len(whole.gaps) and step.max() > LONGEST_STEP_US)):
        whole, glitches = _without_glitches(whole, step)
        step = np.diff(whole.time_us)
        back = np.flatnonzero(step < 0)
        if len(back) > MOST_STEPS_BACK or (step[back] >= -WINDOW_US).any():
            moved = len(back)
            whole = whole.rows(np.argsort(whole.time_us, kind="stable"))
            step = np.diff(whole.time_us)
        repeated = int(np.count_nonzero(step == 0))
        if repeated:
            whole = whole.rows(np.append(True, step != 0))
            step = np.diff(whole.time_us)
        cuts = [int(cut) + 1 for cut in np.flatnonzero((step < 0) | (step > LONGEST_STEP_US))]
    odd = int(np.count_nonzero(step[whole.gaps - 1] <= GAP_US))
    edges = [0, *cuts, len(whole.time_us)]
    parts = [whole]
    if cuts:
        parts = [whole.rows(slice(first, last)) for first, last in pairwise(edges)]
        longer = [part for part in parts if len(part.time_us) > 1]
        if longer:
            glitches += len(parts) - len(longer)
            parts = longer
    return parts, Oddities(repeated=repeated, sorted_rows=moved, odd_steps=odd, glitches=glitches)


def _without_glitches(whole: Samples, step: NDArray[np.int64]) -> tuple[Samples, int]:
    """Drop single rows whose time fits neither the row before nor the row after, which fit each other."""
    strange = (step < 0) | (step > GAP_US)
    here = np.flatnonzero(strange[:-1] & strange[1:]) + 1
    across = whole.time_us[here + 1] - whole.time_us[here - 1]
    alone = here[(across >= 0) & (across <= GAP_US)]
    if not len(alone):
        return whole, 0
    keep = np.ones(len(whole.time_us), np.bool_)
    keep[alone] = False
    return whole.rows(keep), len(alone)


def usual_step_us(time_us: NDArray[np.int64]) -> float:
    """Give the usual step between two rows, from the first of them; 0 with fewer than two [us]."""
    step = np.diff(time_us[:PROBE_STEPS])
    return float(np.median(step)) if len(step) else 0.0


def check_step(time_us: NDArray[np.int64], place: str) -> None:
    """Refuse a table whose rows are too far apart.

    Raises:
        FileError: They are.
    """
    usual = usual_step_us(time_us)
    if usual > SLOWEST_STEP_US:
        raise FileError(
            Message(
                "{file}: its rows are {step} apart; runs can be told from rows at most {most} apart: let it "
                "be exported once a second",
                {
                    "file": text(place),
                    "step": quantity(usual / 1e6, "time"),
                    "most": quantity(SLOWEST_STEP_US / 1e6, "time"),
                },
            )
        )
