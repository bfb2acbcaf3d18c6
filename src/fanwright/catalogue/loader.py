"""From the TOML files of this folder, with a shop's own entries laid over them, to a checked catalogue."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from fanwright.catalogue import parsing
from fanwright.catalogue.checks import contradictions
from fanwright.catalogue.model import Catalogue
from fanwright.catalogue.shop import lay_over
from fanwright.errors import DataError, InputError
from fanwright.words import Message

FILES = ("tests", "faults", "instruments", "cautions", "prices", "core")


def load(shop: Mapping[str, object] | None = None) -> Catalogue:
    """Load the catalogue.

    Args:
        shop: The tables ``instruments``, ``prices`` and ``core`` of a shop's own file, or None. They are laid
            over ours entry by entry; each overridden entry needs its ``source``.

    Returns:
        The catalogue in force; the same object each time where there is no shop.

    Raises:
        InputError: Mistakes of the shop's tables, all together.
        DataError: Our own files contradict themselves.

    Example:
        >>> load().tests["vent_time"].word_for(2.1)
        'from_1_to_3_s'
    """
    return _with_shop(shop) if shop else _own()


@cache
def _own() -> Catalogue:
    catalogue, problems = _build(_raw())
    if problems:
        raise DataError(problems)
    return catalogue


def _with_shop(shop: Mapping[str, object]) -> Catalogue:
    _own()  # what is wrong from here on is the shop's
    raw, mistakes = lay_over(_raw(), shop)
    catalogue, problems = _build(raw)
    if mistakes or problems:
        raise InputError([*mistakes, *problems])
    return catalogue


@cache
def _raw() -> Mapping[str, Mapping[str, Any]]:
    folder = resources.files(__package__)
    return {name: tomllib.loads(folder.joinpath(f"{name}.toml").read_text("utf-8")) for name in FILES}


def _build(raw: Mapping[str, Mapping[str, Any]]) -> tuple[Catalogue, list[Message]]:
    problems: list[Message] = []
    cautions = parsing.cautions(raw["cautions"], problems)
    catalogue = Catalogue(
        tests=MappingProxyType(parsing.tests(raw["tests"], cautions, problems)),
        faults=MappingProxyType(parsing.faults(raw["faults"], problems)),
        instruments=MappingProxyType(parsing.instruments(raw["instruments"], problems)),
        cautions=MappingProxyType(cautions),
        prices=MappingProxyType(parsing.prices(raw["prices"], problems)),
        core=MappingProxyType(parsing.core(raw["core"], problems)),
    )
    return catalogue, problems + contradictions(catalogue)
