"""The drawing a technician works on: the truck's circuit with every test standing where it is done.

The same for all four arrangements: symbols and springs follow what makes the drive grip and what the valve
does without current; needles stand at what was read, and the facing is as thick as it was measured.
"""

from __future__ import annotations

from collections.abc import Sequence

from fanwright.report.figures import reading_words
from fanwright.report.pictures import bay_parts as parts
from fanwright.report.pictures import bay_places as places
from fanwright.report.pictures import machine, notes
from fanwright.report.pictures.bay_parts import Valve
from fanwright.report.pictures.bay_spots import Area, BayDrawing, Spot, stand
from fanwright.report.pictures.circuit import AIR_WORDS, GRIP_WORDS, grips_without_current
from fanwright.report.pictures.needle import mark
from fanwright.report.pictures.svg import LINE, THICK, WIRE, Theme
from fanwright.report.say import Reader
from fanwright.truck.model import Truck
from fanwright.visit.model import Assessment

_PHONE_SCALE = 0.56


def spots_of(assessment: Assessment, reader: Reader | None = None, after: bool = False) -> tuple[Spot, ...]:
    """Give the tests of a drawing from what is said of a visit.

    Args:
        assessment: What is said of the visit.
        reader: Who reads; psi and English when None.
        after: Whether readings after the repair stand in the place of those before it.

    Returns:
        Every test a person can do, in the order of the procedure.
    """
    who = reader or Reader()
    found = {
        each.reading.test: (each.reading, "not_judged") for each in assessment.not_judged if each.reading
    }
    found |= {each.test: (each.reading, each.verdict) for each in assessment.verdicts}
    if after:
        found |= {each.test: (each.reading, each.verdict) for each in assessment.verdicts_after}
    spots = []
    for test in who.catalogue.tests.values():
        if test.only_from:
            continue
        if test.id not in found:
            spots.append(
                Spot(test.id, test.label, test.minutes, not_done=assessment.not_done.get(test.id, ""))
            )
            continue
        reading, verdict = found[test.id]
        value = None if reading.measured is None else reading.measured.si
        spots.append(Spot(test.id, test.label, test.minutes, reading_words(reading, who), verdict, value))
    return tuple(spots)


def draw(
    truck: Truck,
    spots: Sequence[Spot] = (),
    nexts: Sequence[str] = (),
    theme: Theme = "screen",
    small: bool = False,
    reader: Reader | None = None,
    chosen: bool = True,
) -> str:
    """Draw a truck with its tests.

    Args:
        truck: The machine: what makes it grip, what the valve does without current.
        spots: The tests; those without a place here are left out.
        nexts: Tests worth doing next, the best first.
        theme: ``screen`` or ``print``.
        small: Whether it is drawn for a phone.
        reader: Who reads; psi and English when None.
        chosen: Whether the tests can be chosen one by one; else the drawing is one picture with its words.

    Returns:
        An SVG document.
    """
    by_test = {spot.test: spot for spot in spots}
    wide, high = (places.SMALL, places.SMALL_HIGH) if small else (places.WIDE, places.WIDE_HIGH)
    gripped = grips_without_current(truck)
    state = "grips" if gripped else "lets go"
    told = (
        f"Drive: {GRIP_WORDS[truck.grips_by]}. Valve: {AIR_WORDS[truck.valve]}. {truck.volts:.0f} V. "
        f"Drawn without current, when the fan {state}."
    )
    if not chosen:
        told = " ".join([told, *(f"{spot.told}." for spot in spots if spot.shown)])
    drawing = BayDrawing(wide, high, "The fan drive's circuit", told, theme)
    drawing.chosen, drawing.mark = chosen, "-small" if small else ""
    (_small if small else _wide)(drawing, truck, by_test, reader or Reader())
    for area in places.SMALL_AREAS if small else places.WIDE_AREAS:
        _stand(drawing, area, by_test, nexts)
    return drawing.group_svg() if chosen else drawing.svg()


def _stand(drawing: BayDrawing, area: Area, by_test: dict[str, Spot], nexts: Sequence[str]) -> None:
    stand(drawing, area, [by_test[test] for test in area.tests if test in by_test], nexts)


def _si(by_test: dict[str, Spot], *tests: str) -> float | None:
    values = (by_test[test].value_si for test in tests if test in by_test)
    return next((value for value in values if value is not None), None)


def _wide(drawing: BayDrawing, truck: Truck, by_test: dict[str, Spot], reader: Reader) -> None:
    valve = Valve(446, 110, 66, 66, truck.valve == "nc")
    parts.battery(drawing, 24, 26, 104, 178)
    drawing.box(178, 8, 154, 158)
    drawing.text(255, 25, "controller", 12, "middle")
    parts.inputs(drawing, 14, 128, 178, (64, 85, 106, 127))
    _coil_wire(drawing, valve, [(332, 143), (valve.left - 30, 143)], by_wire_top=False)
    parts.supply(drawing, 232, (14, 90, 166), valve.pressure_x)
    drawing.line([(valve.pressure_x, 232), (valve.pressure_x, valve.foot)], "ink", THICK)
    parts.tee(drawing, 290, 232, 252)
    notes.gauge(drawing, 290, 276, _si(by_test, "supply_gauge_still", "supply_gauge_cycling"))
    parts.valve(drawing, valve)
    does, when = AIR_WORDS[truck.valve].split(" ", 1)
    drawing.text(616, 147, f"valve: {does}", 11, "start", "quiet")
    drawing.text(616, 160, when, 11, "start", "quiet")
    port = machine.port_x(truck.grips_by)
    drawing.line(
        [
            (valve.pressure_x, valve.top),
            (valve.pressure_x, 28),
            (788, 28),
            (788, 358),
            (port, 358),
            (port, machine.CYLINDER_TOP + 96),
        ],
        "ink",
        THICK,
    )
    parts.tee(drawing, 562, 28, 50)
    notes.gauge(drawing, 562, 72, _si(by_test, "drive_gauge_air_on"))
    drawing.open('transform="translate(0 96)"')
    _machine(drawing, truck, _si(by_test, "facing_thickness"))
    drawing.close()
    drawing.text(452, 430, GRIP_WORDS[truck.grips_by], 11, "start", "quiet")
    state = "grips" if grips_without_current(truck) else "lets go"
    drawing.text(452, 444, f"without current: {state}", 11, "start", "quiet")
    parts.cooler(drawing, 656, 404, 596)
    parts.facing_scale(drawing, (324, 640, 92), truck.facing, _si(by_test, "facing_thickness"), reader.units)
    parts.wheel(drawing, 28, 738)
    _legend(drawing, 14, 778)


def _small(drawing: BayDrawing, truck: Truck, by_test: dict[str, Spot], reader: Reader) -> None:
    del reader
    valve = Valve(60, 222, 56, 54, truck.valve == "nc")
    parts.battery(drawing, 16, 20, 100, 178)
    drawing.box(178, 6, 206, 156)
    drawing.text(281, 22, "controller", 12, "middle")
    parts.inputs(drawing, 8, 112, 178, (52, 71, 90, 109))
    _coil_wire(drawing, valve, [(196, 162), (196, 190), (valve.coil_x, 190)], by_wire_top=True)
    parts.valve(drawing, valve)
    does, when = AIR_WORDS[truck.valve].split(" ", 1)
    drawing.text(60, 206, f"valve: {does} {when}", 11, "start", "quiet")
    top = 666.0
    drawing.line(
        [
            (valve.pressure_x, valve.top),
            (valve.pressure_x, 212),
            (382, 212),
            (382, top + 34),
            (_phone_x(machine.port_x(truck.grips_by)), top + 34),
            (_phone_x(machine.port_x(truck.grips_by)), top + 48),
        ],
        "ink",
        THICK,
    )
    parts.tee(drawing, 236, 212, 232)
    notes.gauge(drawing, 236, 254, _si(by_test, "drive_gauge_air_on"))
    drawing.line(
        [(valve.pressure_x, valve.foot), (valve.pressure_x, 318), (197, 318), (197, 488)], "ink", THICK
    )
    parts.supply(drawing, 488, (8, 78, 120), 197)
    parts.tee(drawing, 172, 488, 508)
    notes.gauge(drawing, 172, 531, _si(by_test, "supply_gauge_still", "supply_gauge_cycling"))
    drawing.open(
        f'class="scaled" transform="translate(-6 {top + 48 - 282 * _PHONE_SCALE:.1f}) scale({_PHONE_SCALE})"'
    )
    drawing.muted = True
    _machine(drawing, truck, _si(by_test, "facing_thickness"))
    parts.cooler(drawing, 646, 308, 500)
    drawing.muted = False
    drawing.close()
    parts.wheel(drawing, 24, 1222)


def _phone_x(x: float) -> float:
    return x * _PHONE_SCALE - 6


def _machine(drawing: BayDrawing, truck: Truck, facing_m: float | None) -> None:
    gripped = grips_without_current(truck)
    machine.cylinder(drawing, truck.grips_by, gripped)
    machine.belt(drawing)
    parts.tensioner(drawing, 122, 452)
    parts.bracket(drawing, 232, machine.SHAFT_Y, 22)
    machine.drive(drawing, truck, gripped, facing_m)
    machine.fan(drawing)


def _coil_wire(
    drawing: BayDrawing, valve: Valve, wire: Sequence[tuple[float, float]], by_wire_top: bool
) -> None:
    """Draw the wire to the coil and on to ground."""
    end = [(valve.coil_x, valve.top + valve.high * 0.26)] if by_wire_top else []
    drawing.line([*wire, *end], "ink", LINE, WIRE)
    foot = valve.top + valve.high * 0.74
    drawing.line([(valve.coil_x, foot), (valve.coil_x, foot + 22)], "ink", LINE, WIRE)
    parts.ground(drawing, valve.coil_x, foot + 22)


def _legend(drawing: BayDrawing, x: float, y: float) -> None:
    """Explain marks, rings and lines."""
    for verdict, words in (
        ("good", "good"),
        ("watch", "watch"),
        ("act_now", "act now"),
        ("stand_down", "do not run"),
        ("not_judged", "not judged"),
    ):
        mark(drawing, x, y - 12, verdict, 0.75)
        x += 24 + 1.14 * drawing.text(x + 24, y, words, 11, "start", "quiet") + 10
    drawing.circle(x + 8, y - 4, 8, "quiet", "paper", 1)
    drawing.text(x + 8, y, "3", 11, "middle", "quiet")
    x += 22 + 1.14 * drawing.text(x + 22, y, "test open, its minutes", 11, "start", "quiet") + 10
    drawing.line([(x, y - 4), (x + 20, y - 4)], "ink", THICK)
    x += 26 + 1.14 * drawing.text(x + 26, y, "air", 11, "start", "quiet") + 10
    drawing.line([(x, y - 4), (x + 20, y - 4)], "ink", LINE, WIRE)
    drawing.text(x + 26, y, "wire", 11, "start", "quiet")
