"""What one recording says as tables by month, and back again."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from fanwright.fleet.joining import joined
from fanwright.fleet.model import RUN_NUMBERS, Days, FileDuty, Runs
from fanwright.fleet.spans import DAY_US, Moments, Spans, behind
from fanwright.laws.fan import fuel_m3

if TYPE_CHECKING:
    import polars

NO_MONTH = "unknown"
"""Month of a recording whose clock tells no date."""
KINDS = ("runs", "stretches", "days")
ENGINE_ON, FAN_KNOWN, TOLD_ON = "engine_on", "fan_known", "told_on"


def months_of(start_us: Moments, clock: str) -> list[str]:
    """Give the month of each moment.

    Example:
        >>> months_of(np.array([0, 40 * DAY_US]), "absolute")
        ['1970-01', '1970-02']
    """
    if clock == "relative":
        return [NO_MONTH] * len(start_us)
    return [str(month) for month in start_us.astype("datetime64[us]").astype("datetime64[M]")]


def tables_of(duty: FileDuty, energies: bool) -> dict[tuple[str, str], polars.DataFrame]:
    """Give the tables of a recording, by kind and month; a stretch belongs to the month it begins in.

    Args:
        duty: The recording.
        energies: Whether heat, work and fuel are worked out.
    """
    found: dict[tuple[str, str], polars.DataFrame] = {}
    for kind, table, start_us in (
        ("runs", _runs(duty), duty.runs.spans.start_us),
        ("stretches", *_stretches(duty)),
        ("days", *_days(duty, energies)),
    ):
        months = np.array(months_of(start_us, duty.clock), object)
        for month in dict.fromkeys(months.tolist()):
            found[kind, month] = table.filter(polars_flags(months == month))
    return found


def polars_flags(flags: Any) -> Any:
    """Turn flags into a column to filter by."""
    import polars

    return polars.Series(flags.astype(np.bool_))


def as_parquet(table: polars.DataFrame) -> bytes:
    """Write a table as Parquet."""
    out = io.BytesIO()
    table.write_parquet(out, compression="zstd", statistics=False)
    return out.getvalue()


def _moments(name: str, us: Moments) -> Any:
    import polars

    return polars.Series(name, us).cast(polars.Datetime("us"))


def _runs(duty: FileDuty) -> polars.DataFrame:
    import polars

    runs = duty.runs
    return polars.DataFrame(
        [
            _moments("start", runs.spans.start_us),
            _moments("end", runs.spans.end_us),
            polars.Series("clock", [duty.clock] * len(runs), polars.String),
            polars.Series("reason", runs.reason.tolist(), polars.String),
            polars.Series("open_start", runs.open_start),
            polars.Series("open_end", runs.open_end),
            polars.Series("duration_s", (runs.spans.end_us - runs.spans.start_us) / 1e6),
            *(polars.Series(name, runs.numbers[name]).fill_nan(None) for name in RUN_NUMBERS),
        ]
    )


def _stretches(duty: FileDuty) -> tuple[polars.DataFrame, Moments]:
    import polars

    parts = ((ENGINE_ON, duty.engine_on), (FAN_KNOWN, duty.known), (TOLD_ON, duty.told_on))
    start = np.concatenate([part.start_us for _, part in parts])
    what = [name for name, part in parts for _ in range(len(part))]
    blank = [""] * (len(duty.engine_on) + len(duty.known))
    table = polars.DataFrame(
        [
            _moments("start", start),
            _moments("end", np.concatenate([part.end_us for _, part in parts])),
            polars.Series("what", what, polars.String),
            polars.Series("reason", blank + [str(name) for name in duty.told_for], polars.String),
        ]
    )
    return table, start


def _days(duty: FileDuty, energies: bool) -> tuple[polars.DataFrame, Moments]:
    import polars

    days = joined([duty])
    fuel = [1e3 * fuel_m3(float(work)) for work in days.slip_energy_j + days.fan_energy_j]
    columns = {
        "engine_on_s": days.engine_on_s,
        "fan_known_s": days.fan_known_s,
        "fan_on_s": days.fan_on_s,
        "grips": days.grips.astype(np.int64),
        "slip_energy_mj": days.slip_energy_j / 1e6,
        "fan_energy_mj": days.fan_energy_j / 1e6,
        "fuel_l": np.array(fuel, np.float64),
    }
    known = {name for name in columns if energies or not name.endswith(("_mj", "_l"))}
    table = polars.DataFrame(
        [polars.Series("date", days.day.astype(np.int32)).cast(polars.Date)]
        + [
            polars.Series(name, values if name in known else [None] * len(values), _kind(values))
            for name, values in columns.items()
        ]
    )
    return table, days.day * DAY_US


def _kind(values: Any) -> Any:
    import polars

    return polars.Int64 if values.dtype == np.int64 else polars.Float64


def duty_from(
    runs: Iterable[polars.DataFrame], stretches: Iterable[polars.DataFrame], clock: str, key: str
) -> FileDuty:
    """Build a recording again from its tables of all months.

    Args:
        runs: Its tables of runs.
        stretches: Its tables of stretches.
        clock: The kind of its clock.
        key: What it is known by.
    """
    tables = list(stretches)
    parts = {
        name: [table.filter(table["what"] == name) for table in tables]
        for name in (ENGINE_ON, FAN_KNOWN, TOLD_ON)
    }
    return FileDuty(
        clock,
        _in_order([_spans(part) for part in parts[ENGINE_ON]]),
        _in_order([_spans(part) for part in parts[FAN_KNOWN]]),
        behind([_spans(part) for part in parts[TOLD_ON]]),
        np.concatenate([np.empty(0, object), *(part["reason"].to_numpy() for part in parts[TOLD_ON])]),
        _runs_from(list(runs)),
        key,
    )


def _spans(table: polars.DataFrame) -> Spans:
    return Spans(*(table[name].to_physical().to_numpy() for name in ("start", "end")))


def _in_order(parts: list[Spans]) -> Spans:
    whole = behind(parts)
    return whole.where(np.argsort(whole.start_us, kind="stable"))


def _runs_from(tables: list[polars.DataFrame]) -> Runs:
    def column(name: str, kind: Any) -> Any:
        found = [table[name].fill_null(float("nan")) if kind is float else table[name] for table in tables]
        return np.concatenate([np.empty(0, kind), *(one.to_numpy() for one in found)]).astype(kind)

    return Runs(
        behind([_spans(table) for table in tables]),
        column("reason", object),
        column("open_start", np.bool_),
        column("open_end", np.bool_),
        {name: column(name, float) for name in RUN_NUMBERS},
    )


def sums_of(days: Days, energies: bool) -> Mapping[str, Any]:
    """Give a recording's sums for its line in the list of what was read; None where not known."""
    work = float(days.slip_energy_j.sum() + days.fan_energy_j.sum())
    return {
        "engine_on_s": round(float(days.engine_on_s.sum()), 6),
        "fan_known_s": round(float(days.fan_known_s.sum()), 6),
        "fan_on_s": round(float(days.fan_on_s.sum()), 6),
        "grips": int(days.grips.sum()),
        "fuel_l": round(1e3 * fuel_m3(work), 6) if energies else None,
    }


def date_of(day: int) -> dt.date:
    """Give the date of a day counted from 1970-01-01.

    Example:
        >>> date_of(20_557).isoformat()
        '2026-04-14'
    """
    return dt.date(1970, 1, 1) + dt.timedelta(days=day)
