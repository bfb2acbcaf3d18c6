"""The day by reason: engine on, when the fan was told on and for what, coolant and road speed, lengths."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fanwright.evidence.recording.exhibit import RecordingExhibit, Span
from fanwright.quantities import Units
from fanwright.report.pictures import run_lengths
from fanwright.report.pictures.axis import time_step
from fanwright.report.pictures.duty_day import (
    LABELS,
    LEFT,
    RIGHT,
    TEXT,
    Clock,
    fill_of,
    label,
    lasting,
    merged,
    strips,
    strips_height,
)
from fanwright.report.pictures.svg import THIN, Drawing, Ink, Theme

_TOP, _ROW, _FOOT = 40.0, 22.0, 44.0


def draw(
    exhibit: RecordingExhibit,
    theme: Theme = "screen",
    units: Units | None = None,
    width: float = 760.0,
    title: str = "",
) -> str:
    """Draw when the fan was told on, a row for each reason, with coolant and road speed where recorded.

    Args:
        exhibit: The recording.
        theme: ``screen`` or ``print``.
        units: The reader's units; those of the table without.
        width: Width of the view box [units].
        title: Its name; the file's without.

    Returns:
        An SVG document.
    """
    rows = _rows(exhibit)
    below = _TOP + _ROW * (1 + max(len(rows), 1))
    foot = below + strips_height(exhibit)
    height = foot + _FOOT + run_lengths.height(exhibit)
    drawing = Drawing(width, height, title or f"Fan told on, {exhibit.place}", _desc(exhibit, rows), theme)
    drawing.pattern("duty-unknown", "quiet", 45.0, 5.0, 0.9)
    clock = Clock(exhibit.first_s, exhibit.span_s, width)
    _unknown(drawing, exhibit, clock, below)
    _row(drawing, _TOP, "engine on", exhibit.engine_on, clock, ("quiet", "pale"))
    drawing.text(width - RIGHT + 8, _TOP + 15, lasting(exhibit.engine_on), TEXT, ink="quiet")
    for index, (reason, spans, runs) in enumerate(rows):
        top = _TOP + _ROW * (index + 1)
        _row(drawing, top, label(reason), spans, clock, fill_of(drawing, reason))
        told = {0: "", 1: "1 run, "}.get(runs, f"{runs} runs, ")
        drawing.text(width - RIGHT + 8, top + 15, told + lasting(spans), TEXT)
    if not rows:
        words = "never told on" if exhibit.fan_known else "not known"
        drawing.text(LEFT - 8, _TOP + _ROW + 15, words, TEXT, "end", bold=True)
    strips(drawing, exhibit, clock, below, units or Units())
    _times(drawing, exhibit, clock, foot)
    run_lengths.onto(drawing, exhibit, foot + _FOOT)
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


def _row(
    drawing: Drawing, top: float, name: str, spans: Sequence[Span], clock: Clock, look: tuple[Ink, str]
) -> None:
    drawing.text(LEFT - 8, top + 15, name, TEXT, "end")
    drawing.line([(LEFT, top + _ROW), (drawing.width - RIGHT, top + _ROW)], "quiet", 0.5)
    for left, right in merged(spans, clock):
        drawing.box(left, top + 4, right - left, _ROW - 7, look[0], look[1], 0.8)


def _unknown(drawing: Drawing, exhibit: RecordingExhibit, clock: Clock, foot: float) -> None:
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
        drawing.text(drawing.width - 122, 20, "not known", TEXT, ink="quiet")


def _times(drawing: Drawing, exhibit: RecordingExhibit, clock: Clock, foot: float) -> None:
    right = drawing.width - RIGHT
    drawing.line([(LEFT, foot), (right, foot)], "ink", THIN)
    sizes = ((1.0, "s", 180.0), (60.0, "min", 10800.0), (3600.0, "h", float("inf")))
    unit_s, name = next((size, name) for size, name, most in sizes if exhibit.span_s <= most)
    step = time_step(max(exhibit.span_s, 1e-3), 8)
    for index in range(int(exhibit.span_s / step + 1e-9) + 1):
        x = clock.x(exhibit.first_s + index * step)
        drawing.line([(x, foot), (x, foot + 5)], "ink", THIN)
        drawing.text(x, foot + 18, f"{index * step / unit_s:g}", TEXT, "middle", "quiet")
    drawing.text(right + 14, foot + 18, name, TEXT, ink="quiet")
    drawing.text(LEFT, 20, _since(exhibit), TEXT, ink="quiet")


def _since(exhibit: RecordingExhibit) -> str:
    zone = {"absolute": " UTC", "local": ", zone not known"}.get(exhibit.clock)
    if zone is None:
        return "time from the recording's own start"
    start = dt.datetime.fromtimestamp(exhibit.first_s, tz=dt.UTC)
    return f"time from {start:%Y-%m-%d %H:%M:%S}{zone}"


def _desc(exhibit: RecordingExhibit, rows: list[tuple[str, tuple[Span, ...], int]]) -> str:
    told = "; ".join(
        f"{LABELS.get(reason, reason)} {lasting(spans)} in {runs} runs" for reason, spans, runs in rows
    )
    span = f"{exhibit.span_s / 60.0:.1f} min"
    return f"Engine on {lasting(exhibit.engine_on)} of {span}; told on: {told or 'never'}."
