"""How long the runs lasted, by reason: a timer stacks them at one length, a bad switch scatters them."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Callable, Sequence

from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.evidence.recording.result import SHORT_S
from fanwright.report.pictures.duty_day import LABELS, LEFT, RIGHT, TEXT, fill_of, in_words, label
from fanwright.report.pictures.svg import DASHES, THIN, Drawing

ROW = 40.0
_HEAD, _FOOT = 26.0, 30.0
_BINS_IN_TEN = 12
"""Bars for a tenfold length: each is a fifth longer than the one before."""
_MARKS_S = (1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 10_800.0, 36_000.0)


def height(exhibit: RecordingExhibit) -> float:
    """Say how much room it takes; none where no run was seen whole [units]."""
    rows = len(_lengths(exhibit))
    return _HEAD + ROW * rows + _FOOT if rows else 0.0


def onto(drawing: Drawing, exhibit: RecordingExhibit, top: float) -> None:
    """Draw the lengths of the whole runs, a row for each reason they began for.

    Args:
        drawing: The picture it belongs to.
        exhibit: The recording.
        top: Where it begins [units].
    """
    found = _lengths(exhibit)
    if not found:
        return
    everything = [length for lengths in found.values() for length in lengths]
    low = math.log10(max(min(*everything, SHORT_S), 1.0)) - 0.05
    high = math.log10(max(*everything, SHORT_S)) + 0.12

    def x(length_s: float) -> float:
        share = (math.log10(max(length_s, 1.0)) - low) / (high - low)
        return LEFT + share * (drawing.width - LEFT - RIGHT)

    left_out = len(exhibit.runs) - len(everything)
    more = f"; {left_out} cut off by the recording left out" if left_out else ""
    least = f"; dashed: {in_words(SHORT_S)}, the least for A/C" if "air_conditioning" in found else ""
    drawing.text(LEFT, top + 14, f"how long the runs lasted{least}{more}", TEXT, ink="quiet")
    for number, (reason, lengths) in enumerate(found.items()):
        foot = top + _HEAD + ROW * (number + 1)
        drawing.line([(LEFT, foot), (drawing.width - RIGHT, foot)], "quiet", 0.5)
        drawing.text(LEFT - 8, foot - 8, label(reason), TEXT, "end")
        _bars(drawing, reason, lengths, x, foot)
        _beside(drawing, lengths, foot)
        if reason == "air_conditioning":
            at = x(SHORT_S)
            drawing.line([(at, foot - ROW + 4), (at, foot)], "rust", THIN, DASHES)
    _axis(drawing, x, (10**low, 10**high), top + _HEAD + ROW * len(found))


def _lengths(exhibit: RecordingExhibit) -> dict[str, list[float]]:
    """Give the lengths of whole runs by the reason they began for, in the order of the rows above."""
    found: dict[str, list[float]] = {}
    for run in exhibit.runs:
        if run.whole:
            found.setdefault(run.reason, []).append(run.duration_s)
    order = [*LABELS, *sorted(set(found) - set(LABELS))]
    return {reason: found[reason] for reason in order if reason in found}


def _bars(
    drawing: Drawing, reason: str, lengths: Sequence[float], x: Callable[[float], float], foot: float
) -> None:
    bins = Counter(round(math.log10(max(length, 1.0)) * _BINS_IN_TEN) for length in lengths)
    ink, fill = fill_of(drawing, reason)
    most = max(bins.values())
    for place, many in sorted(bins.items()):
        left, right = (x(10 ** ((place + half) / _BINS_IN_TEN)) for half in (-0.5, 0.5))
        tall = max((ROW - 10) * many / most, 2.0)
        left, right = max(left, LEFT), min(right, drawing.width - RIGHT)
        drawing.box(left + 0.5, foot - tall, right - left - 1.0, tall, ink, fill, 0.8)


def _beside(drawing: Drawing, lengths: Sequence[float], foot: float) -> None:
    at, middle = drawing.width - RIGHT + 8, in_words(statistics.median(lengths))
    if len(lengths) == 1:
        drawing.text(at, foot - 8, f"1 run, {middle}", TEXT)
        return
    drawing.text(at, foot - 20, f"{len(lengths)} runs,", TEXT)
    drawing.text(at, foot - 6, f"middle {middle}", TEXT)


def _axis(drawing: Drawing, x: Callable[[float], float], ends: tuple[float, float], foot: float) -> None:
    drawing.line([(LEFT, foot), (drawing.width - RIGHT, foot)], "ink", THIN)
    last = -math.inf
    for mark in _MARKS_S:
        at = x(mark)
        if not ends[0] <= mark <= ends[1] or at - last < 44.0:
            continue
        last = at
        drawing.line([(at, foot), (at, foot + 5)], "ink", THIN)
        words = f"{mark:.0f} s" if mark <= 60.0 else f"{mark / 60.0:.0f} min"
        words = words if mark < 3600.0 else f"{mark / 3600.0:.0f} h"
        drawing.text(at, foot + 18, words, TEXT, "middle", "quiet")
