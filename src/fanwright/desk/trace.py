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
    from fanwright.evidence.trace.levels import Level
    from fanwright.evidence.trace.result import Times
    from fanwright.report.say import Reader

PICTURES = (".svg", ".png")


@dataclass(frozen=True)
class Sizes:
    """What is known of the drive's air space.

    Args:
        dead_volume_m3: Line and chamber at the start of the stroke [m3].
        piston_area_m2: Area the air pushes on [m2].
        stroke_m: Way of the piston [m].
    """

    dead_volume_m3: float
    piston_area_m2: float
    stroke_m: float


@dataclass(frozen=True)
class ReadTrace:
    """A trace that was read, in the shop it was read in.

    Args:
        result: What it says.
        sizes: What was given of the drive, or None.
        shop: The shop.
    """

    result: TraceResult
    sizes: Sizes | None
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

    mistakes: list[Message] = []
    shop = open_shop(shop_file, path)
    given = _tried(mistakes, lambda: _sizes(truck, sizes or {}, shop))
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
    if plot is not None:
        _draw(result, plot, shop)
    return ReadTrace(result, given, shop)


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


def _sizes(truck: str, typed: Mapping[str, str], shop: Shop) -> Sizes | None:
    given = {name: value for name, value in typed.items() if value}
    if truck and given:
        raise InputError(Message("Give either a truck or the sizes of its drive, not both"))
    if truck:
        piston = _truck(truck, shop).piston
        return Sizes(piston.dead_volume_m3, piston.area_m2, piston.stroke_m)
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
    return Sizes(values["dead_volume"], values["piston_area"], values["stroke"])


def _truck(name: str, shop: Shop) -> Any:
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


def _draw(result: TraceResult, plot: Path, shop: Shop) -> None:
    from fanwright.report.pictures import trace as picture
    from fanwright.report.png import from_svg
    from fanwright.report.writing import replace_file

    svg = picture.draw(result.exhibit, "print", shop.units)
    if plot.suffix.lower() == ".png":
        from_svg(svg, plot)
    else:
        replace_file(plot, svg.encode("utf-8"))


def trace_data(result: TraceResult, reader: Reader) -> dict[str, Any]:
    """Give what a trace says as plain data; keys end in their unit.

    Args:
        result: What the trace says.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    from fanwright.report.say import say_all

    fills, vents, levels = result.fills, result.vents, result.levels
    hold = levels.hold
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
        "cannot_tell": say_all(result.evidence.cannot_tell, reader),
        "readings": [_reading(one, reader) for one in result.evidence.readings],
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
