"""A pressure trace as numbers for a chart on a page: thinned by least and most, packed small."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.report.say import Reader, say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fanwright.evidence.trace.exhibit import Stroke
    from fanwright.evidence.trace.result import TraceResult
    from fanwright.truck.model import Truck

    Series = NDArray[np.float64]

    Line = tuple[str, Series, Series]

MOST_ROWS = 60_000
FULL_GAUGE_PA = 90.0 * 6894.757293168  # common practice of the trade, no source
TENTH = 0.1
LABEL_WORDS = {"inlet": "inlet", "drive": "drive", "fit": "fit"}
STROKE_WORDS = {"fill": "fill 0 to 90 psi", "vent": "vent 90 to 0 psi"}


def trace_chart(path: Path, reader: Reader, truck: Truck | None = None) -> dict[str, Any]:
    """Read a trace for a chart.

    Args:
        path: The file.
        reader: Whose units and language it is shown in.
        truck: The machine, whose air circuit is fitted to the trace; None leaves the fit out.

    Returns:
        ``unit``, ``title``, ``series`` (each with packed times and values), ``strokes``, ``marks``, ``said``
        (a paragraph on the fit) and ``thinned``.

    Raises:
        InputError: Every mistake of the file.
    """
    from fanwright.evidence.trace import read_trace

    found = read_trace(path)
    exhibit = found.exhibit
    unit = reader.units.unit("pressure")
    lines: list[Line] = [("drive", exhibit.time_s, exhibit.drive_gauge_pa)]
    if exhibit.supply_gauge_pa is not None:
        lines.insert(0, ("inlet", exhibit.time_s, exhibit.supply_gauge_pa))
    said: list[str] = []
    if truck is not None:
        fitted, said = _fitted(found, reader, truck)
        lines += fitted
    return {
        "title": reader.words("Pressure trace") + " " + exhibit.place,
        "unit": unit.printed,
        "sha256": exhibit.sha256,
        "series": [_line(*line, reader) for line in lines],
        "strokes": [_stroke(one, reader) for one in exhibit.strokes],
        "marks": [
            {"value": round(unit.from_si(FULL_GAUGE_PA), 3), "label": reader.write(FULL_GAUGE_PA, "pressure")}
        ],
        "said": said,
        "thinned": len(exhibit.time_s) > MOST_ROWS,
    }


def _fitted(result: TraceResult, reader: Reader, truck: Truck) -> tuple[list[Line], list[str]]:
    """Lay the simulated circuit over the trace, where it could be fitted."""
    from fanwright.evidence.trace.identify import identify
    from fanwright.evidence.trace.identify_machine import machine_of
    from fanwright.evidence.trace.identify_words import summary

    machine = machine_of(truck)
    found = identify(result, machine, curves=True)
    lines = [("fit", one.time_s, one.drive_gauge_pa) for one in found.curves if len(one.time_s) > 1]
    said = [say(one, reader) for one in (*summary(found, machine), *found.cannot_tell)]
    return lines, said


def _line(name: str, times_s: Series, gauge_pa: Series, reader: Reader) -> dict[str, Any]:
    """Pack a line: times in whole steps that keep its order, pressures in tenths of the reader's unit."""
    import numpy as np

    kept = _thinned(gauge_pa)
    unit = reader.units.unit("pressure")
    finest = 1e-5 if float(times_s[-1]) < 4e4 else 1e-3
    fine = TENTH if unit.step <= 1.0 else 1.0
    tenths = np.clip(np.round(unit.from_si(gauge_pa[kept]) / fine), -32768, 32767)
    return {
        "name": name,
        "label": reader.words(LABEL_WORDS[name]),
        "times": _packed(np.round(times_s[kept] / finest), "uint32", finest),
        "values": _packed(tenths, "int16", fine),
    }


def _thinned(values: Series) -> NDArray[np.intp]:
    """Choose rows: least and most of each bucket, so that no spike is lost."""
    import numpy as np

    rows = len(values)
    if rows <= MOST_ROWS:
        return np.arange(rows)
    buckets = MOST_ROWS // 2
    edges = np.linspace(0, rows, buckets + 1).astype(np.intp)
    width = int(np.diff(edges).max())
    taken = np.minimum(edges[:-1, None] + np.arange(width), edges[1:, None] - 1)
    block = values[taken]
    ends = np.stack([edges[:-1] + block.argmin(axis=1), edges[:-1] + block.argmax(axis=1)], axis=1)
    return np.unique(np.minimum(ends, edges[1:, None] - 1))


def _packed(values: Series, kind: str, scale: float) -> dict[str, Any]:
    little = values.astype({"int16": "<i2", "uint32": "<u4"}[kind])
    return {"kind": kind, "scale": scale, "base64": base64.b64encode(little.tobytes()).decode("ascii")}


def _stroke(one: Stroke, reader: Reader) -> dict[str, Any]:
    took = one.duration_s
    label = "" if took is None else reader.write(took, "time", 0.01)
    told = reader.words(STROKE_WORDS[one.kind]) + (f" {label}" if label else "")
    return {
        "kind": one.kind,
        "start": round(one.start_s, 5),
        "end": None if one.end_s is None else round(one.end_s, 5),
        "label": label,
        "told": told,
    }
