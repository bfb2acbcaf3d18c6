"""The facing to scale: new, now, from where it is watched, and where it is renewed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fanwright.quantities import Units, write_fraction
from fanwright.report.figures import measured, plain
from fanwright.report.font import font
from fanwright.report.pictures.axis import round_step
from fanwright.report.pictures.svg import LINE, THICK, THIN, Drawing, Ink, Theme

_LEFT, _RIGHT, _TOP, _BODY = 16.0, 16.0, 62.0, 46.0
_TEXT = 12.0
_THIRTY_SECOND = 0.0254 / 32.0


@dataclass(frozen=True)
class Now:
    """A facing as measured.

    Args:
        thickness_m: Its thickness, the thinnest of all places [m].
        sd_m: Its standard uncertainty [m].
        division_m: The scale division it was read with, or 0 [m].
        each_m: The places round the ring [m].
        name: What it is called in the picture, such as ``now`` or ``after``.
    """

    thickness_m: float
    sd_m: float = 0.0
    division_m: float = 0.0
    each_m: tuple[float, ...] = ()
    name: str = "now"


def draw(
    new_m: float,
    watch_m: float,
    limit_m: float,
    now: Now | None = None,
    theme: Theme = "screen",
    units: Units | None = None,
    width: float = 520.0,
) -> str:
    """Draw the facing as a gauge, thickness from left to right.

    Args:
        new_m: Thickness of a new facing [m].
        watch_m: Below this it is watched [m].
        limit_m: At or below this it is renewed [m].
        now: What was measured, or None.
        theme: ``screen`` or ``print``.
        units: The reader's units; inches without.
        width: Width of the view box [units].

    Returns:
        An SVG document.
    """
    units = units or Units()
    drawing = Drawing(width, 180.0, "Facing thickness", _desc(new_m, watch_m, limit_m, now, units), theme)
    longest = 1.08 * max(new_m, now.thickness_m if now else 0.0)

    def x(thickness_m: float) -> float:
        return _LEFT + thickness_m / longest * (width - _LEFT - _RIGHT)

    drawing.pattern("facing-left", "ink", 45.0, 7.0, 1.0)
    drawing.box(x(0.0), _TOP, x(new_m) - x(0.0), _BODY, "quiet", None, THIN, dash="4 3")
    if now:
        drawing.box(x(0.0), _TOP, x(now.thickness_m) - x(0.0), _BODY, "ink", "facing-left", LINE)
        for place_m in now.each_m:
            drawing.line([(x(place_m), _TOP - 7), (x(place_m), _TOP)], "ink", LINE)
        _now(drawing, now, x(now.thickness_m), x(now.sd_m) - x(0.0), units)
    drawing.line([(x(0.0), _TOP - 12), (x(0.0), _TOP + _BODY + 12)], "ink", THICK)
    drawing.line([(x(limit_m), _TOP - 12), (x(limit_m), _TOP + _BODY + 12)], "rust", 2.4)
    drawing.line([(x(watch_m), _TOP - 6), (x(watch_m), _TOP + _BODY + 12)], "ink", LINE, "5 3")
    _scale(drawing, x, longest, units)
    limits: tuple[tuple[float, str, float, Ink], ...] = (
        (limit_m, "renew at", 0.0, "rust"),
        (watch_m, "watch under", 16.0, "ink"),
        (new_m, "new", 0.0, "ink"),
    )
    for place_m, name, lower, ink in limits:
        words = f"{name} {plain(place_m, 'length', units)}"
        level = _TOP + _BODY + 50 + lower
        drawing.line([(x(place_m), _TOP + _BODY + 36), (x(place_m), level)], "quiet", THIN)
        drawing.text(x(place_m) - 5, level, words, _TEXT, "end", ink, bold=True)
    return drawing.svg()


def _now(drawing: Drawing, now: Now, place: float, sd_wide: float, units: Units) -> None:
    """Write the value above the facing's end, with a whisker of two standard uncertainties."""
    drawing.line([(place, 30.0), (place, _TOP)], "ink", LINE)
    if sd_wide > 0.0:
        y = _TOP - 16
        left, right = place - 2 * sd_wide, place + 2 * sd_wide
        drawing.line([(left, y), (right, y)], "ink", LINE)
        for end in (left, right):
            drawing.line([(end, y - 4), (end, y + 4)], "ink", LINE)
    value = measured(now.thickness_m, "length", units, now.division_m, now.sd_m)
    fraction = write_fraction(now.thickness_m)
    about = f", about {fraction}" if units.unit("length").printed == "in" and fraction != value else ""
    wide = font().width(value, 16.0, bold=True)
    start = min(place - wide / 2, drawing.width - _RIGHT - wide - font().width(now.name + about, _TEXT) - 8)
    drawing.text(start, 24.0, value, 16.0, bold=True)
    drawing.text(start + wide + 6, 24.0, now.name + about, _TEXT, ink="quiet")


def _scale(drawing: Drawing, x: Callable[[float], float], longest_m: float, units: Units) -> None:
    """Draw a rule below: thirty-seconds of an inch, or round steps of another unit."""
    unit = units.unit("length")
    inches = unit.printed == "in"
    step_m = _THIRTY_SECOND if inches else round_step(longest_m / unit.factor, 12) * unit.factor
    y = _TOP + _BODY + 12
    drawing.line([(x(0.0), y), (x(longest_m), y)], "ink", THIN)
    for index in range(int(longest_m / step_m) + 1):
        main = index % (4 if inches else 2) == 0
        drawing.line([(x(index * step_m), y), (x(index * step_m), y + (8 if main else 4))], "ink", THIN)
        if main:
            figure = (
                write_fraction(index * step_m).removesuffix(" in")
                if inches
                else f"{index * step_m / unit.factor:g}"
            )
            if x(index * step_m) < drawing.width - 40:
                drawing.text(x(index * step_m), y + 20, figure, 10.0, "middle", "quiet")
    drawing.text(drawing.width, y + 20, unit.printed, 10.0, "end", "quiet")


def _desc(new_m: float, watch_m: float, limit_m: float, now: Now | None, units: Units) -> str:
    shown = (
        "not measured"
        if now is None
        else measured(now.thickness_m, "length", units, now.division_m, now.sd_m)
    )
    new, watch, limit = (plain(each, "length", units) for each in (new_m, watch_m, limit_m))
    return f"Facing {shown}; new {new}, watched under {watch}, renewed at {limit} or less."
