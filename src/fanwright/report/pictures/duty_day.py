"""What the pictures of a recording share: where time lies, how reasons look, and lines over the day."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fanwright.evidence.recording.exhibit import Line, RecordingExhibit, Span
from fanwright.quantities import Units
from fanwright.report.pictures.axis import Series, round_step, thin
from fanwright.report.pictures.svg import LINE, Drawing, Ink

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
LOOK: dict[str, tuple[Ink, str]] = {
    "coolant": ("blue", "solid"),
    "charge_air": ("blue", "rising"),
    "air_conditioning": ("violet", "solid"),
    "engine_brake": ("rust", "solid"),
    "retarder": ("rust", "rising"),
    "manual": ("ink", "solid"),
    "default": ("ink", "rising"),
}
LEFT, RIGHT, TEXT = 132.0, 118.0, 12.0
STRIP = 62.0
_LEAST_WIDE = 0.8  # units; a run shorter than this still shows
_INSIDE = 8.0  # units between a strip's line and its edges
_GAP_S = 60.0  # a line is broken over more than this, and over 8 of its usual steps


@dataclass(frozen=True)
class Clock:
    """Where time lies on the picture: from the first to the last time stamp of the recording."""

    first_s: float
    span_s: float
    width: float

    def x(self, time_s: float) -> float:
        """Give the place of a moment [units]."""
        share = (time_s - self.first_s) / max(self.span_s, 1e-9)
        return LEFT + min(max(share, 0.0), 1.0) * (self.width - LEFT - RIGHT)


def label(reason: str) -> str:
    """Give the words of a reason."""
    return LABELS.get(reason, reason.replace("_", " "))


def fill_of(drawing: Drawing, reason: str) -> tuple[Ink, str]:
    """Give the ink and the filling of a reason, its hatching declared."""
    ink, look = LOOK.get(reason, ("quiet", "rising"))
    return ink, ink if look == "solid" else drawing.pattern(f"duty-{ink}", ink, 45.0, 4.0, 1.8)


def lasting(spans: Iterable[Span]) -> str:
    """Write how long stretches last together."""
    return in_words(sum(span.end_s - span.start_s for span in spans))


def in_words(seconds: float) -> str:
    """Write a time as a person would say it."""
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def merged(spans: Sequence[Span], clock: Clock) -> list[tuple[float, float]]:
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


def strips_height(exhibit: RecordingExhibit) -> float:
    """Say how much room the lines over the day take; none where the recording holds neither [units]."""
    return STRIP * (bool(exhibit.coolant) + bool(exhibit.road_speed))


def strips(drawing: Drawing, exhibit: RecordingExhibit, clock: Clock, top: float, units: Units) -> None:
    """Draw coolant and road speed over the day, the time told on shaded behind them."""
    distance = units.unit("distance")

    def speed(value: float) -> str:
        return f"{value:.0f} {distance.printed}/h"

    temperature = units.unit("temperature")

    def warmth(value: float) -> str:
        return f"{value:.0f} {temperature.printed}"

    speeds = tuple((at, value * 3600.0 / distance.factor) for at, value in exhibit.road_speed)
    warmths = tuple((at, float(temperature.from_si(value))) for at, value in exhibit.coolant)
    told_on = merged([Span(run.start_s, run.end_s, "") for run in exhibit.runs], clock)
    if warmths:
        _strip(drawing, ("coolant temperature", warmths, warmth), told_on, clock, top, "blue")
        top += STRIP
    if speeds:
        _strip(drawing, ("road speed", speeds, speed), told_on, clock, top, "ink")


def _strip(
    drawing: Drawing,
    shown: tuple[str, Line, Callable[[float], str]],
    told_on: Sequence[tuple[float, float]],
    clock: Clock,
    top: float,
    ink: Ink,
) -> None:
    name, line, write = shown
    time_s, value = np.asarray(line, dtype=np.float64).T
    lowest, highest = float(value.min()), float(value.max())
    step = round_step(max(highest - lowest, 1.0), 2)
    low, high = step * np.floor(lowest / step), step * np.ceil(highest / step)
    high = max(high, low + step)

    def y(at: float) -> float:
        return float(top + STRIP - _INSIDE - (at - low) / (high - low) * (STRIP - 2 * _INSIDE))

    for left, right in told_on:
        drawing.box(left, top + 2, right - left, STRIP - 4, None, "pale")
    drawing.text(LEFT - 8, top + STRIP / 2 + 4, name, TEXT, "end", ink)
    for index in range(round((high - low) / step) + 1):
        at = float(low + index * step)
        drawing.line([(LEFT, y(at)), (drawing.width - RIGHT, y(at))], "quiet", 0.5)
        drawing.text(drawing.width - RIGHT + 8, y(at) + 4, write(at), TEXT, ink="quiet")
    for piece in _pieces(time_s):
        across, up = thin(
            np.asarray([clock.x(float(at)) for at in time_s[piece]]),
            np.asarray([y(float(at)) for at in value[piece]]),
        )
        if across.size > 1:
            drawing.line(zip(across.tolist(), up.tolist(), strict=True), ink, LINE)


def _pieces(time_s: Series) -> list[slice]:
    """Cut a line where nothing was heard for long, and where the clock was set."""
    steps = np.diff(time_s)
    usual = float(np.median(steps)) if steps.size else 0.0
    cuts = np.flatnonzero((steps < 0.0) | (steps > max(_GAP_S, 8.0 * usual))) + 1
    borders = [0, *cuts.tolist(), int(time_s.size)]
    return [slice(first, last) for first, last in pairwise(borders)]
