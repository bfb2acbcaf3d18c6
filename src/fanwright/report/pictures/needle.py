"""The marks of the verdicts: a gauge needle against its mark, so that grey print loses nothing."""

from __future__ import annotations

import math

from fanwright.report.pictures.svg import LINE, Drawing, Ink, Theme, spell
from fanwright.report.say import VERDICT_WORDS

WIDTH, HEIGHT = 28.0, 18.0
_SHOWN = {
    "good": "The needle stands well inside the mark.",
    "watch": "The needle stands near the mark.",
    "act_now": "The needle stands beyond the mark.",
    "stand_down": "The needle stands beyond the mark and a bar crosses the dial.",
    "not_judged": "The dial is empty.",
    "none": "A dial without a mark.",
}
_MARK_DEGREES = 52.0
_NEEDLE_DEGREES = {"good": 128.0, "watch": 66.0, "act_now": 16.0, "stand_down": 16.0}


def draw(verdict: str, theme: Theme = "screen") -> str:
    """Draw the mark of one verdict.

    Args:
        verdict: ``good``, ``watch``, ``act_now``, ``stand_down``, ``not_judged`` or ``none``.
        theme: ``screen`` or ``print``.

    Returns:
        An SVG document.

    Example:
        >>> "<title>do not run</title>" in draw("stand_down", "print")
        True
    """
    drawing = Drawing(WIDTH, HEIGHT, VERDICT_WORDS[verdict], _SHOWN[verdict], theme)
    mark(drawing, 0.0, 0.0, verdict)
    return drawing.svg()


def ink_of(verdict: str) -> Ink:
    """Give the ink of a verdict: rust for what is wrong."""
    return "rust" if verdict in {"act_now", "stand_down"} else "ink"


def mark(drawing: Drawing, x: float, y: float, verdict: str, size: float = 1.0) -> None:
    """Draw a mark into a picture.

    Args:
        drawing: The picture.
        x: Left edge [units].
        y: Upper edge [units].
        verdict: The verdict it stands for.
        size: Scale; at 1 the mark is 28 by 18 [-].
    """
    middle, foot, radius = x + 14.0 * size, y + 15.5 * size, 11.5 * size
    ink = ink_of(verdict)
    left, right, level, wide = (spell(each) for each in (middle - radius, middle + radius, foot, radius))
    drawing.curve(
        f"M{left} {level}A{wide} {wide} 0 0 1 {right} {level}Z",
        ink,
        None,
        LINE * size,
    )
    if verdict != "none":
        _ray(drawing, middle, foot, _MARK_DEGREES, radius, radius + 3.5 * size, ink, 1.6 * size)
    if verdict in _NEEDLE_DEGREES:
        _ray(drawing, middle, foot, _NEEDLE_DEGREES[verdict], 0.0, 0.88 * radius, ink, 2.4 * size)
    if verdict == "stand_down":
        across = foot - 6.0 * size
        drawing.line([(x + 0.5 * size, across), (x + 27.5 * size, across)], ink, 3.2 * size)


def _ray(
    drawing: Drawing, x: float, y: float, degrees: float, near: float, far: float, ink: Ink, width: float
) -> None:
    across, up = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    drawing.line([(x + near * across, y - near * up), (x + far * across, y - far * up)], ink, width)
