"""From the tables of ``presets.toml`` and of a shop to trucks, gathering every mistake on the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fanwright.errors import InputError, QuantityError
from fanwright.quantities import read
from fanwright.truck.model import (
    AirLine,
    Bearings,
    Belt,
    Coil,
    Controller,
    Facing,
    Fan,
    FlowPath,
    Piston,
    Supply,
    Truck,
)
from fanwright.words import Message, listing, text

Table = dict[str, Any]
Fields = Mapping[str, tuple[str, str]]
"""Key in the table: field of the part, and the dimension or ``number``, ``whole``, ``yes_no``."""

_PATH: Fields = {
    "conductance": ("conductance_m3_per_s_pa", "conductance"),
    "critical_ratio": ("critical_ratio", "number"),
}
GROUPS: Mapping[str, Fields] = {
    "drive": {
        "lift_off": ("lift_off_gauge_pa", "pressure"),
        "full_stroke": ("full_stroke_gauge_pa", "pressure"),
        "clutch_torque": ("clutch_torque_n_m", "torque"),
        "pulley_ratio": ("pulley_ratio", "number"),
    },
    "facing": {
        "new": ("new_m", "length"),
        "limit": ("limit_m", "length"),
        "watch": ("watch_m", "length"),
        "inner_radius": ("inner_radius_m", "length"),
        "outer_radius": ("outer_radius_m", "length"),
        "faces": ("faces", "whole"),
    },
    "piston": {
        "area": ("area_m2", "area"),
        "stroke": ("stroke_m", "length"),
        "dead_volume": ("dead_volume_m3", "volume"),
        "moving_mass": ("moving_mass_kg", "mass"),
    },
    "air_line": {"length": ("length_m", "length"), "bore": ("bore_m", "length")},
    "supply": {
        "reservoir_volume": ("reservoir_volume_m3", "volume"),
        "cut_in": ("cut_in_gauge_pa", "pressure"),
        "cut_out": ("cut_out_gauge_pa", "pressure"),
    },
    "supply_path": _PATH,
    "fill_path": _PATH,
    "exhaust_path": _PATH,
    "fan": {
        "diameter": ("diameter_m", "length"),
        "inertia": ("inertia_kg_m2", "inertia"),
        "power": ("power_w", "power"),
        "at": ("speed_rad_s", "rotation"),
        "blades": ("blades", "whole"),
    },
    "belt": {
        "mass_per_length": ("mass_per_length_kg_m", "mass_per_length"),
        "span": ("span_m", "length"),
        "tension": ("tension_n", "force"),
        "ribs": ("ribs", "whole"),
    },
    "bearings": {
        "balls": ("balls", "whole"),
        "ball_diameter": ("ball_diameter_m", "length"),
        "pitch_diameter": ("pitch_diameter_m", "length"),
    },
    "coil": {"least": ("least_ohm", "resistance"), "most": ("most_ohm", "resistance")},
    "controller": {
        "least_ac_run": ("least_ac_run_s", "time"),
        "fan_with_engine_brake": ("fan_with_engine_brake", "yes_no"),
        "on_temperature": ("on_temperature_k", "temperature"),
        "off_temperature": ("off_temperature_k", "temperature"),
    },
}
ARRANGEMENT = ("grips_by", "valve")


def overlay(
    tables: Mapping[str, Table], shop: Mapping[str, Any], mistakes: list[Message]
) -> dict[str, Table]:
    """Lay a shop's table over ours; a name that is not ours is a preset of the shop's own.

    Args:
        tables: Our presets, each whole.
        shop: The shop's presets.
        mistakes: Whatever is wrong is added here.

    Returns:
        All presets, each whole; ours first.

    Example:
        >>> overlay({}, {}, [])
        {}
    """
    ours: dict[str, Table] = {}
    for name, table in tables.items():
        own = shop.get(name, {})
        if isinstance(own, Mapping):
            fixed = [key for key in ("like", *ARRANGEMENT) if key in own]
            mistakes += [
                _said(
                    "presets.{where} cannot be changed: write a preset of your own name with `like`",
                    f"{name}.{key}",
                )
                for key in fixed
            ]
            own = {key: value for key, value in own.items() if key not in fixed}
        ours[name] = _laid(name, table, own, mistakes)
    return ours | resolve({name: shop[name] for name in shop if name not in tables}, ours, mistakes)


def resolve(raw: Mapping[str, Any], above: Mapping[str, Table], mistakes: list[Message]) -> dict[str, Table]:
    """Make presets whole: each starts from the one it names with ``like``, which stands above it.

    Args:
        raw: Presets as written.
        above: Whole presets that may be named too.
        mistakes: Whatever is wrong is added here.

    Returns:
        The presets of ``raw``, each whole; those that cannot be made whole are left out.

    Example:
        >>> resolve({"b": {"like": "a", "valve": "no"}}, {"a": {"grips_by": "air"}}, [])
        {'b': {'grips_by': 'air', 'valve': 'no'}}
    """
    whole: dict[str, Table] = {}
    for name, table in raw.items():
        if not isinstance(table, Mapping):
            mistakes.append(_said("presets.{where} must be a table", name))
            continue
        known = {**above, **whole}
        like = table.get("like")
        if like is not None and not (isinstance(like, str) and like in known):
            mistakes.append(_said("presets.{where} names no preset that stands above it", f"{name}.like"))
            continue
        own = {key: value for key, value in table.items() if key != "like"}
        whole[name] = _laid(name, known[like] if like else {}, own, mistakes)
    return whole


def _laid(name: str, base: Table, own: object, mistakes: list[Message]) -> Table:
    if not isinstance(own, Mapping):
        mistakes.append(_said("presets.{where} must be a table", name))
        return base
    laid = dict(base)
    for key, value in own.items():
        where = f"{name}.{key}"
        if key in ARRANGEMENT or key == "volts":
            laid[key] = value
        elif key not in GROUPS:
            mistakes.append(_unknown(where, ("like", *ARRANGEMENT, "volts", *GROUPS)))
        elif not isinstance(value, Mapping):
            mistakes.append(_said("presets.{where} must be a table", where))
        else:
            odd = [entry for entry in value if entry not in GROUPS[key]]
            mistakes += [_unknown(f"{where}.{entry}", tuple(GROUPS[key])) for entry in odd]
            laid[key] = {**laid.get(key, {}), **value}
    return laid


def build(name: str, table: Table, mistakes: list[Message]) -> Truck | None:
    """Build one truck from a whole table.

    Args:
        name: Name of the preset.
        table: Its whole table.
        mistakes: Whatever is wrong is added here.

    Returns:
        The truck, or None when there are mistakes.

    Example:
        >>> build("empty", {}, mistakes := []) is None, len(mistakes) > 40
        (True, True)
    """
    found: list[Message] = []
    reader = _Reader(name, found)
    volts = reader.entry("volts", table.get("volts"), "voltage")
    fields = {group: reader.group(group, table.get(group, {})) for group in GROUPS}
    found += [_said("presets.{where} is missing", f"{name}.{key}") for key in ARRANGEMENT if key not in table]
    truck = None if found else _assemble(table, volts, fields, reader)
    mistakes += found
    return truck


def _assemble(table: Table, volts: object, fields: Mapping[str, Table], reader: _Reader) -> Truck | None:
    def made(kind: Any, group: str, **more: object) -> Any:
        try:
            return kind(**fields[group], **more)
        except InputError as error:
            reader.mistakes += [_at(f"{reader.preset}.{group}", one) for one in error.messages]
            return None

    paths = {way: made(FlowPath, f"{way}_path") for way in ("supply", "fill", "exhaust")}
    parts = {
        "facing": made(Facing, "facing"),
        "piston": made(Piston, "piston"),
        "air_line": made(AirLine, "air_line", **paths),
        "supply": made(Supply, "supply"),
        "fan": made(Fan, "fan"),
        "belt": made(Belt, "belt"),
        "bearings": made(Bearings, "bearings"),
        "coil": made(Coil, "coil"),
        "controller": made(Controller, "controller"),
    }
    of_its_own = {"preset": reader.preset, "volts": volts, "sources": reader.sources}
    truck: Truck | None = made(
        Truck, "drive", **{key: table[key] for key in ARRANGEMENT}, **of_its_own, **parts
    )
    return None if reader.mistakes else truck


class _Reader:
    """Reads the entries of one preset into SI, keeps their sources and gathers what is wrong."""

    def __init__(self, preset: str, mistakes: list[Message]) -> None:
        self.preset = preset
        self.mistakes = mistakes
        self.sources: dict[str, str] = {}

    def group(self, group: str, table: Mapping[str, Any]) -> Table:
        return {
            field: self.entry(f"{group}.{key}", table.get(key), kind)
            for key, (field, kind) in GROUPS[group].items()
        }

    def entry(self, place: str, entry: object, kind: str) -> object:
        where = f"{self.preset}.{place}"
        if entry is None:
            self.mistakes.append(_said("presets.{where} is missing", where))
            return None
        if not isinstance(entry, Mapping) or set(entry) != {"value", "source"}:
            self.mistakes.append(
                _said("presets.{where} must be a table of `value` and `source`, nothing else", where)
            )
            return None
        source = entry["source"]
        if not isinstance(source, str) or not source.strip():
            self.mistakes.append(_said("presets.{where} needs a source in words", where))
            return None
        self.sources[place] = source
        return self.value(where, entry["value"], kind)

    def value(self, where: str, value: object, kind: str) -> object:
        plain: dict[str, tuple[type, ...]] = {"number": (int, float), "whole": (int,), "yes_no": (bool,)}
        if kind in plain:
            fits = isinstance(value, plain[kind]) and isinstance(value, bool) == (kind == "yes_no")
            if not fits:
                self.mistakes.append(_not_plain(where, value, kind))
            return value
        try:
            return read(value, kind).si
        except QuantityError as error:
            self.mistakes += [_at(where, one) for one in error.messages]
            return None


def _not_plain(where: str, value: object, kind: str) -> Message:
    templates = {
        "number": "presets.{where} is {given}; write a plain number without quotes or unit",
        "whole": "presets.{where} is {given}; write a whole number without quotes or unit",
        "yes_no": "presets.{where} is {given}; write true or false without quotes",
    }
    return Message(templates[kind], {"where": text(where), "given": text(f"«{value}»")})


def _unknown(where: str, known: tuple[str, ...]) -> Message:
    return Message(
        "presets.{where} is not known; known are: {known}",
        {"where": text(where), "known": listing(tuple(text(one) for one in known))},
    )


def _at(where: str, mistake: Message) -> Message:
    return Message("presets.{where}: " + mistake.template, {**mistake.values, "where": text(where)})


def _said(template: str, where: str) -> Message:
    return Message(template, {"where": text(where)})
