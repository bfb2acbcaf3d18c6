"""The run table as rows, CSV and Parquet; column names end in their unit."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable

from fanwright.evidence.recording.exhibit import RecordingExhibit, Run
from fanwright.quantities import dimension

Cell = str | float | bool | None
_KELVIN = 273.15

_MORE: tuple[tuple[str, Callable[[Run], Cell]], ...] = (
    ("duration_s", lambda run: run.duration_s),
    ("duration_sd_s", lambda run: run.duration_sd_s),
    ("grip_rpm", lambda run: run.grip_rpm),
    ("slip_energy_mj", lambda run: _scaled(run.slip_energy_j, "energy")),
    ("fan_energy_mj", lambda run: _scaled(run.fan_energy_j, "energy")),
    ("coolant_on_c", lambda run: _scaled(run.coolant_on_k, "temperature")),
    ("coolant_off_c", lambda run: _scaled(run.coolant_off_k, "temperature")),
    ("charge_air_on_c", lambda run: _scaled(run.charge_air_on_k, "temperature")),
    ("charge_air_off_c", lambda run: _scaled(run.charge_air_off_k, "temperature")),
    ("ambient_c", lambda run: _scaled(run.ambient_k, "temperature")),
    ("road_speed_km_per_h", lambda run: None if run.road_speed_m_s is None else run.road_speed_m_s * 3.6),
    ("retarder_share", lambda run: run.retarder_share),
    ("lowest_air_kpa", lambda run: _scaled(run.lowest_air_gauge_pa, "pressure")),
)
COLUMNS = ("start", "end", "start_s", "end_s", "reason", "reasons", "open_start", "open_end", *dict(_MORE))


def run_rows(exhibit: RecordingExhibit) -> list[dict[str, Cell]]:
    """Give a row for each run.

    ``start`` and ``end`` are dates and times where the clock has them (with ``Z`` where it is known to be
    UTC), else the same as ``start_s`` and ``end_s``, which count from the first time stamp.
    """
    return [_row(run, exhibit) for run in exhibit.runs]


def _row(run: Run, exhibit: RecordingExhibit) -> dict[str, Cell]:
    reasons = dict.fromkeys(span.what for span in run.reasons)
    row: dict[str, Cell] = {
        "start": _moment(run.start_s, exhibit),
        "end": _moment(run.end_s, exhibit),
        "start_s": round(run.start_s - exhibit.first_s, 6),
        "end_s": round(run.end_s - exhibit.first_s, 6),
        "reason": run.reason,
        "reasons": " ".join(reasons),
        "open_start": run.open_start,
        "open_end": run.open_end,
    }
    return row | {name: _rounded(value(run)) for name, value in _MORE}


def _moment(time_s: float, exhibit: RecordingExhibit) -> str:
    if exhibit.clock == "relative":
        return str(round(time_s - exhibit.first_s, 6))
    moment = dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(microseconds=round(time_s * 1e6))
    written = moment.replace(tzinfo=None).isoformat(timespec="milliseconds")
    return written + ("Z" if exhibit.clock == "absolute" else "")


def _scaled(si: float | None, kind: str) -> float | None:
    return None if si is None else dimension(kind).to_json(si)


def _rounded(value: Cell) -> Cell:
    return round(value, 6) if isinstance(value, float) else value


def as_csv(rows: list[dict[str, Cell]]) -> bytes:
    """Write rows as CSV; what is not known is empty."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        words = {name: str(cell).lower() for name, cell in row.items() if isinstance(cell, bool)}
        writer.writerow(row | words)
    return out.getvalue().encode("utf-8")


def as_parquet(rows: list[dict[str, Cell]]) -> bytes:
    """Write rows as Parquet."""
    import polars

    texts, flags = ("start", "end", "reason", "reasons"), ("open_start", "open_end")
    kinds = {
        name: polars.String if name in texts else polars.Boolean if name in flags else polars.Float64
        for name in COLUMNS
    }
    out = io.BytesIO()
    polars.DataFrame(rows, schema=kinds).write_parquet(out)
    return out.getvalue()
