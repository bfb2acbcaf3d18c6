"""The machine in the circuit's picture: spring cylinder, belt, drive with its facing, fan and shroud."""

from __future__ import annotations

import math

from fanwright.report.pictures.svg import CENTRE, LINE, THICK, THIN, Drawing, arrow, spring
from fanwright.truck.model import Truck

CYLINDER_TOP, CYLINDER_FOOT = 282.0, 320.0
CYLINDER_LEFT, CYLINDER_RIGHT = 452.0, 556.0
_PISTON_WIDE, _TRAVEL = 10.0, 10.0
SHAFT_Y = 404.0
_STEEL_X = 412.0  # the steel face stands still along the shaft; the plate with the facing moves
_NEW_WIDE = 44.0  # of a new facing on the picture; a worn one is thinner in proportion
_FAN_X = 608.0


def port_x(grips_by: str) -> float:
    """Give where air enters the cylinder: it pushes the piston right to grip, left to let go."""
    return CYLINDER_RIGHT - 14.0 if grips_by == "spring" else CYLINDER_LEFT + 20.0


def _shift(gripped: bool) -> float:
    """Give how far piston, rod and plate stand to the left of gripping."""
    return 0.0 if gripped else _TRAVEL


def cylinder(drawing: Drawing, grips_by: str, gripped: bool) -> None:
    """Draw the single-acting cylinder, its spring on the side away from the air."""
    middle = (CYLINDER_TOP + CYLINDER_FOOT) / 2
    at = (CYLINDER_LEFT + CYLINDER_RIGHT) / 2 - _shift(gripped) + _TRAVEL / 2
    drawing.box(
        CYLINDER_LEFT,
        CYLINDER_TOP,
        CYLINDER_RIGHT - CYLINDER_LEFT,
        CYLINDER_FOOT - CYLINDER_TOP,
        "ink",
        "paper",
    )
    drawing.box(at, CYLINDER_TOP, _PISTON_WIDE, CYLINDER_FOOT - CYLINDER_TOP)
    if grips_by == "spring":
        spring(drawing, CYLINDER_LEFT, at, middle, 13, 4)
    else:
        spring(drawing, at + _PISTON_WIDE, CYLINDER_RIGHT, middle, 13, 4)
    plate = plate_x(gripped, _NEW_WIDE) + 6
    for y in (middle - 2.5, middle + 2.5):
        drawing.line([(at, y), (plate, y)], "ink", 1.2)
    drawing.line([(plate, middle - 2.5), (plate, SHAFT_Y - 64)], "ink", THICK)
    if gripped:
        arrow(drawing, (CYLINDER_LEFT - 34, middle - 10), (CYLINDER_LEFT - 10, middle - 10))
    else:
        arrow(drawing, (CYLINDER_LEFT - 10, middle - 10), (CYLINDER_LEFT - 34, middle - 10))


def plate_x(gripped: bool, facing_wide: float) -> float:
    """Give the left edge of the plate that carries the facing."""
    return _STEEL_X - facing_wide - 12 - _shift(gripped)


def drive(drawing: Drawing, truck: Truck, gripped: bool, thickness_m: float | None) -> None:
    """Draw pulley, plate, facing to scale and steel face on the shaft."""
    y = SHAFT_Y
    share = 1.0 if thickness_m is None else min(max(thickness_m / truck.facing.new_m, 0.1), 1.2)
    wide = _NEW_WIDE * share
    plate = plate_x(gripped, wide)
    drawing.line([(232, y), (650, y)], "quiet", THIN, CENTRE)
    _pulley(drawing, y)
    for half in (9, -9):
        drawing.line([(288, y + half * 2), (plate, y + half * 2)])
    drawing.box(plate, y - 64, 12, 128, "ink", "paper")
    hatch = drawing.pattern("circuit-facing", "ink", 45.0, 6.0, 1.0)
    for top in (y - 58, y + 20):
        drawing.box(plate + 12, top, wide, 38, "ink", hatch)
    drawing.box(_STEEL_X, y - 64, 12, 128, "ink", "pale")
    for half in (-12, 12):
        drawing.line([(_STEEL_X + 12, y + half), (_FAN_X - 8, y + half)])
    for x in (316, 464):
        _bearing(drawing, x, y - 18)
        _bearing(drawing, x, y + 18)
    drawing.text(_STEEL_X + 18, y - 28, "steel face", 11, "start", "quiet")
    foot = y + 64
    drawing.line([(plate + 12, y + 58), (plate + 12, foot + 24)], "quiet", THIN)
    drawing.line([(plate + 12 + wide, y + 58), (plate + 12 + wide, foot + 24)], "quiet", THIN)
    drawing.line([(plate + 12, foot + 18), (422, foot + 18)], "ink", THIN)
    drawing.text(plate + 6, foot + 22, "facing", 11, "end", "quiet")


def _bearing(drawing: Drawing, x: float, y: float) -> None:
    drawing.box(x - 7, y - 6, 14, 12, "ink", "paper", 1.2)
    drawing.line([(x - 4, y), (x + 4, y)], "ink", THIN)
    drawing.line([(x, y - 3.5), (x, y + 3.5)], "ink", THIN)


def _pulley(drawing: Drawing, y: float) -> None:
    left, right, half = 240.0, 288.0, 40.0
    teeth = 6
    step = (right - left) / teeth
    for side in (-1.0, 1.0):
        points = [(left, y + side * (half - 6))]
        for index in range(teeth):
            points += [
                (left + step * (index + 0.5), y + side * half),
                (left + step * (index + 1), y + side * (half - 6)),
            ]
        drawing.line(points)
    for x in (left, right):
        drawing.line([(x, y - half + 6), (x, y + half - 6)])


def belt(drawing: Drawing) -> None:
    """Draw the belt from the crank pulley to the drive's pulley, seen from the front."""
    crank, small = (64.0, SHAFT_Y + 26.0, 42.0), (172.0, SHAFT_Y, 30.0)
    for x, y, radius in (crank, small):
        drawing.circle(x, y, radius)
        drawing.circle(x, y, 3.0, None, "ink")
    apart = math.hypot(small[0] - crank[0], small[1] - crank[1])
    lean = math.atan2(small[1] - crank[1], small[0] - crank[0])
    for side in (-1.0, 1.0):
        normal = lean + side * math.acos((crank[2] - small[2]) / apart)
        drawing.line(
            [
                (x + radius * math.cos(normal), y + radius * math.sin(normal))
                for x, y, radius in (crank, small)
            ],
            "ink",
            2.4,
        )
    for side in (-1.0, 1.0):
        drawing.line(
            [(small[0], small[1] + side * small[2]), (240, small[1] + side * 40)], "quiet", THIN, "1.5 3.5"
        )
    drawing.text(64, crank[1] + 62, "crank pulley, belt", 11, "middle", "quiet")
    drawing.text(172, SHAFT_Y - 40, "fan-drive pulley", 11, "middle", "quiet")


def fan(drawing: Drawing) -> None:
    """Draw the fan from the side, and the shroud round its tips."""
    y, x = SHAFT_Y, _FAN_X
    drawing.box(x - 8, y - 30, 16, 60, "ink", "paper")
    for side in (-1.0, 1.0):
        tip, root = y + side * 104, y + side * 30
        drawing.curve(
            f"M{x - 8} {root}C{x - 22} {root + side * 24} {x - 18} {tip - side * 10} {x - 10} {tip}"
            f"L{x + 8} {tip}C{x + 18} {tip - side * 26} {x + 2} {root + side * 26} {x + 8} {root}Z"
        )
        drawing.line(
            [(x - 26, y + side * 118), (x + 34, y + side * 118), (x + 34, y + side * 132)], "ink", LINE
        )
    drawing.text(x + 20, y + 58, "fan", 11, "start", "quiet")
    drawing.text(x + 40, y + 122, "shroud", 11, "start", "quiet")
