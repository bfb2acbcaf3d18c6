"""Told on, by reason, over the time of a recording; engine on above, what is not known hatched."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fanwright.evidence.recording.exhibit import RecordingExhibit, Span
from fanwright.quantities import Units
from fanwright.report.pictures.axis import time_step
from fanwright.report.pictures.svg import THIN, Drawing, Ink, Theme

LABELS = {
    "coolant": "coolant",
    "charge_air": "charge air",
    "oil": "oil",
    "air_conditioning": "air conditioning",
    "engine_brake": "engine brake",
    "retarder": "retarder",
    "engine_general": "engine, general",
    "default": "fell back to default",
    "manual": "manual",
    "timer": "timer",
    "other": "other",
    "unknown": "reason unknown",
}
_LOOK: dict[str, tuple[Ink, str]] = {
    "coolant": ("blue", "solid"),
    "charge_air": ("blue", "rising"),
    "air_conditioning": ("violet", "solid"),
    "engine_brake": ("rust", "solid"),
    "retarder": ("rust", "rising"),
    "manual": ("ink", "solid"),
    "default": ("ink", "rising"),
}
_LEFT, _RIGHT, _TOP, _ROW, _TEXT = 132.0, 118.0, 40.0, 22.0, 12.0
_LEAST_WIDE = 0.8  # units; a run shorter than this still shows


@dataclass(frozen=True)
class _Clock:
    """Where time lies on the picture: from the first to the last time stamp of the recording."""

    first_s: float
    span_s: float
    width: float

    def x(self, time_s: float) -> float:
        share = (time_s - self.first_s) / max(self.span_s, 1e-9)
        return _LEFT + min(max(share, 0.0), 1.0) * (self.width - _LEFT - _RIGHT)


def draw(
    exhibit: RecordingExhibit,
    theme: Theme = "screen",
    units: Units | None = None,
    width: float = 760.0,
    title: str = "",
) -> str:
    """Draw when the fan was told on, a row for each reason.

    Args:
        exhibit: The recording.
        theme: ``screen`` or ``print``.
        units: The reader's units, as every picture takes them; times alone stand here, the same for all.
        width: Width of the view box [units].
        title: Its name; the file's without.

    Returns:
        An SVG document.
    """
    rows = _rows(exhibit)
    height = _TOP + _ROW * (1 + max(len(rows), 1)) + 44
    drawing = Drawing(width, height, title or f"Fan told on, {exhibit.place}", _desc(exhibit, rows), theme)
    drawing.pattern("duty-unknown", "quiet", 45.0, 5.0, 0.9)
    clock = _Clock(exhibit.first_s, exhibit.span_s, width)
    foot = _TOP + _ROW * (1 + max(len(rows), 1))
    _unknown(drawing, exhibit, clock, foot)
    _row(drawing, _TOP, "engine on", exhibit.engine_on, clock, ("quiet", "pale"))
    drawing.text(width - _RIGHT + 8, _TOP + 15, _lasting(exhibit.engine_on), _TEXT, ink="quiet")
    for index, (reason, spans, runs) in enumerate(rows):
        top = _TOP + _ROW * (index + 1)
        ink, look = _LOOK.get(reason, ("quiet", "rising"))
        fill: str = ink if look == "solid" else drawing.pattern(f"duty-{ink}", ink, 45.0, 4.0, 1.8)
        _row(drawing, top, LABELS.get(reason, reason.replace("_", " ")), spans, clock, (ink, fill))
        told = {0: "", 1: "1 run, "}.get(runs, f"{runs} runs, ")
        drawing.text(width - _RIGHT + 8, top + 15, told + _lasting(spans), _TEXT)
    if not rows:
        words = "never told on" if exhibit.fan_known else "not known"
        drawing.text(_LEFT - 8, _TOP + _ROW + 15, words, _TEXT, "end", bold=True)
    _times(drawing, exhibit, clock, foot)
    return drawing.svg()


def _rows(exhibit: RecordingExhibit) -> list[tuple[str, tuple[Span, ...], int]]:
    """Give the reasons that occur, in a fixed order, with their stretches and the runs they began."""
    found: dict[str, list[Span]] = {}
    for run in exhibit.runs:
        for span in run.reasons or (Span(run.start_s, run.end_s, run.reason),):
            found.setdefault(span.what, []).append(span)
    order = [*LABELS, *sorted(set(found) - set(LABELS))]
    return [
        (reason, tuple(found[reason]), sum(run.reason == reason for run in exhibit.runs))
        for reason in order
        if reason in found
    ]


def _lasting(spans: Iterable[Span]) -> str:
    seconds = sum(span.end_s - span.start_s for span in spans)
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def _row(
    drawing: Drawing, top: float, name: str, spans: Sequence[Span], clock: _Clock, look: tuple[Ink, str]
) -> None:
    drawing.text(_LEFT - 8, top + 15, name, _TEXT, "end")
    drawing.line([(_LEFT, top + _ROW), (drawing.width - _RIGHT, top + _ROW)], "quiet", 0.5)
    for left, right in _merged(spans, clock):
        drawing.box(left, top + 4, right - left, _ROW - 7, look[0], look[1], 0.8)


def _merged(spans: Sequence[Span], clock: _Clock) -> list[tuple[float, float]]:
    """Turn stretches into bars; those that would touch on paper become one, so that a day stays small."""
    bars: list[tuple[float, float]] = []
    for span in sorted(spans, key=lambda each: each.start_s):
        left = clock.x(span.start_s)
        right = max(clock.x(span.end_s), left + _LEAST_WIDE)
        if bars and left - bars[-1][1] < 0.4:
            bars[-1] = (bars[-1][0], max(right, bars[-1][1]))
        else:
            bars.append((left, right))
    return bars


def _unknown(drawing: Drawing, exhibit: RecordingExhibit, clock: _Clock, foot: float) -> None:
    """Hatch the time in which nobody can say whether the fan was told on."""
    last_s = exhibit.first_s + exhibit.span_s
    at_s, shown = exhibit.first_s, False
    for span in (*sorted(exhibit.fan_known, key=lambda each: each.start_s), Span(last_s, last_s, "")):
        left, right = clock.x(at_s), clock.x(span.start_s)
        if right - left >= 0.5:
            drawing.box(left, _TOP + _ROW, right - left, foot - _TOP - _ROW, None, "duty-unknown")
            shown = True
        at_s = max(at_s, span.end_s)
    if shown:
        drawing.box(drawing.width - 150, 10, 22, 12, "quiet", "duty-unknown", THIN)
        drawing.text(drawing.width - 122, 20, "not known", _TEXT, ink="quiet")


def _times(drawing: Drawing, exhibit: RecordingExhibit, clock: _Clock, foot: float) -> None:
    right = drawing.width - _RIGHT
    drawing.line([(_LEFT, foot), (right, foot)], "ink", THIN)
    sizes = ((1.0, "s", 180.0), (60.0, "min", 10800.0), (3600.0, "h", float("inf")))
    unit_s, name = next((size, name) for size, name, most in sizes if exhibit.span_s <= most)
    step = time_step(max(exhibit.span_s, 1e-3), 8)
    for index in range(int(exhibit.span_s / step + 1e-9) + 1):
        x = clock.x(exhibit.first_s + index * step)
        drawing.line([(x, foot), (x, foot + 5)], "ink", THIN)
        drawing.text(x, foot + 18, f"{index * step / unit_s:g}", _TEXT, "middle", "quiet")
    drawing.text(right + 14, foot + 18, name, _TEXT, ink="quiet")
    drawing.text(_LEFT, 20, _since(exhibit), _TEXT, ink="quiet")


def _since(exhibit: RecordingExhibit) -> str:
    zone = {"absolute": " UTC", "local": ", zone not known"}.get(exhibit.clock)
    if zone is None:
        return "time from the recording's own start"
    start = dt.datetime.fromtimestamp(exhibit.first_s, tz=dt.UTC)
    return f"time from {start:%Y-%m-%d %H:%M:%S}{zone}"


def _desc(exhibit: RecordingExhibit, rows: list[tuple[str, tuple[Span, ...], int]]) -> str:
    told = "; ".join(
        f"{LABELS.get(reason, reason)} {_lasting(spans)} in {runs} runs" for reason, spans, runs in rows
    )
    span = f"{exhibit.span_s / 60.0:.1f} min"
    return f"Engine on {_lasting(exhibit.engine_on)} of {span}; told on: {told or 'never'}."
