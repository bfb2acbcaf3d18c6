"""Read a pressure trace: the file, what its columns are called, what is known of the drive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.quantities import dimension, read
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.evidence.trace import TraceResult
    from fanwright.evidence.trace.identify_machine import Machine
    from fanwright.evidence.trace.identify_result import Identified, Interval
    from fanwright.evidence.trace.levels import Level
    from fanwright.evidence.trace.result import Times
    from fanwright.report.say import Reader
    from fanwright.truck.model import Truck

PICTURES = (".svg", ".png")


@dataclass(frozen=True)
class ReadTrace:
    """A trace that was read, in the shop it was read in.

    Args:
        result: What it says by itself.
        identified: The air circuit behind it.
        shop: The shop.
    """

    result: TraceResult
    identified: Identified
    shop: Shop


def read_trace(
    path: Path,
    columns: str = "",
    *,
    truck: str = "",
    sizes: Mapping[str, str] | None = None,
    plot: Path | None = None,
    shop_file: Path | None = None,
) -> ReadTrace:
    """Read a pressure trace, and draw it if asked to.

    Args:
        path: The file.
        columns: What it calls its columns, such as ``drive=P2[psi],time=t[ms]``; empty for our own names.
        truck: A preset's name or a visit file that says what the drive is; empty without.
        sizes: Instead of a truck: ``dead_volume``, ``piston_area`` and ``stroke`` as typed.
        plot: Picture to write, ``.svg`` or ``.png``, or None.
        shop_file: The shop's own data, or None.

    Returns:
        What the trace says.

    Raises:
        InputError: Every mistake of what was given and of the file.
    """
    from fanwright.evidence import trace
    from fanwright.evidence.trace.identify import identify

    mistakes: list[Message] = []
    shop = open_shop(shop_file, path)
    machine = _tried(mistakes, lambda: find_machine(truck, sizes or {}, shop))
    named = _tried(mistakes, lambda: split_columns(columns))
    if plot is not None and plot.suffix.lower() not in PICTURES:
        mistakes.append(
            Message(
                "{file}: a picture is written as {kinds}",
                {"file": text(plot), "kinds": text(", ".join(PICTURES))},
            )
        )
    result = _tried(mistakes, lambda: trace.read_trace(path, named))
    if mistakes or result is None:
        raise InputError(mistakes)
    identified = identify(result, machine, curves=plot is not None)
    if plot is not None:
        _draw(result, identified, plot, shop)
    return ReadTrace(result, identified, shop)


def _tried(mistakes: list[Message], work: Any) -> Any:
    try:
        return work()
    except InputError as error:
        mistakes += error.messages
        return None


def split_columns(typed: str) -> dict[str, str] | None:
    """Split ``drive=P2[psi],time=t[ms]`` into roles and column names.

    Raises:
        InputError: A part has no ``=``, or names a role twice.

    Example:
        >>> split_columns("drive=P2[psi],time=t[ms]")
        {'drive': 'P2[psi]', 'time': 't[ms]'}
    """
    found: dict[str, str] = {}
    mistakes = []
    for part in filter(None, (piece.strip() for piece in typed.split(","))):
        role, equals, name = part.partition("=")
        role = role.strip().casefold()
        if not equals or not name.strip() or role in found:
            mistakes.append(
                Message(
                    "--columns: «{part}» is not of the form {form}, each role once",
                    {"part": text(part), "form": text("drive=P2[psi],time=t[ms]")},
                )
            )
        found[role] = name.strip()
    if mistakes:
        raise InputError(mistakes)
    return found or None


DIMENSIONS = {"dead_volume": "volume", "piston_area": "area", "stroke": "length"}


def find_machine(truck: str, typed: Mapping[str, str], shop: Shop) -> Machine | None:
    """Find the drive a trace was taken on.

    Args:
        truck: A preset's name or a visit file; empty without.
        typed: Instead of a truck: ``dead_volume``, ``piston_area`` and ``stroke`` as typed.
        shop: The shop.

    Returns:
        The drive, or None where nothing was given.

    Raises:
        InputError: Every mistake of what was given.
    """
    from fanwright.evidence.trace.identify_machine import machine_of, machine_of_volumes

    given = {name: value for name, value in typed.items() if value}
    if truck and given:
        raise InputError(Message("Give either a truck or the sizes of its drive, not both"))
    if truck:
        return machine_of(find_truck(truck, shop))
    if not given:
        return None
    mistakes = [
        Message(
            "{option} is missing: dead volume, piston area and stroke are wanted together",
            {"option": text("--" + name.replace("_", "-"))},
        )
        for name in DIMENSIONS
        if name not in given
    ]
    values: dict[str, float] = {}
    for name, value in given.items():
        si = _tried(mistakes, lambda name=name, value=value: read(value, DIMENSIONS[name]).si)
        if si is not None and si <= 0.0:
            mistakes.append(
                Message(
                    "{option} must be above nothing, not {typed}",
                    {"option": text("--" + name.replace("_", "-")), "typed": text(value)},
                )
            )
        values[name] = si or 0.0
    if mistakes:
        raise InputError(mistakes)
    return machine_of_volumes(values["dead_volume"], values["piston_area"], values["stroke"])


def find_truck(name: str, shop: Shop) -> Truck:
    """Find a truck by the name of its preset, or in a visit file.

    Args:
        name: The preset, or the file.
        shop: The shop.

    Raises:
        InputError: It is neither, or the file is wrong.
    """
    from fanwright.truck.loader import presets

    known = presets(shop.presets)
    if name in known:
        return known[name]
    if Path(name).exists():
        from fanwright.visit import visit_from

        return visit_from(read_table(Path(name)), shop.catalogue, shop.presets, "en").truck
    raise InputError(
        Message(
            "--truck: {name} is neither a preset nor a visit file; the presets are {known}",
            {"name": text(name), "known": text(", ".join(known))},
        )
    )


def _draw(result: TraceResult, identified: Identified, plot: Path, shop: Shop) -> None:
    from fanwright.report.pictures import trace as picture
    from fanwright.report.png import from_svg
    from fanwright.report.writing import replace_file

    svg = picture.draw(result.exhibit, "print", shop.units, fitted=identified.curves)
    if plot.suffix.lower() == ".png":
        from_svg(svg, plot)
    else:
        replace_file(plot, svg.encode("utf-8"))


def trace_data(result: TraceResult, identified: Identified, reader: Reader) -> dict[str, Any]:
    """Give what a trace says as plain data; keys end in their unit.

    Args:
        result: What the trace says by itself.
        identified: The air circuit behind it.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    from fanwright.report.say import say_all

    fills, vents, levels = result.fills, result.vents, result.levels
    hold, place = levels.hold, Path(result.exhibit.place).name
    return {
        "fills": fills.seen,
        "vents": vents.seen,
        "fill_time_s": _rounded(fills.median_s),
        "vent_time_s": _rounded(vents.median_s),
        "not_timed": len(fills.not_timed) + len(vents.not_timed),
        "fill_time_worst_s": _rounded(fills.worst_s),
        "vent_time_worst_s": _rounded(vents.worst_s),
        "supply_at_rest_kpa": _kpa(levels.supply_at_rest),
        "supply_lowest_kpa": _kpa(levels.supply_lowest),
        "drive_settled_kpa": _kpa(levels.drive_settled),
        "drive_rest_kpa": _kpa(levels.drive_rest),
        "hold_loss_kpa_per_min": None
        if hold is None
        else _rounded(dimension("pressure_rate").to_json(hold.loss_pa_per_s)),
        **_circuit_data(identified, reader),
        "cannot_tell": say_all((*result.evidence.cannot_tell, *identified.cannot_tell), reader),
        "readings": [
            _reading(one, reader) for one in (*result.evidence.readings, *identified.readings(place))
        ],
        "not_timed_why": [why for times in (fills, vents) for why in _not_timed(times, reader)],
        "strokes": [_stroke(stroke) for stroke in result.exhibit.strokes],
        "zero_taken_off": {
            "supply_kpa": _rounded(result.exhibit.zero.supply_pa / 1000.0),
            "drive_kpa": _rounded(result.exhibit.zero.drive_pa / 1000.0),
        },
        "rows": int(result.exhibit.time_s.size),
        "oddities": dict(vars(result.oddities)),
        "notes": say_all(result.evidence.notes, reader),
    }


CONDUCTANCE, KILOPASCAL, KPA_PER_MIN = 1.0e8, 1.0e-3, 0.06


def _circuit_data(found: Identified, reader: Reader) -> dict[str, Any]:
    """Give the identified circuit; null where the trace cannot tell, the reason is in ``cannot_tell``."""
    from fanwright.report.say import say_all

    return {
        "lift_off_kpa": None if found.lift_off_pa is None else _rounded(found.lift_off_pa.value / 1000.0),
        "full_stroke_kpa": None
        if found.full_stroke_pa is None
        else _rounded(found.full_stroke_pa.value / 1000.0),
        "identified": {
            "fill_conductance": _ends(found.fill, CONDUCTANCE),
            "exhaust_conductance": _ends(found.exhaust, CONDUCTANCE),
            "leak_conductance": _ends(found.leak, CONDUCTANCE),
            "line_leak_conductance": _ends(found.line_leak, CONDUCTANCE),
            "supply_conductance": _ends(found.supply, CONDUCTANCE),
            "seat_leak_conductance": _ends(found.seat, CONDUCTANCE),
            "lift_off_kpa": _ends(found.lift_off_pa, KILOPASCAL),
            "full_stroke_kpa": _ends(found.full_stroke_pa, KILOPASCAL),
            "friction_kpa": _ends(found.friction_pa, KILOPASCAL),
            "send_response_s": _ends(found.send_response_s, 1.0),
            "cut_response_s": _ends(found.cut_response_s, 1.0),
            "leak_loss_kpa_per_min": _ends(found.hold_loss_pa_per_s, KPA_PER_MIN),
            "cooling_sag_kpa": _ends(found.sag_pa, KILOPASCAL),
            "fit_difference_kpa": None
            if found.difference_pa is None
            else _rounded(found.difference_pa / 1000.0),
        },
        "summary": ". ".join(say_all(found.summary, reader)) + "." if found.summary else None,
    }


def _ends(found: Interval | None, factor: float) -> dict[str, float] | None:
    """Give a value with the ends of its 80 % interval, to six digits."""
    if found is None:
        return None
    values = {"value": found.value, "low": found.low, "high": found.high}
    return {name: float(f"{factor * value:.6g}") for name, value in values.items()}


def _reading(reading: Any, reader: Reader) -> dict[str, Any]:
    from fanwright.report.as_data import reading_data
    from fanwright.report.say import say

    data = reading_data(reading, reader)
    if "inlet_gauge_pa" in reading.conditions:
        data["inlet_kpa"] = _rounded(reading.conditions["inlet_gauge_pa"] / 1000.0)
    if reading.cannot_judge is not None:
        data["cannot_judge"] = say(reading.cannot_judge, reader)
    return data


def _not_timed(times: Times, reader: Reader) -> list[dict[str, Any]]:
    from fanwright.report.say import say

    return [
        {"stroke": stroke.kind, "start_s": _rounded(stroke.start_s), "why": say(stroke.not_timed, reader)}
        for stroke in times.not_timed
        if stroke.not_timed is not None
    ]


def _stroke(stroke: Any) -> dict[str, Any]:
    return {
        "stroke": stroke.kind,
        "start_s": _rounded(stroke.start_s),
        "time_s": _rounded(stroke.duration_s),
        "sd_s": _rounded(stroke.sd_s),
        "inlet_kpa": None if stroke.inlet_gauge_pa is None else _rounded(stroke.inlet_gauge_pa / 1000.0),
    }


def _kpa(level: Level | None) -> float | None:
    return None if level is None else _rounded(level.value_pa / 1000.0)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
