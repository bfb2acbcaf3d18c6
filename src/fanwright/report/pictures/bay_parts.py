"""Parts of the visit's drawing that can stand anywhere: wiring, supply, valve, coolers, facing to scale.

Air in the symbols of ISO 1219-1, wiring in those of IEC 60617 (both drawn from memory of common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fanwright.quantities import Units
from fanwright.report.figures import plain
from fanwright.report.pictures.svg import LINE, THICK, THIN, WIRE, Drawing, arrow, spring
from fanwright.truck.model import Facing

INPUTS = ("coolant", "charge air", "A/C switch", "engine brake")


@dataclass(frozen=True)
class Valve:
    """Where the valve stands: two boxes side by side, the coil at the left, the spring at the right.

    Args:
        left: Left edge of the first box [units].
        top: Upper edge [units].
        box: Width of a box [units].
        high: Height of a box [units].
        shuts: Whether it shuts without current.
    """

    left: float
    top: float
    box: float
    high: float
    shuts: bool

    @property
    def foot(self) -> float:
        """Its lower edge [units]."""
        return self.top + self.high

    @property
    def pressure_x(self) -> float:
        """Where the supply comes in and, above, the drive line leaves, in the box at rest [units]."""
        return self.left + self.box * 1.22

    @property
    def exhaust_x(self) -> float:
        """Where the exhaust leaves [units]."""
        return self.left + self.box * 1.74

    @property
    def coil_x(self) -> float:
        """Middle of the coil [units]."""
        return self.left - 15.0


def ground(drawing: Drawing, x: float, y: float) -> None:
    """Draw a ground symbol below a point."""
    for half, down in ((9, 0), (6, 4), (3, 8)):
        drawing.line([(x - half, y + down), (x + half, y + down)])


def battery(drawing: Drawing, x: float, y: float, fuse_x: float, end_x: float) -> None:
    """Draw ground, battery and fuse, wired to the controller."""
    drawing.line([(x, y + 12), (x, y), (x + 24, y)], "ink", LINE, WIRE)
    ground(drawing, x, y + 12)
    for at, half in ((26, 10), (31, 5), (36, 10), (41, 5)):
        drawing.line([(x + at, y - half), (x + at, y + half)], "ink", 1.6 if half > 5 else THICK)
    drawing.line([(x + 43, y), (fuse_x, y)], "ink", LINE, WIRE)
    drawing.box(fuse_x, y - 6, 30, 12)
    drawing.line([(fuse_x, y), (fuse_x + 30, y)])
    drawing.line([(fuse_x + 30, y), (end_x, y)], "ink", LINE, WIRE)
    drawing.text(x + 34, y + 24, "battery", 11, "middle", "quiet")
    drawing.text(fuse_x + 15, y + 24, "fuse", 11, "middle", "quiet")


def inputs(drawing: Drawing, x: float, symbol_x: float, end_x: float, levels: Sequence[float]) -> None:
    """Draw what asks for the fan: two sensors, the A/C pressure switch, the engine brake."""
    for name, y in zip(INPUTS, levels, strict=True):
        drawing.text(x, y + 4, name, 11, "start", "quiet")
        if name in ("coolant", "charge air"):
            drawing.box(symbol_x, y - 4, 24, 8)
            drawing.line([(symbol_x - 2, y + 8), (symbol_x + 4, y + 8), (symbol_x + 20, y - 8)], "ink", THIN)
        else:
            drawing.line([(symbol_x, y), (symbol_x + 6, y), (symbol_x + 19, y - 8)], "ink", LINE)
            drawing.line([(symbol_x + 18, y), (symbol_x + 24, y)], "ink", LINE)
        drawing.line([(symbol_x + 24, y), (end_x, y)], "ink", LINE, WIRE)


def supply(drawing: Drawing, y: float, places: tuple[float, float, float], end_x: float) -> None:
    """Draw reservoir, filter and the line on to the valve.

    Args:
        drawing: The picture.
        y: Level of the line [units].
        places: Left edge of the reservoir, its width, and the middle of the filter [units].
        end_x: Where the line ends [units].
    """
    left, wide, filter_x = places
    drawing.line([(left + wide, y), (end_x, y)], "ink", THICK)
    drawing.box(left, y - 18, wide, 36, "ink", "paper", LINE, corner=18)
    drawing.text(left + wide / 2, y + 4, "reservoir", 11, "middle")
    drawing.shape(
        [(filter_x - 23, y), (filter_x, y - 23), (filter_x + 23, y), (filter_x, y + 23)], "ink", "paper"
    )
    drawing.line([(filter_x, y - 23), (filter_x, y + 23)], "ink", LINE, "4 3")
    drawing.text(filter_x + 14, y - 16, "filter", 11, "start", "quiet")


def tee(drawing: Drawing, x: float, y: float, gauge_y: float) -> None:
    """Draw the branch from a line to a gauge."""
    drawing.line([(x, y), (x, gauge_y)], "ink", THICK)
    drawing.circle(x, y, 4, None, "ink")


def valve(drawing: Drawing, at: Valve) -> None:
    """Draw the 3/2 valve: coil and the box it shifts in at the left; resting box and spring at the right."""
    coil_top, coil_foot = at.top + at.high * 0.26, at.top + at.high * 0.74
    drawing.box(at.left - 30, coil_top, 30, coil_foot - coil_top)
    drawing.line([(at.left - 23, coil_foot), (at.left - 7, coil_top)])
    for left, passes in ((at.left, at.shuts), (at.left + at.box, not at.shuts)):
        drawing.box(left, at.top, at.box, at.high)
        _ports(drawing, at, left, passes)
    right = at.left + 2 * at.box
    spring(drawing, right, right + 32, at.top + at.high / 2, 9, 3)
    drawing.line([(at.exhaust_x, at.foot), (at.exhaust_x, at.foot + 18)], "ink", THICK)
    drawing.shape(
        [(at.exhaust_x - 8, at.foot + 18), (at.exhaust_x + 8, at.foot + 18), (at.exhaust_x, at.foot + 32)]
    )


def _ports(drawing: Drawing, at: Valve, left: float, passes: bool) -> None:
    """Draw what a box joins: pressure to drive, exhaust shut; or drive to exhaust, pressure shut."""
    pressure_x, exhaust_x = left + at.box * 0.22, left + at.box * 0.74
    start, end = (
        ((pressure_x, at.foot), (pressure_x, at.top))
        if passes
        else ((pressure_x, at.top), (exhaust_x, at.foot))
    )
    arrow(drawing, start, end)
    shut = exhaust_x if passes else pressure_x
    drawing.line([(shut, at.foot), (shut, at.foot - 13)])
    drawing.line([(shut - 6, at.foot - 13), (shut + 6, at.foot - 13)])


def cooler(drawing: Drawing, x: float, top: float, foot: float) -> None:
    """Draw the coolers from the side: core with fins."""
    fins = drawing.pattern("bay-fins", "quiet", 90.0, 5.0, 0.8)
    drawing.box(x, top, 20, foot - top, "ink", fins)
    drawing.box(x + 24, top + 12, 9, foot - top - 24, "ink", fins)


def tensioner(drawing: Drawing, x: float, y: float) -> None:
    """Draw the tensioner's idler with its arm and spring."""
    drawing.circle(x, y, 14, "ink", "paper")
    drawing.circle(x, y, 2.5, None, "ink")
    drawing.line([(x, y), (x + 36, y + 12)], "ink", THICK)
    spring(drawing, x + 38, x + 64, y + 12, 6, 3)
    drawing.line([(x + 64, y + 3), (x + 64, y + 21)])


def bracket(drawing: Drawing, x: float, y: float, half: float) -> None:
    """Draw the mount the drive is fixed to: a line hatched on the engine's side."""
    drawing.line([(x, y - half), (x, y + half)], "ink", LINE)
    steps = int(2 * half // 9)
    for index in range(steps):
        level = y - half + 9 * index
        drawing.line([(x, level), (x - 7, level + 7)], "ink", THIN)


def wheel(drawing: Drawing, x: float, y: float) -> None:
    """Draw a steering wheel: the cab."""
    drawing.circle(x, y, 13, "ink")
    drawing.circle(x, y, 3, None, "ink")
    for end in ((x - 12, y - 3), (x + 12, y - 3), (x, y + 13)):
        drawing.line([(x, y), end])


def facing_scale(
    drawing: Drawing, place: tuple[float, float, float], facing: Facing, now_m: float | None, units: Units
) -> None:
    """Draw the facing to scale: dashed when new, hatched as read, and the line at which it is renewed.

    Args:
        drawing: The picture.
        place: Left edge, upper edge, and the width of a new facing [units].
        facing: The facing of this truck.
        now_m: Thickness as read [m], or None.
        units: The reader's units.
    """
    x, y, wide = place
    per_m = wide / facing.new_m
    drawing.box(x, y, wide, 18, "quiet", None, THIN, dash="4 3")
    if now_m is not None:
        hatch = drawing.pattern("bay-facing", "ink", 45.0, 6.0, 1.0)
        drawing.box(x, y, min(now_m * per_m, 1.2 * wide), 18, "ink", hatch)
    drawing.line([(x, y - 5), (x, y + 23)], "ink", THICK)
    limit = x + facing.limit_m * per_m
    drawing.line([(limit, y - 5), (limit, y + 26)], "rust", 2.4)
    drawing.text(x, y - 9, "facing, to scale", 11, "start", "quiet")
    renew = plain(facing.limit_m, "length", units)
    drawing.text(x, y + 38, f"renew at {renew}", 11, "start", "rust")
    drawing.text(x, y + 52, f"new {plain(facing.new_m, 'length', units)}", 11, "start", "quiet")
