"""The truck's own circuit, drawn without current: air, wire, drive, belt and fan, with its readings in place.

Air in the symbols of ISO 1219-1, wiring in those of IEC 60617 (both drawn from memory of common practice).
"""

from __future__ import annotations

from collections.abc import Sequence

from fanwright.judging.verdict import Judgement
from fanwright.report.pictures import machine, notes
from fanwright.report.pictures.svg import LINE, THICK, WIRE, Drawing, Theme, arrow, spring
from fanwright.report.say import Reader
from fanwright.truck.model import Truck
from fanwright.visit.model import NotJudged

WIDTH, HEIGHT = 800.0, 560.0
SUPPLY_Y, TOP_Y, RIGHT_X = 262.0, 40.0, 780.0
VALVE_LEFT, VALVE_TOP, VALVE_BOX, VALVE_HIGH = 370.0, 105.0, 70.0, 70.0
P_X, EXHAUST_X = VALVE_LEFT + VALVE_BOX + 15.0, VALVE_LEFT + 2 * VALVE_BOX - 18.0
AIR_WORDS = {"nc": "shuts without current", "no": "passes without current"}
GRIP_WORDS = {"spring": "spring grips, air lets go", "air": "air grips, spring lets go"}


def draw(
    truck: Truck,
    judgements: Sequence[Judgement] = (),
    not_judged: Sequence[NotJudged] = (),
    theme: Theme = "screen",
    reader: Reader | None = None,
) -> str:
    """Draw the arrangement with the readings standing where they were taken.

    Args:
        truck: The machine: what makes it grip, what the valve does without current.
        judgements: Readings with their verdicts.
        not_judged: Readings kept without a verdict.
        theme: ``screen`` or ``print``.
        reader: Who reads; psi and English when None.

    Returns:
        An SVG document.
    """
    found = notes.Notes(judgements, not_judged, reader or Reader())
    gripped = grips_without_current(truck)
    drawing = Drawing(WIDTH, HEIGHT, "The fan drive's circuit", _desc(truck, gripped, found), theme)
    _wiring(drawing)
    _supply(drawing, found)
    _valve(drawing, truck)
    _drive_line(drawing, truck, found)
    machine.cylinder(drawing, truck.grips_by, gripped)
    machine.belt(drawing)
    machine.drive(drawing, truck, gripped, found.value_si("facing_thickness"))
    machine.fan(drawing)
    drawing.text(
        machine.CYLINDER_LEFT, machine.CYLINDER_FOOT + 14, GRIP_WORDS[truck.grips_by], 11, "start", "quiet"
    )
    state = "without current: " + ("grips" if gripped else "lets go")
    drawing.text(machine.CYLINDER_LEFT, machine.CYLINDER_FOOT + 27, state, 11, "start", "quiet")
    _readings(drawing, found)
    notes.legend(drawing, HEIGHT - 14.0)
    return drawing.svg()


def grips_without_current(truck: Truck) -> bool:
    """Say whether the drive grips while no current flows, with air in the tanks.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> grips_without_current(presets()["line-haul spring-on"])
        True
    """
    return (truck.valve == "no") == (truck.grips_by == "air")


def _desc(truck: Truck, gripped: bool, found: notes.Notes) -> str:
    state = "grips" if gripped else "lets go"
    return (
        f"Drive: {GRIP_WORDS[truck.grips_by]}. Valve: {AIR_WORDS[truck.valve]}. {truck.volts:.0f} V. "
        f"Drawn without current, when the fan {state}. {found.told()}"
    ).strip()


def _wiring(drawing: Drawing) -> None:
    """Draw battery, fuse, controller and coil wire, dashed."""
    y = 40.0
    drawing.line([(22, y + 14), (22, y), (50, y)], "ink", LINE, WIRE)
    _ground(drawing, 22, y + 14)
    for x, half in ((52, 10), (57, 5), (62, 10), (67, 5)):
        drawing.line([(x, y - half), (x, y + half)], "ink", 1.6 if half > 5 else THICK)
    drawing.line([(69, y), (96, y)], "ink", LINE, WIRE)
    drawing.box(96, y - 7, 36, 14)
    drawing.line([(96, y), (132, y)])
    drawing.line([(132, y), (168, y)], "ink", LINE, WIRE)
    drawing.box(168, y - 24, 92, 48)
    drawing.text(214, y + 4, "controller", anchor="middle")
    drawing.text(60, y + 28, "battery", 11, "middle", "quiet")
    drawing.text(114, y + 28, "fuse", 11, "middle", "quiet")
    coil_x = VALVE_LEFT - 16
    drawing.line([(260, y), (coil_x, y), (coil_x, VALVE_TOP + 18)], "ink", LINE, WIRE)
    drawing.line([(coil_x, VALVE_TOP + 52), (coil_x, VALVE_TOP + 76)], "ink", LINE, WIRE)
    _ground(drawing, coil_x, VALVE_TOP + 76)


def _ground(drawing: Drawing, x: float, y: float) -> None:
    for half, down in ((9, 0), (6, 4), (3, 8)):
        drawing.line([(x - half, y + down), (x + half, y + down)])


def _supply(drawing: Drawing, found: notes.Notes) -> None:
    """Draw reservoir, filter, line and the gauge at the inlet."""
    y = SUPPLY_Y
    drawing.line([(104, y), (P_X, y), (P_X, VALVE_TOP + VALVE_HIGH)], "ink", THICK)
    drawing.box(20, y - 19, 84, 38, "ink", "paper", LINE, corner=19)
    drawing.text(62, y + 4, "reservoir", anchor="middle")
    drawing.shape([(142, y), (166, y - 24), (190, y), (166, y + 24)], "ink", "paper")
    drawing.line([(166, y - 24), (166, y + 24)], "ink", LINE, "4 3")
    drawing.text(166, y - 30, "filter", 11, "middle", "quiet")
    drawing.line([(226, y), (226, y - 20)], "ink", THICK)
    drawing.circle(226, y, 4, None, "ink")
    notes.gauge(drawing, 226, y - 42, found.value_si("supply_gauge_still", "supply_gauge_cycling"))


def _valve(drawing: Drawing, truck: Truck) -> None:
    """Draw the 3/2 valve: coil and the box it shifts in at the left; spring and resting box at the right."""
    top, foot = VALVE_TOP, VALVE_TOP + VALVE_HIGH
    coil = VALVE_LEFT - 32
    drawing.box(coil, top + 18, 32, 34)
    drawing.line([(coil + 8, top + 52), (coil + 24, top + 18)])
    for left, passes in ((VALVE_LEFT, truck.valve == "nc"), (VALVE_LEFT + VALVE_BOX, truck.valve == "no")):
        drawing.box(left, top, VALVE_BOX, VALVE_HIGH)
        _ports(drawing, left + 15, left + VALVE_BOX - 18, passes)
    spring(drawing, VALVE_LEFT + 2 * VALVE_BOX, VALVE_LEFT + 2 * VALVE_BOX + 36, top + 35, 9, 3)
    drawing.line([(EXHAUST_X, foot), (EXHAUST_X, foot + 22)], "ink", THICK)
    drawing.shape([(EXHAUST_X - 8, foot + 22), (EXHAUST_X + 8, foot + 22), (EXHAUST_X, foot + 36)])
    does, when = AIR_WORDS[truck.valve].split(" ", 1)
    drawing.text(P_X + 9, top - 21, f"valve: {does}", 11, "start", "quiet")
    drawing.text(P_X + 9, top - 8, when, 11, "start", "quiet")


def _ports(drawing: Drawing, pressure_x: float, exhaust_x: float, passes: bool) -> None:
    """Draw what a box joins: pressure to drive, exhaust shut; or drive to exhaust, pressure shut."""
    top, foot = VALVE_TOP, VALVE_TOP + VALVE_HIGH
    start, end = ((pressure_x, foot), (pressure_x, top)) if passes else ((pressure_x, top), (exhaust_x, foot))
    arrow(drawing, start, end)
    shut = exhaust_x if passes else pressure_x
    drawing.line([(shut, foot), (shut, foot - 14)])
    drawing.line([(shut - 6, foot - 14), (shut + 6, foot - 14)])


def _drive_line(drawing: Drawing, truck: Truck, found: notes.Notes) -> None:
    """Draw the line from the valve to the air side of the drive, with the gauge at the drive."""
    port = machine.port_x(truck.grips_by)
    drawing.line(
        [
            (P_X, VALVE_TOP),
            (P_X, TOP_Y),
            (RIGHT_X, TOP_Y),
            (RIGHT_X, SUPPLY_Y + 6),
            (port, SUPPLY_Y + 6),
            (port, machine.CYLINDER_TOP),
        ],
        "ink",
        THICK,
    )
    drawing.line([(584, TOP_Y), (584, TOP_Y + 20)], "ink", THICK)
    drawing.circle(584, TOP_Y, 4, None, "ink")
    notes.gauge(drawing, 584, TOP_Y + 42, found.value_si("drive_gauge_air_on"))


def _readings(drawing: Drawing, found: notes.Notes) -> None:
    """Stand the readings where they were taken; the table of the paper has them all."""
    drive = (
        "drive_gauge_air_on",
        "fill_time",
        "drive_gauge_air_off",
        "hold_at_drive",
        "hold_test",
        "lift_off_pressure",
    )
    places: tuple[tuple[float, float, float, int, int, tuple[str, ...]], ...] = (
        (258, SUPPLY_Y - 57, 180, 2, 0, ("supply_gauge_still", "supply_gauge_cycling")),
        (616, TOP_Y + 30, 158, 3, 1, drive),
        (516, SUPPLY_Y - 56, 255, 1, 1, ("vent_time", "exhaust_look", "exhaust_puff")),
        (
            20,
            108,
            270,
            0,
            5,
            ("feed_volts", "coil_ohms", "coil_amps", "pull_in_volts", "click", "jumper_feed", "wiggle"),
        ),
        (20, SUPPLY_Y + 60, 180, 0, 1, ("build_air",)),
        (132, SUPPLY_Y + 38, 210, 0, 1, ("filter_drain",)),
        (20, 508, 260, 0, 1, ("belt_tension", "belt_look", "tensioner", "pulley_look")),
        (436, 444, 145, 1, 2, ("facing_thickness", "facing_look", "disc_look", "facing_spread")),
        (654, 322, 140, 0, 5, ("fan_look", "hub_rock", "mount_tight", "grip", "let_go", "shroud_gap")),
    )
    for x, y, room, big, small, tests in places:
        found.stand(drawing, (x, y, room), tests, big, small)
