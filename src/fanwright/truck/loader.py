"""From ``presets.toml``, a shop's overrides and what a visit says of its drive to a :class:`Truck`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from fanwright.errors import DataError, InputError
from fanwright.truck.build import build, overlay, resolve
from fanwright.truck.checks import not_one_of
from fanwright.truck.model import Truck
from fanwright.words import Message, Value, listing, number, text

Table = dict[str, Any]


def presets(shop: Mapping[str, Any] | None = None) -> Mapping[str, Truck]:
    """Give all presets by name, in the order in which they are tried.

    Args:
        shop: The ``[presets]`` table of a shop file, laid over ours entry by entry, or None.

    Returns:
        The trucks; each number's source is in ``sources``.

    Raises:
        InputError: Mistakes of the shop's table, all together.
        DataError: Mistakes of our own table, all together.

    Example:
        >>> round(presets()["line-haul spring-on"].belt.tension_n)
        600
    """
    return _own() if shop is None else _of_shop(shop)


def truck_for(
    preset: object = None,
    grips_by: object = None,
    valve: object = None,
    volts: object = None,
    shop: Mapping[str, Any] | None = None,
) -> Truck:
    """Find the truck a visit speaks of; the arrangement is never guessed.

    Args:
        preset: Name of the preset, or None: then the first one with the arrangement and volts given.
        grips_by: What makes the drive grip, ``spring`` or ``air``; None leaves it to the preset.
        valve: ``nc`` or ``no``; None leaves it to the preset.
        volts: Nominal voltage, 12 or 24; None leaves it to the preset [V].
        shop: The ``[presets]`` table of a shop file, or None.

    Returns:
        The preset's parts with the valve and volts of the visit. Other volts than the preset's bring the coil
        of the first preset of those volts.

    Raises:
        InputError: Everything that is wrong or missing, all together.

    Example:
        >>> truck_for(grips_by="air", valve="no", volts=12).preset
        'line-haul air-on'
    """
    known = presets(shop)
    mistakes = [
        *_wrong_preset(preset, known),
        *_wrong_word("drive.grips_by", grips_by, ("spring", "air"), preset),
        *_wrong_valve(valve, preset),
        *_wrong_volts(volts, preset),
    ]
    if mistakes:
        raise InputError(mistakes)
    if preset is None:
        chosen = _first(known, grips_by, valve, volts)
    else:
        chosen = known[str(preset)]
        _same_drive(chosen, grips_by)
    return _with(chosen, valve, volts, known)


def _first(known: Mapping[str, Truck], grips_by: object, valve: object, volts: object) -> Truck:
    alike = [truck for truck in known.values() if (truck.grips_by, truck.valve) == (grips_by, valve)]
    return next((truck for truck in alike if truck.volts == volts), alike[0])


def _with(truck: Truck, valve: object, volts: object, known: Mapping[str, Truck]) -> Truck:
    if valve is not None and valve != truck.valve:
        truck = replace(truck, valve="nc" if valve == "nc" else "no")
    if volts is None or volts == truck.volts:
        return truck
    donor = next(other for other in known.values() if other.volts == volts)
    coil_sources = {place: source for place, source in donor.sources.items() if place.startswith("coil.")}
    sources = {**truck.sources, **coil_sources, "volts": "said by the visit"}
    return replace(truck, volts=donor.volts, coil=donor.coil, sources=sources)


def _same_drive(truck: Truck, grips_by: object) -> None:
    if grips_by is not None and grips_by != truck.grips_by:
        raise InputError(
            Message(
                "truck.preset {preset} grips by {preset_grips_by}, but drive.grips_by is {grips_by}:"
                " prove which it is, then correct one of the two, or leave the preset out",
                {
                    "preset": text(f"«{truck.preset}»"),
                    "preset_grips_by": text(truck.grips_by),
                    "grips_by": text(grips_by),
                },
            )
        )


def _wrong_preset(preset: object, known: Mapping[str, Truck]) -> tuple[Message, ...]:
    if preset is None or (isinstance(preset, str) and preset in known):
        return ()
    return (
        Message(
            "truck.preset {preset} is not known; known are: {known}",
            {"preset": text(f"«{preset}»"), "known": listing(tuple(text(name) for name in known))},
        ),
    )


def _wrong_word(name: str, given: object, allowed: tuple[object, ...], preset: object) -> tuple[Message, ...]:
    if given is not None:
        return not_one_of(name, given, allowed)
    if preset is not None:
        return ()
    choices: dict[str, Value] = {
        "name": text(name),
        "allowed": listing(tuple(text(one) for one in allowed)),
    }
    return (
        Message(
            "{name} is missing and no preset is named: read the tag, prove it, and write one of: {allowed}",
            choices,
        ),
    )


def _wrong_valve(valve: object, preset: object) -> tuple[Message, ...]:
    if isinstance(valve, bool):
        return (
            Message(
                "drive.valve was read as {given}, not as a word: put it in quotes, {nc} for a valve that"
                " shuts without current, {no} for one that passes without current",
                {"given": text(str(valve).lower()), "nc": text('"nc"'), "no": text('"no"')},
            ),
        )
    return _wrong_word("drive.valve", valve, ("nc", "no"), preset)


def _wrong_volts(volts: object, preset: object) -> tuple[Message, ...]:
    if isinstance(volts, float | int) and not isinstance(volts, bool) and volts not in (12, 24):
        return (
            Message(
                "drive.volts is {given}; allowed: {low} or {high}",
                {"given": number(volts), "low": number(12), "high": number(24)},
            ),
        )
    return _wrong_word("drive.volts", volts, (12, 24), preset)


@cache
def _tables() -> Mapping[str, Table]:
    raw = tomllib.loads(resources.files(__package__).joinpath("presets.toml").read_text("utf-8"))
    mistakes: list[Message] = []
    tables = resolve(raw, {}, mistakes)
    if mistakes:
        raise DataError(mistakes)
    return tables


def _of_shop(shop: Mapping[str, Any]) -> Mapping[str, Truck]:
    if not isinstance(shop, Mapping):
        raise InputError(Message("presets is {given}; write a table for each preset", {"given": text(shop)}))
    mistakes: list[Message] = []
    tables = overlay(_tables(), shop, mistakes)
    return _build_all(tables, InputError, mistakes)


@cache
def _own() -> Mapping[str, Truck]:
    return _build_all(_tables(), DataError, [])


def _build_all(
    tables: Mapping[str, Table], kind: type[InputError] | type[DataError], mistakes: list[Message]
) -> Mapping[str, Truck]:
    trucks = {name: build(name, table, mistakes) for name, table in tables.items()}
    if mistakes:
        raise kind(mistakes)
    return MappingProxyType({name: truck for name, truck in trucks.items() if truck is not None})
