"""The pressure trace: both gauges, the 90 psi line, a mark of one second, each fill and vent timed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanwright.evidence.trace.exhibit import Series, Stroke, TraceExhibit
from fanwright.evidence.trace.identify_result import Curve
from fanwright.quantities import Units
from fanwright.report.font import font
from fanwright.report.pictures.axis import round_step, thin, time_step
from fanwright.report.pictures.svg import DASHES, DOTS, LINE, MARGIN, THIN, Drawing, Ink, Theme, arrow

FULL_GAUGE_PA = 90.0 * 6894.757293168  # common practice of the trade, no source
_LEFT, _RIGHT, _TOP, _ROWS = 62.0, 92.0, 26.0, 92.0
_BREAK = 8.0  # a step this many times the usual one is a gap, and the line is broken there
_TEXT = 12.0
_STRIP = 84.0  # height of the strip of differences
_NEAR_S = 12.0  # a cycle longer than this is shown without its fill
FEW = 4  # strokes of a kind that get a label each


@dataclass(frozen=True)
class _Plane:
    """Where time and pressure lie on the picture."""

    first_s: float
    last_s: float
    low_pa: float
    high_pa: float
    width: float
    foot: float

    def x(self, time_s: float) -> float:
        return float(self.xs(np.asarray([time_s]))[0])

    def xs(self, time_s: Series) -> Series:
        share = (time_s - self.first_s) / max(self.last_s - self.first_s, 1e-9)
        return _LEFT + np.clip(share, 0.0, 1.0) * (self.width - _LEFT - _RIGHT)

    def y(self, gauge_pa: float) -> float:
        return float(self.ys(np.asarray([gauge_pa]))[0])

    def ys(self, gauge_pa: Series) -> Series:
        return self.foot - (gauge_pa - self.low_pa) / (self.high_pa - self.low_pa) * (self.foot - _TOP)


def draw(
    exhibit: TraceExhibit,
    theme: Theme = "screen",
    units: Units | None = None,
    width: float = 760.0,
    height: float = 300.0,
    title: str = "",
    fitted: Sequence[Curve] = (),
) -> str:
    """Draw a pressure trace.

    Args:
        exhibit: The trace.
        theme: ``screen`` or ``print``.
        units: The reader's units; psi without.
        width: Width of the view box [units].
        height: Height of the view box [units].
        title: Its name; the file's without.
        fitted: The air circuit fitted to it; adds the fit, its events and a strip of what is left.

    Returns:
        An SVG document.
    """
    units = units or Units()
    plane = _plane(exhibit, units, width, height)
    desc = _desc(exhibit, units) + _desc_fit(fitted, units)
    whole = height + (_STRIP if fitted else 0.0)
    drawing = Drawing(width, whole, title or f"Pressure trace {exhibit.place}", desc, theme)
    _axes(drawing, plane, units)
    _times(drawing, plane)
    curves: list[tuple[Series, Ink, str, str]] = [(exhibit.drive_gauge_pa, "violet", "", "drive")]
    if exhibit.supply_gauge_pa is not None:
        curves.append((exhibit.supply_gauge_pa, "ink", DASHES, "inlet"))
    for values_pa, ink, dash, _ in curves:
        _curve(drawing, plane, exhibit.time_s, values_pa, ink, dash)
    _names(drawing, plane, exhibit, curves)
    _states(drawing, plane, exhibit)
    _strokes(drawing, plane, exhibit.strokes, units)
    if fitted:
        _fit(drawing, plane, fitted)
        _strip(drawing, plane, fitted, units)
    return drawing.svg()


def _desc_fit(fitted: Sequence[Curve], units: Units) -> str:
    if not fitted:
        return ""
    left = float(np.sqrt(np.mean(np.concatenate([one.difference_pa for one in fitted]) ** 2)))
    return (
        f" The fitted air circuit lies {units.write(left, 'pressure', left / 20.0)} beside it on the average."
    )


def _fit(drawing: Drawing, plane: _Plane, fitted: Sequence[Curve]) -> None:
    """Draw the fit over the trace, and a ring where its piston begins to move, turns or arrives."""
    for curve in fitted:
        _curve(drawing, plane, curve.time_s, curve.drive_gauge_pa, "rust", "")
        for at_s, gauge_pa in curve.marks:
            if plane.first_s <= at_s <= plane.last_s:
                drawing.circle(plane.x(at_s), plane.y(gauge_pa), 3.5, "rust", "paper", LINE)
    drawing.text(
        plane.width - _RIGHT + 6, plane.y(0.5 * FULL_GAUGE_PA), "fit", _TEXT, "start", "rust", bold=True
    )


def _strip(drawing: Drawing, plane: _Plane, fitted: Sequence[Curve], units: Units) -> None:
    """Draw what the fit leaves of the drive pressure, in a strip of its own scale."""
    middle = drawing.height - _STRIP / 2.0 + 4.0
    most = max(1.0, *(float(np.abs(one.difference_pa).max(initial=0.0)) for one in fitted))
    step = _pressure_step(6.0 * most, units)
    scale = (_STRIP / 2.0 - 16.0) / max(most, step)
    right = plane.width - _RIGHT
    drawing.line([(_LEFT, middle), (right, middle)], "ink", THIN)
    unit = units.unit("pressure")
    for side in (-1.0, 1.0):
        y = middle - side * step * scale
        drawing.line([(_LEFT, y), (right, y)], "quiet", 0.8, DOTS)
        drawing.text(_LEFT - 8, y + 4, f"{side * unit.from_si(step):+g}", _TEXT, "end", "quiet")
    for one in fitted:
        across, up = thin(plane.xs(one.time_s), middle - scale * one.difference_pa)
        drawing.line(zip(across.tolist(), up.tolist(), strict=True), "violet", THIN)
    drawing.text(right + 6, middle + 4, "less the fit", _TEXT, "start", "quiet")


def slowest(exhibit: TraceExhibit) -> TraceExhibit:
    """Cut a trace to the cycle with its slowest vent, or to its slowest fill where it has no vent.

    Args:
        exhibit: The whole trace.

    Returns:
        The same trace from just before to just after; whole where no stroke was found.
    """
    for kind in ("vent", "fill"):
        those = sorted((stroke for stroke in exhibit.strokes if stroke.kind == kind), key=_worst_first)
        if those:
            return _between(exhibit, *_cycle_s(exhibit, those[0]))
    return exhibit


def _cycle_s(exhibit: TraceExhibit, stroke: Stroke) -> tuple[float, float]:
    """Find where to cut: from the fill before a vent if that is near, to a little after its end."""
    fills = [one.start_s for one in exhibit.strokes if one.kind == "fill" and one.start_s <= stroke.start_s]
    first = max((at for at in fills if stroke.start_s - at < _NEAR_S), default=stroke.start_s)
    later = [one.start_s for one in exhibit.strokes if one.start_s > stroke.start_s]
    end = min([*later, stroke.start_s + _NEAR_S]) if stroke.end_s is None else stroke.end_s + 0.8
    return first - 0.5, end


def _between(exhibit: TraceExhibit, first_s: float, last_s: float) -> TraceExhibit:
    keep = (exhibit.time_s >= first_s) & (exhibit.time_s <= last_s)
    return replace(
        exhibit,
        time_s=exhibit.time_s[keep],
        supply_gauge_pa=None if exhibit.supply_gauge_pa is None else exhibit.supply_gauge_pa[keep],
        drive_gauge_pa=exhibit.drive_gauge_pa[keep],
        air_sent=None if exhibit.air_sent is None else exhibit.air_sent[keep],
        shut=None if exhibit.shut is None else exhibit.shut[keep],
        strokes=tuple(one for one in exhibit.strokes if first_s <= one.start_s <= last_s),
    )


def _desc(exhibit: TraceExhibit, units: Units) -> str:
    span = float(exhibit.time_s[-1] - exhibit.time_s[0]) if exhibit.time_s.size else 0.0
    told = [f"{stroke.kind} {_took(stroke, units)}" for stroke in exhibit.strokes]
    shown = "; ".join(told[:12]) or "no fill and no vent found"
    more = f"; and {len(told) - 12} more" if len(told) > 12 else ""
    return f"Gauge pressure over {units.write(span, 'time')}: {shown}{more}."


def _plane(exhibit: TraceExhibit, units: Units, width: float, height: float) -> _Plane:
    shown = [exhibit.drive_gauge_pa, *([] if exhibit.supply_gauge_pa is None else [exhibit.supply_gauge_pa])]
    values = np.concatenate(shown)
    values = values[np.isfinite(values)]
    highest = max(float(values.max(initial=0.0)), 1.1 * FULL_GAUGE_PA)
    lowest = min(float(values.min(initial=0.0)), 0.0)
    step = _pressure_step(highest - lowest, units)
    return _Plane(
        float(exhibit.time_s[0]) if exhibit.time_s.size else 0.0,
        float(exhibit.time_s[-1]) if exhibit.time_s.size else 1.0,
        lowest if lowest > -0.02 * highest else np.floor(lowest / step) * step,
        1.04 * highest,
        width,
        height - _ROWS,
    )


def _pressure_step(span_pa: float, units: Units) -> float:
    unit = units.unit("pressure")
    return float(round_step(span_pa / unit.factor, 6) * unit.factor)


def _axes(drawing: Drawing, plane: _Plane, units: Units) -> None:
    right = plane.width - _RIGHT
    step = _pressure_step(plane.high_pa - plane.low_pa, units)
    unit = units.unit("pressure")
    full = plane.y(FULL_GAUGE_PA)
    for index in range(int(np.ceil(plane.low_pa / step)), int(plane.high_pa / step) + 1):
        y = plane.y(index * step)
        drawing.line([(_LEFT - 4, y), (_LEFT, y)], "ink", THIN)
        if abs(y - full) > 11:
            drawing.text(_LEFT - 8, y + 4, f"{unit.from_si(index * step):g}", _TEXT, "end", "quiet")
    drawing.text(_LEFT - 8, _TOP - 10, unit.printed, _TEXT, "end", "quiet")
    drawing.line([(_LEFT, _TOP), (_LEFT, plane.foot)], "ink", THIN)
    drawing.line([(_LEFT, plane.y(0.0)), (right, plane.y(0.0))], "ink", THIN)
    drawing.line([(_LEFT, full), (right, full)], "quiet", LINE, DOTS)
    drawing.text(_LEFT - 8, full + 4, f"{unit.from_si(FULL_GAUGE_PA):.3g}", _TEXT, "end", "ink", bold=True)


def _times(drawing: Drawing, plane: _Plane) -> None:
    span = plane.last_s - plane.first_s
    step = time_step(max(span, 1e-3), 10)
    for index in range(int(np.ceil(plane.first_s / step - 1e-9)), int(plane.last_s / step + 1e-9) + 1):
        x = plane.x(index * step)
        drawing.line([(x, plane.foot), (x, plane.foot + 4)], "ink", THIN)
        drawing.text(x, plane.foot + 17, f"{index * step:g}", _TEXT, "middle", "quiet")
    drawing.text(plane.width - _RIGHT + 14, plane.foot + 17, "s", _TEXT, "start", "quiet")
    bar = 1.0 if span <= 60.0 else 60.0
    if bar < span:
        right = plane.width - _RIGHT
        left = right - (plane.x(plane.first_s + bar) - _LEFT)
        drawing.line([(left, _TOP - 12), (right, _TOP - 12)], "ink", LINE)
        for x in (left, right):
            drawing.line([(x, _TOP - 16), (x, _TOP - 8)], "ink", LINE)
        drawing.text(right + 8, _TOP - 8, "1 s" if bar == 1.0 else "1 min", _TEXT)


def _curve(drawing: Drawing, plane: _Plane, time_s: Series, values_pa: Series, ink: Ink, dash: str) -> None:
    fine = np.isfinite(values_pa)
    times, values = time_s[fine], values_pa[fine]
    if not times.size:
        return
    steps = np.diff(times)
    usual = float(np.median(steps)) if steps.size else 0.0
    cuts = np.flatnonzero(steps > max(_BREAK * usual, 1e-6)) + 1
    for part in np.split(np.arange(times.size), cuts):
        across, up = thin(plane.xs(times[part]), plane.ys(values[part]))
        drawing.line(zip(across.tolist(), up.tolist(), strict=True), ink, 1.8, dash)


def _names(
    drawing: Drawing, plane: _Plane, exhibit: TraceExhibit, curves: list[tuple[Series, Ink, str, str]]
) -> None:
    """Name each line at its right end, apart from each other."""
    right = plane.width - _RIGHT + 6
    ends = sorted((plane.y(float(values[-1])), ink, name) for values, ink, _, name in curves if values.size)
    taken = -100.0
    for y, ink, name in ends:
        place = max(y + 4, taken + 14)
        drawing.text(right, place, name, _TEXT, "start", ink, bold=True)
        taken = place


def _states(drawing: Drawing, plane: _Plane, exhibit: TraceExhibit) -> None:
    """Draw bars under the axis for air sent and drive shut off."""
    y = plane.foot + 30
    rows = ((exhibit.air_sent, "air sent", "pale"), (exhibit.shut, "drive shut off", "trace-shut"))
    drawing.pattern("trace-shut", "quiet", 45.0, 5.0)
    for held, name, fill in rows:
        if held is None or not bool(held.any()):
            continue
        edges = np.flatnonzero(np.diff(np.r_[False, held, False].astype(np.int8)))
        last = plane.xs(exhibit.time_s)
        for start, end in edges.reshape(-1, 2):
            left, right = float(last[start]), float(last[min(int(end), last.size - 1)])
            drawing.box(left, y - 5, max(right - left, 1.0), 10, "ink", fill, THIN)
        drawing.text(_LEFT - 8, y + 4, name.removeprefix("drive "), _TEXT, "end", "quiet")
        y += 13


def _took(stroke: Stroke, units: Units) -> str:
    if stroke.duration_s is not None:
        return units.write(stroke.duration_s, "time", step_si=0.01)
    return "never" if stroke.never else "not timed"


def _strokes(drawing: Drawing, plane: _Plane, strokes: tuple[Stroke, ...], units: Units) -> None:
    """Mark fills and vents, a row each below the axis: few with a label each, many with the worst."""
    for kind, y in (("fill", plane.foot + _ROWS - 26.0), ("vent", plane.foot + _ROWS - 8.0)):
        those = sorted((stroke for stroke in strokes if stroke.kind == kind), key=_worst_first)
        if not those:
            continue
        drawing.text(
            _LEFT - 8, y, kind if len(those) == 1 else f"{len(those)} {kind}s", _TEXT, "end", "quiet"
        )
        taken = [_bracket(drawing, plane, stroke, those, y - 4) for stroke in those]
        places = _places(drawing, those, taken, units) if len(those) <= FEW else [None]
        if places[0] is None:
            worst = _took(those[0], units)
            told = worst if worst == "not timed" else f"worst {worst}"
            drawing.text(plane.width - _RIGHT + 6, y, told, _TEXT, bold=True)
            continue
        for stroke, place in zip(those, places, strict=True):
            _drop(drawing, plane, stroke, y)
            if place is not None:
                drawing.text(place, y, _took(stroke, units), _TEXT, bold=True)


def _places(
    drawing: Drawing, those: list[Stroke], marks: list[tuple[float, float]], units: Units
) -> list[float | None]:
    """Find where each stroke's time can be written, right or left of its mark and clear of all else."""
    taken = list(marks)
    places: list[float | None] = []
    for stroke, (left, right) in zip(those, marks, strict=True):
        wide = font().width(_took(stroke, units), _TEXT, bold=True) + 8
        place = next(
            (
                start
                for start in (right + 6, left - wide)
                if start > _LEFT
                and start + wide < drawing.width - MARGIN
                and all(start + wide < low or start > high for low, high in taken)
            ),
            None,
        )
        places.append(place)
        if place is not None:
            taken.append((place, place + wide))
    return places


def _drop(drawing: Drawing, plane: _Plane, stroke: Stroke, y: float) -> None:
    """Join a stroke's ends to the curve, past the figures of the axis."""
    for at_s in (stroke.start_s, stroke.end_s):
        if at_s is not None:
            x = plane.x(at_s)
            drawing.line([(x, plane.y(FULL_GAUGE_PA)), (x, plane.foot + 5)], "quiet", 0.8, DOTS)
            drawing.line([(x, plane.foot + 20), (x, y - 9)], "quiet", 0.8, DOTS)


def _worst_first(stroke: Stroke) -> tuple[bool, float]:
    """Sort what never arrived first, then by time, what was not timed last."""
    return (not stroke.never, -(stroke.duration_s or 0.0))


def _bracket(
    drawing: Drawing, plane: _Plane, stroke: Stroke, those: list[Stroke], y: float
) -> tuple[float, float]:
    """Draw how long a stroke took; one that was not seen to arrive is an arrow up to the next."""
    left = plane.x(stroke.start_s)
    later = min((other.start_s for other in those if other.start_s > stroke.start_s), default=plane.last_s)
    right = plane.x(later) - 3 if stroke.end_s is None else plane.x(stroke.end_s)
    right = max(right, left + 2.0)
    drawing.line([(left, y - 4), (left, y + 4)], "ink", LINE)
    if stroke.end_s is None:
        arrow(drawing, (left, y), (right, y))
        return left, right
    drawing.line([(left, y), (right, y)], "ink", LINE)
    drawing.line([(right, y - 4), (right, y + 4)], "ink", LINE)
    return left, right
